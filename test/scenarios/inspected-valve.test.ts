import { describe, expect, it } from "vitest";
import type { SocketReply } from "../../daemon/control-socket/control-socket.js";
import { ControlBench } from "../support/control-bench.js";

/** 11:00 in Berlin: the window opened at nine, and gas flows. */
async function openBench(startAt = "2026-05-04T09:00:00Z"): Promise<ControlBench> {
  const bench = new ControlBench({ startAt });
  await bench.start();
  await bench.seconds(5);
  return bench;
}

const click = { command: "inspect-click", valve: "outlet" };
const consented = { ...click, atTheTank: "outlet" };

/** The conversation, while the passes go on; `during` is called after each second with what the relay has heard. */
async function clicked(
  bench: ControlBench,
  request: object,
  answers: readonly string[] = [],
  during: (heard: readonly string[]) => void | Promise<void> = () => undefined,
): Promise<{
  readonly last: SocketReply;
  readonly heard: readonly string[];
  readonly replies: readonly SocketReply[];
}> {
  const before = bench.relay.heard.length;
  const heard = (): readonly string[] => bench.relay.heard.slice(before);
  let replies: readonly SocketReply[] | undefined;
  const saying = bench.sayAll(request, answers).then((all) => {
    replies = all;
  });
  for (let second = 0; second < 60 && replies === undefined; second += 1) {
    await bench.second();
    await during(heard());
  }
  await saying;
  return { last: replies!.at(-1)!, heard: heard(), replies: replies! };
}

describe("the round trip of a valve in use", () => {
  it("asks for the valve's name, goes off, on and off, and gives the valve back to its schedule", async () => {
    const bench = await openBench();
    expect(bench.relay.isOn()).toBe(true);
    const { last, heard, replies } = await clicked(bench, click, ["outlet"]);
    expect(replies[0]).toMatchObject({ kind: "question" });
    expect(JSON.stringify(replies[0])).toContain("A person must be at the tank. Type the valve's name");
    expect(last).toMatchObject({ kind: "done" });
    expect(heard.filter((command, index) => command !== heard[index - 1]).slice(0, 3)).toEqual([
      "OFF",
      "ON",
      "OFF",
    ]);
    await bench.seconds(2);
    expect(bench.relay.isOn()).toBe(true);
    expect(bench.run.events.map(({ what }) => what)).toContain("round trip passed");
  });

  it.each([
    { because: "another word was typed", answers: ["yes"] },
    { because: "nobody answered", answers: [] },
  ])("moves nothing where $because", async ({ answers }) => {
    const bench = await openBench();
    const { last, heard } = await clicked(bench, click, answers);
    expect(last).toMatchObject({ kind: "refused" });
    expect(heard).toEqual([]);
    expect(bench.relay.isOn()).toBe(true);
  });

  it.each<{ because: string; at?: string; before: (bench: ControlBench) => Promise<unknown>; says: string }>([
    {
      because: "its window is closed",
      at: "2026-05-04T05:00:00Z",
      before: () => Promise.resolve(),
      says: "outside its dosing window",
    },
    {
      because: "a person opened it outside of its window",
      at: "2026-05-04T05:00:00Z",
      before: async (bench) => {
        await bench.say({ command: "override", valve: "outlet", action: "open", for_min: 30 });
        await bench.seconds(3);
        expect(bench.relay.isOn()).toBe(true);
      },
      says: "outside its dosing window",
    },
    {
      because: "a person closed it",
      before: async (bench) => {
        await bench.say({ command: "override", valve: "outlet", action: "closed", for_min: 30 });
        await bench.seconds(3);
      },
      says: "closed by hand",
    },
    {
      because: "it tripped",
      before: async (bench) => {
        bench.sensors.set("loach/ph", () => "5.5");
        await bench.seconds(30);
      },
      says: "tripped",
    },
    {
      because: "somebody works at it",
      before: async (bench) => {
        const subject = { kind: "valve", id: "outlet" };
        await bench.say({ command: "hold-set", kind: "maintenance lock", subject, note: "" });
        await bench.seconds(3);
      },
      says: "maintenance lock",
    },
    {
      because: "its guard is silent",
      before: async (bench) => {
        bench.sensors.set("loach/ph", () => undefined);
        await bench.seconds(130);
      },
      says: "guard sensor silent",
    },
  ])("is refused, and the relay never told on, where $because", async ({ at, before, says }) => {
    const bench = await openBench(at);
    await before(bench);
    const wasOn = bench.relay.isOn();
    const { last, heard } = await clicked(bench, consented);
    expect(last).toMatchObject({ kind: "refused" });
    expect(JSON.stringify(last)).toContain(says);
    expect(heard.filter((command) => command === "ON").length).toBe(0);
    expect(bench.relay.isOn()).toBe(wasOn);
  });

  it.each<{ because: string; happens: (bench: ControlBench) => unknown }>([
    { because: "a person locks the valve", happens: (bench) => lock(bench) },
    { because: "the clock jumps", happens: (bench) => bench.clock.setCivilTime(Date.UTC(2020, 0, 1)) },
    {
      because: "its window ends",
      happens: (bench) => bench.clock.setCivilTime(Date.parse("2026-05-04T16:31:00Z")),
    },
    { because: "a person closes it by hand", happens: (bench) => closeByHand(bench) },
  ])("ends at once with the relay off when, while it is on, $because", async ({ happens }) => {
    const bench = await openBench();
    let happened = false;
    const { last } = await clicked(bench, consented, [], async (heard) => {
      if (happened || heard.at(-1) !== "ON") return;
      happened = true;
      await happens(bench);
      await bench.second();
      expect(bench.relay.isOn()).toBe(false);
    });
    expect(happened).toBe(true);
    expect(last).toMatchObject({ kind: "refused" });
    await bench.seconds(5);
    expect(bench.relay.isOn()).toBe(false);
  });

  it("never tells the relay on once passes fail", async () => {
    const bench = await openBench();
    // The first OFF and its report are still on their way when the passes begin to fail.
    bench.broker.delayDeliveries(700);
    let seconds = 0;
    const { last, heard } = await clicked(bench, consented, [], () => {
      seconds += 1;
      if (seconds === 1)
        bench.run.store.health = () => {
          throw new Error("no health");
        };
    });
    expect(last).toMatchObject({ kind: "refused" });
    expect(heard).toContain("OFF");
    expect(heard).not.toContain("ON");
  });

  it("names a relay that does not answer, and does not leave it on", async () => {
    const bench = await openBench();
    bench.relay.misbehave("silent");
    const { last } = await clicked(bench, consented);
    expect(JSON.stringify(last)).toContain("outlet: the relay did not report that it switched off");
    expect(bench.relay.isOn()).toBe(false);
  });
});

function lock(bench: ControlBench): Promise<SocketReply> {
  const subject = { kind: "valve", id: "outlet" };
  return bench.say({ command: "hold-set", kind: "maintenance lock", subject, note: "" });
}

function closeByHand(bench: ControlBench): Promise<SocketReply> {
  return bench.say({ command: "override", valve: "outlet", action: "closed", for_min: 30 });
}
