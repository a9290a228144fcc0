import { describe, expect, it } from "vitest";
import { createHubFeed, type HubFeed } from "../../../../daemon/hub/hub-feed.js";
import { homieWill } from "../../../../daemon/hub/homie-topics.js";
import type { MemoryMessageBus } from "../../../support/memory-message-bus.js";
import { benchYaml, ControlBench } from "../../../support/control-bench.js";

const homie = { domain: "homie", rootId: "mill-pond" };
const valve = "homie/5/mill-pond-valve-outlet";

interface HubBench {
  readonly site: ControlBench;
  readonly feed: HubFeed;
  readonly bus: MemoryMessageBus;
  /** The last payload at a topic; empty where it was cleared. */
  at(topic: string): string | undefined;
  set(topic: string, payload: string): Promise<void>;
  seconds(count: number): Promise<void>;
}

async function hubBench(startAt: string, stored?: unknown): Promise<HubBench> {
  const site = new ControlBench({ startAt });
  await site.start();
  const { clock, broker, logger } = site;
  const bus = broker.createBus({ logger, will: homieWill(homie) });
  const { cycle, commands, journal, store } = site.run;
  const feed = createHubFeed(
    {
      bus,
      clock,
      machineClock: clock,
      logger,
      store,
      commands,
      journal,
      alarms: cycle.alarms,
      status: () => cycle.status(),
    },
    { homie, online: undefined, further: () => new Map() },
    () => cycle.model(),
    stored,
  );
  await bus.start();
  const seconds = async (count: number): Promise<void> => {
    for (let second = 0; second < count; second += 1) {
      await site.second();
      feed.publish(site.status);
      await clock.advance(0);
    }
  };
  await seconds(5);
  return {
    site,
    feed,
    bus,
    at: (topic) => broker.passed.filter((message) => message.topic === topic).at(-1)?.payload,
    set: async (topic, payload) => {
      broker.publish(`${topic}/set`, payload);
      await clock.advance(0);
      await seconds(2);
    },
    seconds,
  };
}

const noon = "2026-05-04T10:00:00Z";
const night = "2026-05-04T22:00:00Z";

it("hears a wish to close within a second, whatever was sent before it", async () => {
  const bench = await hubBench(noon);
  expect(bench.site.relay.isOn()).toBe(true);
  for (let count = 0; count < 20; count += 1) {
    bench.site.broker.publish(`${valve}/override/closed-for/set`, "nonsense");
  }
  await bench.seconds(1);
  await bench.set(`${valve}/override/closed-for`, "20");
  expect(bench.site.relay.isOn()).toBe(false);
  expect(bench.at(`${valve}/override/closed-for`)).toBe("20");
});

it("hears it in the very second in which it has ended closings again and again", async () => {
  const bench = await hubBench(noon);
  for (let count = 0; count < 20; count += 1) {
    bench.site.broker.publish(`${valve}/override/closed-for/set`, "0");
  }
  await bench.set(`${valve}/override/closed-for`, "20");
  expect(bench.site.relay.isOn()).toBe(false);
});

it("switches the relay on at most three times a minute for a hub that closes and opens in a loop", async () => {
  const bench = await hubBench(noon);
  const from_monotonicMs = bench.site.clock.monotonic_ms();
  for (let second = 0; second < 120; second += 1) {
    bench.site.broker.publish(`${valve}/override/closed-for/set`, second % 2 === 0 ? "30" : "0");
    await bench.seconds(1);
  }
  const commands = bench.site.commandsTo("outlet", from_monotonicMs);
  expect(commands.filter((command) => command === "ON").length).toBeLessThanOrEqual(6);
  expect(commands).toContain("OFF");
});

