import { describe, expect, it } from "vitest";
import { ControlBench } from "../../support/control-bench.js";

describe("the alarm of a relay that is on while it is told off", () => {
  it.each([
    {
      because: "something else switches it on again and again",
      disturb: (bench: ControlBench, second: number) => {
        if (second % 3 === 0) bench.relay.press("on");
      },
      cause: "relay outlet is switched on by something else",
    },
    {
      because: "its contact is welded, and it answers each OFF with ON",
      disturb: (bench: ControlBench, second: number) => {
        if (second !== 0) return;
        bench.relay.press("on");
        bench.relay.misbehave("stuck");
      },
      cause: "relay outlet does not confirm off",
    },
  ])("is critical and sends a person to the vessel: $because", async ({ disturb, cause }) => {
    const bench = new ControlBench({ startAt: "2026-05-04T20:00:00Z" });
    await bench.start();
    await bench.seconds(60);
    expect(bench.alarms()).not.toContain("relay/outlet");
    let second = 0;
    await bench.seconds(30, () => {
      disturb(bench, second);
      second += 1;
    });
    const alarm = bench.status.alarms.find(({ condition }) => condition.alarmId === "relay/outlet");
    expect(alarm?.condition).toMatchObject({ priority: "critical", cause });
    expect(alarm?.condition.whatToDo).toMatch(/shut the vessel by hand/);
  });
});
