import { describe, expect, it } from "vitest";
import type { FactOf, JournalEntry } from "../../../../lib/journal/journal-entry.js";
import { calibrated } from "../../../../lib/readings/calibration.js";
import { uncalibratedPhSigma } from "../../../../lib/tank/probe-health.js";
import {
  journalCorrection,
  probeDriftSince,
  probeNow,
  probeRecord,
} from "../../../../lib/tank/probe-record.js";

const day_ms = 86_400_000;
const now_epochMs = Date.parse("2026-05-01T12:00:00Z");
type Buffers = FactOf<"calibration">["buffers"];
let entryId = 0;
const entry = (age_days: number, buffers: Buffers): JournalEntry<FactOf<"calibration">> => ({
  entryId: (entryId += 1),
  at_epochMs: now_epochMs - age_days * day_ms,
  enteredAt_epochMs: now_epochMs,
  source: "local",
  note: "",
  withdrawn: false,
  fact: { kind: "calibration", sensorId: "loach-ph", buffers },
});
// At 25 degC the two buffers have pH 7.00 and 4.01: their maker's names are for that temperature.
const two: Buffers = [
  { buffer: "7.00", shown: 7.1, temperature_degC: 25 },
  { buffer: "4.01", shown: 4.12, temperature_degC: 25 },
];

const none = { gain: 1, offset: 0 };

describe("the calibrations that a journal holds of a probe", () => {
  it("turn what the topic shows into what the buffers are", () => {
    const correction = journalCorrection(probeRecord([entry(1, two)]), none)!;
    expect(calibrated(7.1, correction)).toBeCloseTo(7.0, 2);
    expect(calibrated(4.12, correction)).toBeCloseTo(4.01, 2);
  });

  it("build on one another: one buffer moves the offset of the last two", () => {
    const record = probeRecord([
      entry(30, two),
      entry(1, [{ buffer: "7.00", shown: 7.2, temperature_degC: 25 }]),
    ]);
    expect(record.calibrations).toHaveLength(2);
    expect(calibrated(7.2, journalCorrection(record, none)!)).toBeCloseTo(7.0, 2);
  });

  it("are set aside with their reason where they cannot be right, and the one before counts on", () => {
    const record = probeRecord([
      entry(30, two),
      entry(1, [
        { buffer: "7.00", shown: 4.1, temperature_degC: 25 },
        { buffer: "4.01", shown: 7.1, temperature_degC: 25 },
      ]),
    ]);
    expect(record.calibrations).toHaveLength(1);
    expect(record.refused).toMatchObject([{ explanation: expect.stringContaining("wrong order") as string }]);
    expect(calibrated(7.1, journalCorrection(record, none)!)).toBeCloseTo(7.0, 2);
  });

  it("take the place of the config's correction where the topic carries pH", () => {
    const record = probeRecord([entry(1, two)]);
    expect(journalCorrection(record, { gain: 0.97, offset: 0.4 })).toEqual(journalCorrection(record, none));
  });

  it("correct further what the config makes of mV", () => {
    // 59.16 mV a pH at 25 degC (Nernst), 0 mV at pH 7.
    const fromMv = { gain: -1 / 59.16, offset: 7 };
    const correction = journalCorrection(probeRecord([entry(1, two)]), fromMv)!;
    const mvShownAs = (pH: number) => (pH - 7) * -59.16;
    expect(calibrated(mvShownAs(7.1), correction)).toBeCloseTo(7.0, 2);
    expect(calibrated(mvShownAs(4.12), correction)).toBeCloseTo(4.01, 2);
  });

  it("give no correction where there are none", () => {
    expect(journalCorrection(probeRecord([]), none)).toBeUndefined();
  });
});

describe("how far a probe may stand off", () => {
  it.each([
    [[entry(0, two)], { accuracyPh: undefined, isCorrected: true }, "calibration in the journal", 0, 0.04],
    [[entry(28, two)], { accuracyPh: 0.5, isCorrected: true }, "calibration in the journal", 0.1, 0.2],
    [[], { accuracyPh: 0.02, isCorrected: true }, "calibration in the config", 0.13, 0.14],
    [[], { accuracyPh: 0.02, isCorrected: false }, "never calibrated", uncalibratedPhSigma, 0.21],
    [[], { accuracyPh: 0.5, isCorrected: false }, "accuracy in the config", 0.5, 0.6],
    [[], { accuracyPh: undefined, isCorrected: true }, "calibration in the config", 0.1, 0.15],
    [[], { accuracyPh: undefined, isCorrected: false }, "never calibrated", uncalibratedPhSigma, 0.2],
    [[], { accuracyPh: 20, isCorrected: false }, "accuracy in the config", 1, 1],
  ])("goes by the best that is known, %#", (entries, config, basis, least, most) => {
    const probe = probeNow(probeRecord(entries), config, now_epochMs);
    expect(probe.basis).toBe(basis);
    expect(probe.offsetPhSigma).toBeGreaterThanOrEqual(least);
    expect(probe.offsetPhSigma).toBeLessThanOrEqual(most);
  });

  it("grows with the time since a baseline, and a baseline without a date is taken for old", () => {
    const probe = probeNow(
      probeRecord([entry(1, two)]),
      { accuracyPh: undefined, isCorrected: false },
      now_epochMs,
    );
    const since = (days: number) => probeDriftSince(probe, now_epochMs - days * day_ms, now_epochMs);
    expect(since(0)).toBe(0);
    expect(since(7)).toBeLessThan(since(28));
    expect(probeDriftSince(probe, undefined, now_epochMs)).toBeCloseTo(since(56), 9);
  });
});