describe("a hub's wish that a valve be open", () => {
  it("is taken inside the dosing window, shown as target, and ends by itself", async () => {
    const bench = await hubBench(noon);
    await bench.set(`${valve}/override/open-for`, "2");
    expect(bench.at(`${valve}/override/open-for/$target`)).toBe("2");
    expect(bench.at(`${valve}/override/open-for`)).toBe("2");
    await bench.seconds(125);
    expect(bench.at(`${valve}/override/open-for`)).toBe("0");
    // The device moved on by itself: "the $target attribute must be used for every value update".
    expect(bench.at(`${valve}/override/open-for/$target`)).toBe("0");
    expect(bench.at(`${valve}/override/until`)).toBe("");
  });

  it("is refused at night, and the relay stays off", async () => {
    const bench = await hubBench(night);
    await bench.set(`${valve}/override/open-for`, "60");
    await bench.seconds(10);
    expect(bench.at("homie/5/mill-pond-valve-outlet/$log/warn")).toContain("only inside its dosing window");
    expect(bench.at(`${valve}/override/open-for/$target`)).toBe("0");
    expect(bench.site.relay.isOn()).toBe(false);
  });

  it("is refused while a tank behind the valve is tripped", async () => {
    const bench = await hubBench(noon);
    bench.site.sensors.set("loach/ph", () => "5.5");
    await bench.seconds(20);
    expect(bench.at(`${valve}/valve/tripped`)).toBe("true");
    await bench.set(`${valve}/override/open-for`, "60");
    expect(bench.at(`${valve}/$log/warn`)).toMatch(
      /it is tripped .* re-armed at the daemon's own machine only/,
    );
    expect(bench.site.run.cycle.snapshot().overrides).toEqual([]);
    expect(bench.site.relay.isOn()).toBe(false);
  });

  it("is refused against a person's closing at the machine, which it cannot end either", async () => {
    const bench = await hubBench(noon);
    await bench.site.say({ command: "override", valve: "outlet", action: "closed", for_min: 30 });
    await bench.seconds(2);
    expect(bench.at(`${valve}/override/closed-for`)).toBe("30");
    await bench.set(`${valve}/override/open-for`, "60");
    expect(bench.at(`${valve}/$log/warn`)).toContain(
      "a person at the daemon's own machine has closed this valve",
    );
    await bench.set(`${valve}/override/closed-for`, "0");
    expect(bench.site.run.cycle.snapshot().overrides).toHaveLength(1);
    expect(bench.site.relay.isOn()).toBe(false);
  });
});

describe("a lock that a person has set at the machine", () => {
  it("keeps a hub's wish to open from doing anything; the hub sees why, and cannot lift it", async () => {
    const bench = await hubBench(noon);
    const vessel = "homie/5/mill-pond-vessel-cellar";
    expect(bench.at(`${valve}/hold/maintenance-lock`)).toBe("false");
    await bench.site.say({
      command: "hold-set",
      kind: "maintenance lock",
      subject: { kind: "vessel", id: "cellar" },
      note: "new O-ring",
    });
    await bench.seconds(3);
    for (const device of [vessel, valve]) {
      expect(bench.at(`${device}/hold/maintenance-lock`), device).toBe("true");
      expect(bench.at(`${device}/hold/refill`), device).toBe("false");
      expect(bench.at(`${device}/hold/note`), device).toBe("maintenance lock on vessel cellar (new O-ring)");
      expect(bench.at(`${device}/hold/since`), device).toMatch(/^2026-05-04T10:00:/);
    }
    expect(bench.site.relay.isOn()).toBe(false);

    const commanded = bench.site.relay.heard.length;
    await bench.set(`${valve}/override/open-for`, "30");
    bench.site.broker.publish(`${valve}/hold/maintenance-lock/set`, "false");
    await bench.seconds(90);
    expect(bench.site.relay.heard.slice(commanded)).not.toContain("ON");
    // The wish is taken, as its target says; what the valve is told and why says that it does nothing.
    expect(bench.at(`${valve}/override/open-for/$target`)).toBeDefined();
    expect(bench.at(`${valve}/valve/state`)).toBe("closed");
    expect(bench.at(`${valve}/valve/wanted`)).toBe("closed");
    expect(bench.at(`${valve}/valve/reason`)).toContain("maintenance lock on vessel cellar");
    expect(bench.at(`${valve}/hold/maintenance-lock`)).toBe("true");
  });
});

