import { describe, expect, it } from "vitest";
import { createSupplyHere, type SupplyRunner } from "../../daemon/supply/supply-tracker.js";
import { ControlBench } from "../support/control-bench.js";
import { supplyYaml } from "../support/supply-bench.js";

/** One for all: making the table of a charge takes longer than a day of passes, and so does advice on a refill. */
const here = createSupplyHere();
const supplyRunner: SupplyRunner = {
  ...here,
  run: (job, done) => {
    here.run({ ...job, refill: undefined }, done);
  },
};
const startAt = "2026-03-02T09:00:00+01:00";
/** 1.5 bar behind the regulator, a margin of 1, and the gauge's own doubt of about 0.1. */
const above = 2.8;
const below = 2.43;

/** A gauge goes to what is said in steps of a minute; it does not jump, which would not be believed. */
const perMinute_bar = 0.01;

async function benchOf(yaml: string): Promise<{ bench: ControlBench; say: (bar?: number) => void }> {
  const bench = new ControlBench({ startAt, yaml, step_s: 60, supplyRunner });
  let gauge_bar = above;
  let target_bar: number | undefined = above;
  let beat = 0;
  // A live gauge is never quite still.
  bench.sensors.set("cellar/gauge", () => {
    if (target_bar === undefined) return undefined;
    const away_bar = target_bar - gauge_bar;
    const falls = Math.abs(away_bar) < 2 ? Math.min(perMinute_bar, Math.abs(away_bar)) : Math.abs(away_bar);
    gauge_bar += Math.sign(away_bar) * falls;
    return (gauge_bar + 0.002 * (beat++ % 5)).toFixed(3);
  });
  bench.sensors.set("cellar/temperature", () => (20.5 + 0.01 * (beat % 5)).toFixed(2));
  await bench.start();
  return {
    bench,
    say: (bar) => {
      target_bar = bar;
    },
  };
}
const at = (time: string): string => `2026-03-02T${time}:00+01:00`;
const newCharge = {
  kind: "charge closed",
  vessel: "cellar",
  citricAcidAnhydrous_g: 100,
  sodiumBicarbonate_g: 120,
  water_kg: 0.5,
  closedWith: "water",
  sealedAt_degC: 20,
};
const ended = (bench: ControlBench): boolean =>
  bench.decision.blocks.some(({ rule }) => rule === "end of charge");

