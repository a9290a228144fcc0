import { describe, expect, it } from "vitest";
import { statusLines } from "../../daemon/status-text.js";
import { benchYaml, ControlBench } from "../support/control-bench.js";

/** A charge that has long settled; nothing reads its pressure but a person. */
const yaml = benchYaml.replace(
  "workingPressureGauge_bar: 3 }",
  `workingPressureGauge_bar: 1.5,
    charge: { sodiumBicarbonate_g: 120, citricAcidAnhydrous_g: 100, water_kg: 0.5, sealedAt_degC: 20,
      closedAt: "2026-04-20T12:00:00+02:00" } }`,
);
const begin = {
  command: "leak-test-begin",
  hold_h: 24,
  gauge: { pressure: 9.5, unit: "bar", temperature_degC: 20 },
  accuracy: 0.1,
};

async function benchAt(startAt: string, step_s = 5): Promise<ControlBench> {
  const bench = new ControlBench({ startAt, yaml, step_s });
  await bench.start();
  await bench.seconds(8);
  return bench;
}

describe("a leak test by a gauge read by eye", () => {
  it("closes the open valve, keeps it closed over wishes and a restart, and opens it only by schedule and rules", async () => {
    const bench = await benchAt("2026-05-04T11:00:00+02:00");
    expect(bench.status.valves[0]!.reported).toBe("open");

    expect(await bench.say(begin, ["no"])).toEqual({ kind: "refused", text: "not answered with yes" });
    await bench.seconds(3);
    expect(bench.decision.action).toBe("open");

    const begun = await bench.say(begin, ["yes"]);
    expect(begun.text).toContain(
      "leak test of cellar until 2026-05-05 11:00: every valve of it is held closed",
    );
    await bench.seconds(3);
    expect(bench.status.valves[0]!.reported).toBe("closed");
    expect(bench.decision.reason).toBe("leak test: vessel cellar is held closed until 2026-05-05 11:00");

    const wished = await bench.say({ command: "override", valve: "outlet", action: "open", for_min: 60 });
    expect(wished.text).toContain("it stays closed all the same: leak test");
    await bench.seconds(5);
    expect(bench.status.valves[0]!.reported).toBe("closed");
    expect(await bench.say({ command: "commission", valve: "outlet" }, ["yes"])).toMatchObject({
      kind: "refused",
      text: expect.stringContaining("a leak test holds vessel cellar closed") as string,
    });
    expect((await bench.say(begin, ["yes"])).text).toContain("a leak test of cellar runs until");

    await bench.kill();
    await bench.start();
    await bench.seconds(12, () => expect(bench.status.valves[0]!.reported).not.toBe("open"));
    expect(bench.decision.reason).toContain("leak test");

    // The guard falls silent while the test ends: the end opens nothing.
    bench.sensors.delete("loach/ph");
    await bench.seconds(40);
    const ended = await bench.say({
      command: "leak-test-end",
      gauge: { pressure: 9.5, unit: "bar", temperature_degC: 20 },
    });
    expect(ended.kind).toBe("done");
    expect(ended.text).toContain("It cannot be told after 0.1 h closed");
    await bench.seconds(5, () => expect(bench.status.valves[0]!.reported).toBe("closed"));
    expect(bench.decision.reason).toContain("guard sensor silent");
    bench.sensors.set("loach/ph", () => (6.8 + 0.001 * Math.random()).toFixed(4));
    await bench.seconds(4);
    expect(bench.status.valves[0]!.reported).toBe("open");

    const tests = bench.disk.events.filter(({ area }) => area === "leak test");
    expect(tests.map(({ what, subject }) => `${subject} ${what}`)).toEqual([
      "cellar began",
      "cellar ended early",
    ]);
  });

  it("ends by itself with a verdict that the status keeps", async () => {
    const bench = await benchAt("2026-05-04T19:30:00+02:00", 20);
    await bench.say({ ...begin, hold_h: 1 }, ["yes"]);
    await bench.seconds(90);
    const [byNow] = bench.status.leakTests;
    expect(byNow).toMatchObject({ isRunning: true, byNow: { verdict: { why: "no-readings" } } });
    await bench.run.journal.enter(
      { kind: "gauge reading", pressure: 8.3, unit: "bar", temperature_degC: 20 },
      "local",
    );
    await bench.seconds(100);
    const [over] = bench.status.leakTests;
    expect(over).toMatchObject({ isRunning: false, test: { found: { isEarly: false } } });
    const text = statusLines(bench.status, bench.model).join("\n");
    expect(text).toContain("  leak test ended 2026-05-04 20:");
    await bench.kill();
    await bench.start();
    await bench.seconds(2);
    expect(statusLines(bench.status, bench.model).join("\n")).toContain("  leak test ended 2026-05-04 20:");
  });

  it("asks for a last look before it is ended early, and ends without one when told to", async () => {
    const bench = await benchAt("2026-05-04T20:00:00+02:00");
    await bench.say(begin, ["yes"]);
    const asked = await bench.say({ command: "leak-test-end" });
    expect(asked.kind).toBe("refused");
    expect(asked.text).toContain("read it now and give what it shows with --gauge");
    await bench.seconds(2);
    expect(bench.status.leakTests[0]).toMatchObject({ isRunning: true });
    expect(await bench.say({ command: "leak-test-end", agreed: true })).toMatchObject({ kind: "done" });
  });

  it("tells beforehand how many windows are missed and how long this gauge needs", async () => {
    const bench = await benchAt("2026-05-04T20:00:00+02:00");
    const said: string[] = [];
    const replies = await bench.sayAll({ ...begin, hold_h: 40 }, ["yes"]);
    replies.forEach(({ text }) => said.push(text));
    const text = said.join("\n");
    // 09:00 to 18:30 on Tuesday, and 09:00 to 12:00 of Wednesday.
    expect(text).toContain("The hold cuts into 2 dosing windows: 12.5 h of gas are missed.");
    expect(text).toMatch(/With this gauge 1 g a day can be told after about \d+ h closed/);
    expect(text).toContain("Hold every valve of cellar closed for 40 h? (yes/no)");
  });

  it.each([
    { change: { vessel: "attic" }, text: 'there is no vessel "attic"; the config has cellar' },
    { change: { hold_h: 300 }, text: "not understood" },
    { change: { gauge: undefined }, text: "--accuracy" },
    {
      change: { gauge: undefined, accuracy: undefined },
      text: "no pressure of cellar has been taken from a sensor within the hour",
    },
    { change: { gauge: { pressure: 900, unit: "bar" } }, text: "allowed is" },
  ])("refuses what cannot be: $text", async ({ change, text }) => {
    const bench = await benchAt("2026-05-04T20:00:00+02:00");
    const reply = await bench.say(JSON.parse(JSON.stringify({ ...begin, ...change })), ["yes"]);
    expect(reply.kind).toBe("refused");
    expect(reply.text).toContain(text);
    expect(bench.status.leakTests).toEqual([]);
  });

  it("waits until the reaction of a fresh charge is over", async () => {
    const bench = await benchAt("2026-04-20T18:00:00+02:00");
    const reply = await bench.say(begin, ["yes"]);
    expect(reply.text).toContain("the charge may still react until 2026-04-22 00:00");
  });

  it("has nothing to end where none runs", async () => {
    const bench = await benchAt("2026-05-04T20:00:00+02:00");
    expect(await bench.say({ command: "leak-test-end" })).toMatchObject({ kind: "refused" });
    expect((await bench.say({ command: "leak-test-status" })).text).toBe("no leak test has been made");
  });
});