describe("the feed of a site", () => {
  it("Device Lifecycle: is lost as a whole when its connection breaks, and goes from init to ready on the next", async () => {
    const bench = await hubBench(noon);
    bench.bus.dropConnection("cut");
    expect(bench.at("homie/5/mill-pond/$state")).toBe("lost");
    const from = bench.site.broker.passed.length;
    bench.bus.restoreConnection();
    await bench.seconds(5);
    const states = bench.site.broker.passed
      .slice(from)
      .filter(({ topic }) => topic.endsWith("/$state"))
      .map(({ topic, payload }) => `${topic.split("/")[2]!} ${payload}`);
    expect(states[0]).toBe("mill-pond init");
    expect(states.at(-1)).toBe("mill-pond ready");
    expect(states).toHaveLength(8);
    // Its own connection: no valve moves for it.
    expect(bench.site.relay.isOn()).toBe(true);
  });

  it("Device Attributes: keeps the version of a description over a restart where nothing changed", async () => {
    const first = await hubBench(noon);
    const before = JSON.parse(first.at("homie/5/mill-pond/$description")!) as { version: number };
    const stored = await first.site.run.store.loadSnapshot("hub");
    const second = await hubBench("2026-06-01T10:00:00Z", stored);
    expect(JSON.parse(second.at("homie/5/mill-pond/$description")!)).toEqual(before);
    const third = await hubBench("2026-06-01T10:00:00Z");
    expect(
      (JSON.parse(third.at("homie/5/mill-pond/$description")!) as { version: number }).version,
    ).toBeGreaterThan(before.version);
  });

  it("Property Attributes: leaves nothing with the broker of what is no longer known", async () => {
    const bench = await hubBench(noon);
    expect(bench.at("homie/5/mill-pond-tank-loach/water/ph")).toMatch(/^6\.8\d?$/);
    bench.site.sensors.delete("loach/ph");
    await bench.seconds(130);
    for (const gone of ["ph", "co2", "co2-low", "co2-high", "co2-at"]) {
      expect(bench.at(`homie/5/mill-pond-tank-loach/water/${gone}`), gone).toBe("");
    }
    expect(bench.at("homie/5/mill-pond-tank-loach/water/band")).toBe("not known");
    expect(bench.at(`homie/5/mill-pond-tank-loach/$alert/guard-silent--loach-ph`)).toContain("high: ");
  });

  it("clears nothing at a topic that is a relay's or a sensor's by now, whatever an earlier config announced there", async () => {
    const earlier = ["announced/earlier", "relay/1/command", "relay/1/state", "loach/ph"];
    const bench = await hubBench(night, { versions: {}, retained: earlier });
    const cleared = bench.site.broker.passed
      .filter(({ payload }) => payload === "")
      .map(({ topic }) => topic);
    expect(cleared.filter((topic) => earlier.includes(topic))).toEqual(["announced/earlier"]);
  });

  it("QoS and retained messages: tells of a moving figure each 10 s at most, of a state at once", async () => {
    const bench = await hubBench(noon);
    let step = 0;
    bench.site.sensors.set("loach/temperature", () => String(24 + 0.3 * (step++ % 5)));
    const from = bench.site.broker.passed.length;
    await bench.seconds(60);
    const told = bench.site.broker.passed
      .slice(from)
      .filter(({ topic }) => topic === "homie/5/mill-pond-tank-loach/water/temperature");
    expect(told.length).toBeGreaterThanOrEqual(5);
    expect(told.length).toBeLessThanOrEqual(7);
  });

  it("is that of the config: a name that leaves it is cleared in the same run", async () => {
    const bench = await hubBench(noon);
    bench.site.replaceModel(
      benchYaml
        .replace("vessels:\n  cellar:", "vessels:\n  attic:")
        .replace("vessel: cellar", "vessel: attic"),
    );
    await bench.seconds(3);
    expect(bench.at("homie/5/mill-pond-vessel-cellar/$state")).toBe("");
    expect(bench.at("homie/5/mill-pond-vessel-cellar/$description")).toBe("");
    expect(bench.at("homie/5/mill-pond-vessel-attic/$state")).toBe("ready");
  });
});
