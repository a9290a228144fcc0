import { describe, expect, it } from "vitest";
import type { Reading, RejectedReading } from "../../../../lib/readings/reading.js";
import {
  createReadingGateState,
  futureTolerance_s,
  judgeReading,
  rejectUndecodable,
  type RawReading,
  type ReadingGateState,
} from "../../../../lib/readings/reading-gate.js";
import {
  sensorRulesFrom,
  type SensorDescription,
  type SensorRules,
} from "../../../../lib/readings/sensor-rules.js";

const start_epochMs = Date.parse("2026-03-01T12:00:00Z");
const pHRules = sensorRulesFrom({ sensorId: "loach-ph", measures: "pH", maximumAge_s: 120 });

/** A sensor that sends, through the gate. */
class GatedSensor {
  readonly rules: SensorRules;
  state: ReadingGateState = createReadingGateState();
  elapsed_ms = 0;

  constructor(description: Partial<SensorDescription> = {}) {
    this.rules = sensorRulesFrom({ sensorId: "loach-ph", measures: "pH", maximumAge_s: 120, ...description });
  }

  send(value: number, rest: Partial<RawReading> = {}): Reading | RejectedReading {
    const { result, state } = judgeReading(this.rules, this.state, {
      value,
      retained: false,
      at_epochMs: start_epochMs + this.elapsed_ms,
      at_monotonicMs: 1000 + this.elapsed_ms,
      ...rest,
    });
    this.state = state;
    return result;
  }

  /** One value after another, 10 s apart; what became of each. */
  sendAll(values: readonly number[], every_s = 10): readonly string[] {
    return values.map((value) => {
      this.elapsed_ms += every_s * 1000;
      const result = this.send(value);
      return result.kind === "accepted" ? "accepted" : result.reason;
    });
  }
}

