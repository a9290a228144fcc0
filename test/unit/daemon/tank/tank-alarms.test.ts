import { describe, expect, it } from "vitest";
import { co2Conditions } from "../../../../daemon/tank/tank-alarms.js";
import type { TankEstimate } from "../../../../daemon/tank/estimated-tank.js";
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
    const [condition, ...lower] = co2Conditions([tank], bench.model, []);
    expect(lower.every(({ suppressedBy }) => suppressedBy.includes(alarmId ?? ""))).toBe(true);
    expect(condition?.alarmId).toBe(alarmId);
    expect(condition?.priority).toBe(priority);
    if (condition === undefined) return;
    expect(condition.cause).toBe("tank loach: CO2 is about 45 mg/L.");
    expect(condition.whatToDo).not.toBe("");
    expect(condition.subjects).toContainEqual({ kind: "valve", id: "outlet" });
  });

  it("stand on while a trip says the same, silenced by it: they are not back to normal", async () => {
    const [tank, bench] = await estimate({ lastBand: "alarm" });
    const silencedBy = (cause: Trip["cause"], id = "loach"): readonly string[] =>
      co2Conditions([tank], bench.model, [
        { subject: { kind: "tank", id }, cause, reason: "", at_epochMs: 0 },
      ]).find(({ alarmId }) => alarmId === "co2-alarm/loach")!.suppressedBy;
    expect(silencedBy("CO2 above the close limit")).toEqual(["trip/tank/loach/CO2 above the close limit"]);
    expect(silencedBy("CO2 rises too fast")).toEqual(["trip/tank/loach/CO2 rises too fast"]);
    expect(silencedBy("pH below the floor")).toEqual([]);
    expect(silencedBy("CO2 rises too fast", "shrimp")).toEqual([]);
  });

  it("of the closing limit are silenced by nothing", async () => {
    const [tank, bench] = await estimate({ lastBand: "close" });
    const trip: Trip = {
      subject: { kind: "tank", id: "loach" },
      cause: "CO2 above the close limit",
      reason: "",
      at_epochMs: 0,
    };
    const [first] = co2Conditions([tank], bench.model, [trip]);
    expect(first).toMatchObject({ alarmId: "co2-close/loach", suppressedBy: [] });
  });

  it("say so where the pH has fallen silent since", async () => {
    const [tank, bench] = await estimate({ lastBand: "alarm", band: "not known", co2: undefined });
    expect(co2Conditions([tank], bench.model, [])[0]?.cause).toContain(
      "above its alarm limit when it was known last",
    );
  });
});