describe("the end of a charge", () => {
  it("holds the valve closed until a new charge has come up, through warmth, silence and a restart", async () => {
    const { bench, say } = await benchOf(supplyYaml());
    await bench.stretch(at("11:00"));
    expect(bench.decision.action).toBe("open");
    say(below);
    await bench.stretch(at("12:00"));
    expect(bench.decision).toMatchObject({ action: "closed", gist: "end of charge" });
    expect(bench.decision.reason).toMatch(/^end of charge: below 2\.[56] bar: vessel cellar is at 2\.5 bar/u);
    expect(bench.relay.isOn()).toBe(false);
    const alarm = bench.status.alarms.find(({ condition }) => condition.alarmId === "end-of-charge/cellar")!;
    expect(alarm.raised).toBe(true);
    expect(alarm.condition.whatToDo).toMatch(/^Refill/u);
    expect(bench.alarms()).not.toContain("charge-spent/cellar");

    let opened = 0;
    const count = (): void => {
      if (bench.decision.action === "open") opened += 1;
    };
    say(below + 0.5);
    await bench.stretch(at("13:00"), count);
    say(undefined);
    await bench.stretch(at("14:00"), count);
    expect(opened).toBe(0);

    await bench.kill();
    await bench.start();
    await bench.stretch(at("14:10"), count);
    expect(ended(bench)).toBe(true);
    expect(opened).toBe(0);

    say(below);
    await bench.stretch(at("14:20"), count);
    expect(await bench.run.journal.enter(newCharge, "local")).toMatchObject({ kind: "kept" });
    await bench.stretch(at("14:40"), count);
    expect(ended(bench)).toBe(true);
    expect(opened).toBe(0);
    say(6);
    await bench.stretch(at("14:50"));
    expect(ended(bench)).toBe(false);
    expect(bench.decision.action).toBe("open");
    expect(bench.alarms()).not.toContain("end-of-charge/cellar");
  });

  it("does not call for a refill once one is written down, but for a fresh charge that does not come up", async () => {
    const { bench, say } = await benchOf(supplyYaml());
    await bench.stretch(at("11:00"));
    say(below);
    await bench.stretch(at("12:00"));
    expect(bench.alarms()).toContain("end-of-charge/cellar");
    await bench.run.journal.enter({ ...newCharge, at: at("12:00") }, "local");
    say(0.2);
    await bench.stretch(at("13:00"));
    expect(ended(bench)).toBe(true);
    expect(bench.alarms()).not.toContain("end-of-charge/cellar");
    expect(bench.alarms()).not.toContain("charge-not-up/cellar");
    await bench.stretch("2026-03-04T01:00:00+01:00");
    expect(ended(bench)).toBe(true);
    expect(bench.alarms()).toContain("charge-not-up/cellar");
  });

  it("is not over because a new charge is written down while the gauge is silent or the daemon starts", async () => {
    const { bench, say } = await benchOf(supplyYaml());
    say(below);
    await bench.stretch(at("11:00"));
    expect(ended(bench)).toBe(true);
    expect(await bench.run.journal.enter(newCharge, "remote")).toMatchObject({ kind: "kept" });
    await bench.stretch(at("11:10"));
    let opened = 0;
    const count = (): void => {
      if (bench.decision.action === "open") opened += 1;
    };
    say(undefined);
    await bench.kill();
    await bench.start();
    await bench.stretch(at("11:40"), count);
    say(below);
    await bench.stretch(at("12:00"), count);
    expect(opened).toBe(0);
    expect(ended(bench)).toBe(true);
    say(undefined);
    const read = { kind: "gauge reading", vessel: "cellar", pressure: 9.5, unit: "bar" };
    expect(await bench.run.journal.enter(read, "local")).toMatchObject({ kind: "kept" });
    await bench.stretch(at("12:30"));
    expect(ended(bench)).toBe(false);
    expect(bench.decision.action).toBe("open");
  });

  it("is not over because the charge is withdrawn from the journal", async () => {
    const { bench, say } = await benchOf(supplyYaml().replace(/charge: \{[^}]*\}/u, ""));
    await bench.stretch(at("09:10"));
    const entered = await bench.run.journal.enter({ ...newCharge, at: "2026-02-01T12:00" }, "local");
    say(below);
    await bench.stretch(at("11:00"));
    expect(ended(bench)).toBe(true);
    if (entered.kind === "kept") await bench.run.journal.withdraw(entered.entry.entryId, "local");
    await bench.stretch(at("11:10"));
    expect(ended(bench)).toBe(true);
  });

  it("lets the rest off for a person at the machine, until their end, and for nobody else", async () => {
    const { bench, say } = await benchOf(supplyYaml());
    say(below);
    await bench.stretch(at("11:00"));
    expect(ended(bench)).toBe(true);
    bench.broker.publish(
      "fizzward/mill-pond/valve/outlet/override",
      JSON.stringify({ action: "open", until: at("12:00") }),
    );
    await bench.stretch(at("11:10"));
    expect(bench.decision.action).toBe("closed");
    const said = await bench.say({
      command: "override",
      valve: "outlet",
      action: "open",
      for_min: 80,
    });
    expect(said).toEqual({ kind: "done", text: "outlet is set open by hand until 2026-03-02 12:30" });
    await bench.stretch(at("11:20"));
    expect(bench.decision.action).toBe("open");
    await bench.stretch(at("12:40"));
    expect(bench.decision).toMatchObject({ action: "closed", gist: "end of charge" });
  });

  it("is not called by a gauge that is silent or not believed", async () => {
    const { bench, say } = await benchOf(supplyYaml());
    await bench.stretch(at("11:00"));
    for (const [bar, until] of [
      [undefined, "12:00"],
      [0.02, "13:00"],
      [200, "14:00"],
    ] as const) {
      say(bar);
      await bench.stretch(at(until));
      expect(bench.decision.action).toBe("open");
    }
  });

  it("only tells where the config leaves the valve alone, and says that for as long as it does", async () => {
    const yaml = supplyYaml().replace(
      "workingPressureGauge_bar: 1.5",
      "workingPressureGauge_bar: 1.5, endOfCharge: { valve: left-alone }",
    );
    const { bench, say } = await benchOf(yaml);
    await bench.stretch(at("10:05"));
    expect(bench.alarms()).toContain("end-left-alone/cellar");
    say(below);
    await bench.stretch(at("11:50"));
    expect(bench.decision.action).toBe("open");
    expect(bench.alarms()).toContain("end-of-charge/cellar");
  });

  it("closes by a gauge read by eye today, and only tells of one entered days later", async () => {
    const { bench } = await benchOf(supplyYaml({ sensors: false }));
    await bench.stretch(at("11:00"));
    const read = (when: string): Record<string, unknown> => ({
      kind: "gauge reading",
      vessel: "cellar",
      pressure: 2.2,
      unit: "bar",
      at: when,
    });
    expect(await bench.run.journal.enter(read("2026-02-28T11:00"), "local")).toMatchObject({ kind: "kept" });
    await bench.stretch(at("11:30"));
    expect(bench.decision.action).toBe("open");
    expect(bench.alarms()).toContain("end-of-charge-read/cellar");
    const outcome = await bench.run.journal.enter(read("2026-03-02T11:00"), "local");
    await bench.stretch(at("11:40"));
    expect(bench.decision).toMatchObject({ action: "closed", gist: "end of charge" });
    // A slip of the pen is withdrawn, and its hold with it.
    if (outcome.kind === "kept") await bench.run.journal.withdraw(outcome.entry.entryId, "local");
    await bench.stretch(at("11:50"));
    expect(ended(bench)).toBe(false);
  });

  it("of a vessel without a sensor is over by what a person enters at the machine, not by what comes from afar", async () => {
    const { bench } = await benchOf(supplyYaml({ sensors: false }));
    await bench.stretch(at("11:00"));
    const read = (pressure: number): unknown => ({
      kind: "gauge reading",
      vessel: "cellar",
      pressure,
      unit: "bar",
    });
    const enter = async (content: unknown, source: "local" | "remote"): Promise<void> => {
      expect(await bench.run.journal.enter(content, source)).toMatchObject({ kind: "kept" });
      await bench.stretch(new Date(bench.clock.now_epochMs() + 600_000).toISOString());
    };
    await enter(read(2.2), "remote");
    expect(ended(bench)).toBe(true);
    await enter(read(9.5), "remote");
    expect(ended(bench)).toBe(true);
    await enter(newCharge, "remote");
    expect(ended(bench)).toBe(true);
    await enter(read(9.5), "remote");
    expect(ended(bench)).toBe(true);
    await enter(read(9.5), "local");
    expect(ended(bench)).toBe(false);
  });

  it("of a vessel without a sensor is over when its new charge is written down at the machine", async () => {
    const { bench } = await benchOf(supplyYaml({ sensors: false }));
    await bench.stretch(at("11:00"));
    const low = { kind: "gauge reading", vessel: "cellar", pressure: 2.2, unit: "bar" };
    await bench.run.journal.enter(low, "local");
    await bench.stretch(at("11:10"));
    expect(ended(bench)).toBe(true);
    await bench.run.journal.enter(newCharge, "local");
    await bench.stretch(at("11:20"));
    expect(ended(bench)).toBe(false);
  });

  it("closes a bought cylinder once its liquid and all but the last of its gas are gone", async () => {
    const yaml = supplyYaml()
      .replace("kind: generator", "kind: liquid")
      .replace(/charge: \{[^}]*\}/u, "")
      .replace("accuracy: 0.1", "accuracy: 0.1, plausible: { minimum: 0, maximum: 100 }");
    const { bench, say } = await benchOf(yaml);
    say(57);
    await bench.stretch(at("11:00"));
    expect(bench.decision.action).toBe("open");
    say(5);
    await bench.stretch(at("12:00"));
    expect(bench.decision.action).toBe("open");
    say(below);
    await bench.stretch(at("12:30"));
    expect(bench.decision).toMatchObject({ action: "closed", gist: "end of charge" });
    let opened = 0;
    const count = (): void => {
      if (bench.decision.action === "open") opened += 1;
    };
    // A restart forgets nothing, whether its sensor speaks at once or is silent.
    await bench.kill();
    await bench.start();
    await bench.stretch(at("12:40"), count);
    say(undefined);
    await bench.kill();
    await bench.start();
    await bench.stretch(at("13:00"), count);
    expect(opened).toBe(0);
    say(57);
    await bench.stretch(at("13:30"));
    expect(bench.decision.action).toBe("open");
  });
});