describe("the gate in front of every reading", () => {
  it.each<[Partial<RawReading>, string, string]>([
    [{ value: 6.62 }, "accepted", "an ordinary one"],
    [{ value: 6.62, retained: true }, "retained", "history, however good it looks"],
    [{ value: Number.NaN }, "not a number", "NaN"],
    [{ value: Number.NEGATIVE_INFINITY }, "not a number", "no finite number"],
    [{ value: Number.NaN, retained: true }, "retained", "the first reason counts"],
    [{ value: 3.99 }, "implausible", "below the plausible span"],
    [{ value: 9.51 }, "implausible", "above the plausible span"],
    [{ value: 4 }, "accepted", "at its end"],
    [{ measuredAt_epochMs: start_epochMs - 120_000 }, "accepted", "as old as allowed"],
    [{ measuredAt_epochMs: start_epochMs - 120_001 }, "too old", "a millisecond older"],
    [
      { measuredAt_epochMs: start_epochMs + futureTolerance_s * 1000 },
      "accepted",
      "a sensor's clock runs ahead a little",
    ],
    [
      { measuredAt_epochMs: start_epochMs + futureTolerance_s * 1000 + 1 },
      "from the future",
      "too far ahead",
    ],
    [{ measuredAt_epochMs: Number.NaN }, "not a number", "a time stamp that is none"],
    [{ measuredAt_epochMs: undefined }, "accepted", "no time stamp: the arrival counts"],
  ])("%j: %s (%s)", (rest, expected) => {
    const { result, state } = judgeReading(pHRules, createReadingGateState(), {
      value: 6.62,
      retained: false,
      at_epochMs: start_epochMs,
      at_monotonicMs: 1000,
      ...rest,
    });
    expect(result.kind === "accepted" ? "accepted" : result.reason).toBe(expected);
    expect(state.acceptedCount).toBe(expected === "accepted" ? 1 : 0);
  });

  it("lets the tolerance for sensors that run ahead lie between 5 and 60 s", () => {
    expect(futureTolerance_s).toBeGreaterThanOrEqual(5);
    expect(futureTolerance_s).toBeLessThanOrEqual(60);
  });

  it("gives an accepted reading in its canonical unit, dated by its own time stamp on both clocks", () => {
    const sensor = new GatedSensor({
      sensorId: "cellar-gauge",
      measures: "pressure",
      unit: "psi",
      calibration: { offset: -5 },
    });
    expect(sensor.send(295, { measuredAt_epochMs: start_epochMs - 7000, at_monotonicMs: 50_000 })).toEqual({
      kind: "accepted",
      sensorId: "cellar-gauge",
      quantity: "pressureGauge_bar",
      value: expect.closeTo(19.9948, 4) as number,
      at_epochMs: start_epochMs - 7000,
      at_monotonicMs: 43_000,
    });
  });

  it("makes a reading from a clock that runs ahead no younger than its arrival", () => {
    expect(new GatedSensor().send(6.6, { measuredAt_epochMs: start_epochMs + 20_000 })).toMatchObject({
      at_epochMs: start_epochMs,
      at_monotonicMs: 1000,
    });
  });

  it("judges plausibility after unit and calibration", () => {
    const sensor = new GatedSensor({ measures: "temperature", unit: "degF", calibration: { offset: -3 } });
    expect(sensor.send(103)).toMatchObject({ kind: "accepted" });
    // 104 - 3 = 101 degF = 38.33 degC
    expect(sensor.send(104)).toMatchObject({
      reason: "implausible",
      detail: "38.333 degC (received 104); plausible is 10 to 38",
    });
  });

  it.each([
    [
      [6.6, 6.6, 6.6, 6.6, 8, 6.6, 6.6],
      ["accepted", "accepted", "accepted", "accepted", "spike", "accepted", "accepted"],
      "a lone spike",
    ],
    [
      [6.6, 6.6, 6.6, 6.6, 6.6, 7.4, 7.4, 7.4, 7.4],
      ["accepted", "accepted", "accepted", "accepted", "accepted", "spike", "spike", "accepted", "accepted"],
      "a step is believed at its third reading",
    ],
    [
      [6.6, 7.4, 7.4, 7.4],
      ["accepted", "spike", "accepted", "accepted"],
      "a spike that came first is outvoted",
    ],
    [
      [6.6, 6.6, 7.4, 6.6, 7.4, 6.6, 6.6, 6.6],
      ["accepted", "accepted", "spike", "accepted", "spike", "spike", "spike", "accepted"],
      "two spikes cannot be told from two senders until it is still again",
    ],
    [
      [6.6, 7.4, 6.6, 7.4, 6.6, 7.4, 6.6, 7.4, 6.6],
      ["accepted", "spike", "accepted", ...Array.from({ length: 6 }, () => "spike")],
      "two senders on one topic: which of them is right is not known",
    ],
    [
      [6.6, 6.8, 7.0, 7.2, 7.4, 7.6],
      Array.from({ length: 6 }, () => "accepted"),
      "a slope below half the gate",
    ],
    [[6.6, 7.1, 6.6], ["accepted", "accepted", "accepted"], "exactly the gate"],
  ])("%j: %j (%s)", (values, expected) => {
    expect(new GatedSensor().sendAll(values)).toEqual(expected);
  });

  it("keeps implausible values out of the median", () => {
    expect(new GatedSensor().sendAll([6.6, 14, 14, 14, 14, 14, 6.6])).toEqual([
      "accepted",
      ...Array.from({ length: 5 }, () => "implausible"),
      "accepted",
    ]);
  });

  it("believes the first reading after a silence longer than the maximum age", () => {
    const sensor = new GatedSensor();
    sensor.sendAll([6.6, 6.6, 6.6, 6.6, 6.6]);
    expect(sensor.sendAll([7.4], 120)).toEqual(["spike"]);
    expect(sensor.sendAll([7.4], 121)).toEqual(["accepted"]);
  });

  it("has no gate where none is set", () => {
    const sensor = new GatedSensor({ measures: "co2InAir" });
    expect(sensor.sendAll([800, 800, 800, 30_000])).toEqual(Array.from({ length: 4 }, () => "accepted"));
  });

  it("refuses a value that has not moved for too long, until it moves", () => {
    const sensor = new GatedSensor({ stuckAfter_min: 10 });
    const still = sensor.sendAll(Array.from({ length: 62 }, () => 6.62));
    // 10 s apart: the 61st comes 600 s after the first, the 62nd 610 s.
    expect(still.indexOf("stuck")).toBe(61);
    expect(sensor.sendAll([6.62, 6.63, 6.62])).toEqual(["stuck", "accepted", "accepted"]);
  });

  it("compares the raw number for that, not the converted one", () => {
    const sensor = new GatedSensor({ stuckAfter_min: 1, calibration: { gain: 1e-6, offset: 6.6 } });
    expect(sensor.sendAll(Array.from({ length: 10 }, (_, index) => 1 + (index % 2) * 1e-10))).not.toContain(
      "stuck",
    );
  });

  it("follows a value that does not move even while it is implausible", () => {
    const sensor = new GatedSensor({ stuckAfter_min: 1 });
    expect(sensor.sendAll(Array.from({ length: 9 }, () => 0))).toEqual(
      Array.from({ length: 9 }, () => "implausible"),
    );
    expect(sensor.state.unchanged).toEqual({ raw: 0, since_monotonicMs: 11_000 });
  });

  it("counts every refusal by its reason and every acceptance", () => {
    const sensor = new GatedSensor();
    sensor.sendAll([6.6, 6.6, 6.6, 8, 99, Number.NaN]);
    sensor.send(6.6, { retained: true });
    sensor.send(6.6, { retained: true });
    const { result, state } = rejectUndecodable(sensor.rules, sensor.state, {
      detail: "no number at $.value",
      at_epochMs: start_epochMs,
    });
    expect(result).toEqual({
      kind: "rejected",
      sensorId: "loach-ph",
      reason: "undecodable",
      detail: "no number at $.value",
      at_epochMs: start_epochMs,
    });
    expect(state.acceptedCount).toBe(3);
    expect(state.rejectedCounts).toEqual({
      retained: 2,
      undecodable: 1,
      "not a number": 1,
      implausible: 1,
      spike: 1,
      stuck: 0,
      "too old": 0,
      "from the future": 0,
    });
  });

  it("cuts the detail of a payload to 200 characters", () => {
    const { result } = rejectUndecodable(pHRules, createReadingGateState(), {
      detail: "x".repeat(5000),
      at_epochMs: 0,
    });
    expect(result).toMatchObject({ detail: "x".repeat(200) });
  });

  it.each<[Partial<RawReading>, string]>([
    [{ measuredAt_epochMs: start_epochMs - 500_000 }, "measured 500 s before it came; allowed are 120 s"],
    [{ measuredAt_epochMs: start_epochMs + 90_000 }, "time stamp 90 s ahead of our clock; allowed are 30 s"],
    [{ value: 12.345_678 }, "12.346 pH (received 12.346); plausible is 4 to 9.5"],
  ])("says what was seen and what is allowed: %j", (rest, detail) => {
    expect(new GatedSensor().send(6.6, rest)).toMatchObject({ detail });
  });
});
