import { describe, expect, it } from "vitest";
import { co2Conditions } from "../../../../daemon/tank/tank-alarms.js";
import type { TankEstimate } from "../../../../daemon/tank/tank-estimate.js";
import type { Trip } from "../../../../lib/control/trip.js";
import { ControlBench } from "../../../support/control-bench.js";

async function estimate(changes: Partial<TankEstimate>): Promise<readonly [TankEstimate, ControlBench]> {
  const bench = new ControlBench({ startAt: "2026-05-01T12:00:00+02:00" });
  await bench.start();
  await bench.seconds(3);
  return [{ ...bench.status.tanks[0]!, ...changes }, bench];
}

describe("the alarms for too much CO2", () => {
  it.each<[TankEstimate["lastBand"], string | undefined, string | undefined]>([
    ["below target", undefined, undefined],
    ["in target", undefined, undefined],
    ["not known", undefined, undefined],
    ["caution", "co2-caution/loach", "low"],
    ["alarm", "co2-alarm/loach", "high"],
    ["close", "co2-close/loach", "critical"],
  ])("of a tank in the band %s are %s, %s", async (lastBand, alarmId, priority) => {
    const [tank, bench] = await estimate({
      lastBand,
      band: lastBand,
      bandReasons: ["CO2 is about 45 mg/L."],
    });
    const [condition, ...others] = co2Conditions([tank], bench.model, []);
    expect(others).toEqual([]);
    expect(condition?.alarmId).toBe(alarmId);
    expect(condition?.priority).toBe(priority);
    if (condition === undefined) return;
    expect(condition.cause).toBe("tank loach: CO2 is about 45 mg/L.");
    expect(condition.whatToDo).not.toBe("");
    expect(condition.subjects).toContainEqual({ kind: "valve", id: "outlet" });
  });

  it("are silent while a trip says the same, and not for a trip of another cause", async () => {
    const [tank, bench] = await estimate({ lastBand: "alarm" });
    const trip = (cause: Trip["cause"], id = "loach"): Trip => ({
      subject: { kind: "tank", id },
      cause,
      reason: "",
      at_epochMs: 0,
    });
    expect(co2Conditions([tank], bench.model, [trip("CO2 above the close limit")])).toEqual([]);
    expect(co2Conditions([tank], bench.model, [trip("CO2 rises too fast")])).toEqual([]);
    expect(co2Conditions([tank], bench.model, [trip("pH below the floor")])).toHaveLength(1);
    expect(co2Conditions([tank], bench.model, [trip("CO2 rises too fast", "shrimp")])).toHaveLength(1);
  });

  it("say so where the pH has fallen silent since", async () => {
    const [tank, bench] = await estimate({ lastBand: "alarm", band: "not known", co2: undefined });
    expect(co2Conditions([tank], bench.model, [])[0]?.cause).toContain(
      "above its alarm limit when it was known last",
    );
  });
});
