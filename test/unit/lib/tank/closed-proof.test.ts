import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";
import { closedProof, isHeld, usualClosedProofLimits } from "../../../../lib/tank/closed-proof.js";
import type { ClosedProof, ClosedProofKnowledge } from "../../../../lib/tank/closed-proof.js";
import type { Co2Reading } from "../../../../lib/tank/relaxation-fit.js";

const hour_ms = 3_600_000;
const from_epochMs = Date.UTC(2026, 0, 5, 21);
const night_h = 11;
const known: ClosedProofKnowledge = {
  k_perH: 0.2,
  kSigma_ln: 0.1,
  settledCo2_mgPerL: 2,
  settledSigma_ln: 0.2,
  dose_mgPerLPerH: 5.6,
};

/** A tank of k 0.2 per hour and a plateau of 30 mg/L under gas, with a share of the gas still flowing. */
function readingsWith(tank: {
  readonly leak_ratio: number;
  readonly start?: number;
  readonly k_perH?: number;
  readonly every_min?: number;
  readonly seed?: number;
}): readonly Co2Reading[] {
  const { leak_ratio, start = 30, k_perH = 0.2, every_min = 5 } = tank;
  const random = createRandomSource(tank.seed ?? 4);
  const rest = 2 + (leak_ratio * 5.6) / k_perH;
  const readings: Co2Reading[] = [];
  for (let minute = 0; minute <= night_h * 60; minute += every_min) {
    const co2 = rest + (start - rest) * Math.exp((-k_perH * minute) / 60);
    readings.push({
      at_epochMs: from_epochMs + minute * 60_000,
      co2_mgPerL: co2 * 10 ** (0.006 * drawNormal(random)),
    });
  }
  return readings;
}

function proofAt(hour: number, readings: readonly Co2Reading[], knowledge = known): ClosedProof {
  return closedProof(
    {
      from_epochMs,
      now_epochMs: from_epochMs + hour * hour_ms,
      until_epochMs: from_epochMs + night_h * hour_ms,
      readings,
    },
    knowledge,
  );
}

describe("the proof that the gas stopped", () => {
  it("stands within hours where the tank falls as it does", () => {
    const readings = readingsWith({ leak_ratio: 0 });
    const proof = proofAt(5, readings);
    expect(proof.kind).toBe("gas stopped");
    if (proof.kind !== "gas stopped") return;
    expect(proof.evidence.likelihoodRatio).toBeLessThan(usualClosedProofLimits.missed_ratio);
    expect(proof.evidence.watched_h).toBeCloseTo(4.5, 0);
    expect(proof.evidence.fromCo2_mgPerL).toBeCloseTo(27, 0);
    expect(Math.abs(proof.evidence.toCo2_mgPerL / proof.evidence.expectedCo2_mgPerL - 1)).toBeLessThan(0.1);
  });

  it("says stuck valve where the tank does not fall", () => {
    const proof = proofAt(3, readingsWith({ leak_ratio: 1 }));
    if (proof.kind !== "gas did not stop") throw new Error(proof.kind);
    expect(proof.suspicion).toBe("stuck valve");
    expect(proof.leakLow80_ratio).toBeLessThanOrEqual(1);
    expect(proof.leakHigh80_ratio).toBeGreaterThanOrEqual(1);
    expect(proof.evidence.likelihoodRatio).toBeGreaterThan(1000);
    expect(proof.alsoPossible).toContain("film");
    expect(proof.alsoPossible).toContain("pH probe that is stuck");
    expect(proof.evidence.toCo2_mgPerL).toBeGreaterThan(1.3 * proof.evidence.expectedCo2_mgPerL);
  });

  it("says leaking seat where it comes to rest too high", () => {
    const proof = proofAt(10, readingsWith({ leak_ratio: 0.4 }));
    if (proof.kind !== "gas did not stop") throw new Error(proof.kind);
    expect(proof.suspicion).toBe("leaking seat");
    expect(Math.abs(proof.leak_ratio - 0.4)).toBeLessThan(0.15);
  });

  it("waits at first and says until when", () => {
    const proof = proofAt(1, readingsWith({ leak_ratio: 1 }));
    if (proof.kind !== "not yet") throw new Error(proof.kind);
    expect(proof.stuckTold_h).toBeGreaterThan(1);
    expect(proof.stuckTold_h).toBeLessThan(3.5);
    expect(proof.evidence?.likelihoodRatio).toBeLessThan(1000);
  });

  it("says not falling after hours in which nothing is known and CO2 stays where it was", () => {
    const unknown = {
      ...known,
      settledCo2_mgPerL: 3,
      kSigma_ln: 0.6,
      settledSigma_ln: 0.6,
      dose_mgPerLPerH: undefined,
    };
    // A lid: 0.01 per hour is a sixth of the slowest exchange that is plausible without one.
    const lidded = readingsWith({ leak_ratio: 0, k_perH: 0.01 });
    expect(proofAt(3, lidded, unknown).kind).not.toBe("not falling");
    const kinds = [6, 7, 8, 9, 10].map((hour) => proofAt(hour, lidded, unknown).kind);
    expect(kinds.every((kind) => kind === "not falling" || kind === "gas did not stop")).toBe(true);
  });

  it.each([
    { from: 22, to: 20, watched_h: 11, held: true, because: "the slowest exchange would take 9 mg/L" },
    { from: 22, to: 16.5, watched_h: 11, held: false, because: "0.03 per hour is slow, but a fall" },
    { from: 3, to: 2.99, watched_h: 6, held: false, because: "it is at rest" },
  ])("takes CO2 from $from to $to mg/L as held: $held, for $because", ({ from, to, watched_h, held }) => {
    expect(isHeld({ fromCo2_mgPerL: from, toCo2_mgPerL: to, watched_h }, undefined, "alarm")).toBe(held);
  });

  it("says how much of the flow can still go on", () => {
    const proof = proofAt(8, readingsWith({ leak_ratio: 0 }));
    if (proof.kind !== "gas stopped") throw new Error(proof.kind);
    expect(proof.leakAtMost_ratio).toBeGreaterThan(0);
    expect(proof.leakAtMost_ratio).toBeLessThan(usualClosedProofLimits.leastLeak_ratio);
  });

  it("cannot be told where the tank is at its rest already and the dose is not known", () => {
    const undosed = { ...known, dose_mgPerLPerH: undefined };
    const proof = proofAt(6, readingsWith({ leak_ratio: 0, start: 2.05 }), undosed);
    if (proof.kind !== "cannot be told") throw new Error(proof.kind);
    expect(proof.because).toContain("near its rest");
  });

  it("is content at rest when the dose is known and would have shown", () => {
    // The dose makes 28 mg/L above the rest: a stuck valve would lift the tank from 2 to 20 in five hours.
    expect(proofAt(6, readingsWith({ leak_ratio: 0, start: 2.05 })).kind).toBe("gas stopped");
    const stuck = proofAt(6, readingsWith({ leak_ratio: 1, start: 2.05 }));
    expect(stuck.kind).toBe("gas did not stop");
  });

  it("does not cry stuck for a film that halves the exchange", () => {
    const filmed = readingsWith({ leak_ratio: 0, k_perH: 0.1 });
    for (let hour = 1.25; hour <= night_h; hour += 0.5) {
      const proof = proofAt(hour, filmed);
      expect(proof.kind === "gas did not stop" ? proof.suspicion : "quiet").not.toBe("stuck valve");
    }
  });

  it("tells a stuck valve without a known dose, from the evening's plateau", () => {
    const readings = readingsWith({ leak_ratio: 1 });
    expect(proofAt(4, readings, { ...known, dose_mgPerLPerH: undefined }).kind).toBe("gas did not stop");
  });

  it("needs longer where k is hardly known, and then still tells", () => {
    const unknown = { ...known, kSigma_ln: 0.6, dose_mgPerLPerH: undefined };
    expect(proofAt(2, readingsWith({ leak_ratio: 1 }), unknown).kind).not.toBe("gas stopped");
    expect(proofAt(10, readingsWith({ leak_ratio: 0 }), unknown).kind).toBe("gas stopped");
  });

  it("keeps its word on false alarms: none in 300 nights looked at every half hour", () => {
    let alarms = 0;
    for (let seed = 1; seed <= 300; seed += 1) {
      const random = createRandomSource(1000 + seed);
      const readings = readingsWith({
        leak_ratio: 0,
        k_perH: 0.2 * Math.exp(0.1 * drawNormal(random)),
        every_min: 10,
        seed,
      });
      for (let hour = 1.25; hour <= 6; hour += 0.5) {
        const { kind } = proofAt(hour, readings);
        if (kind === "gas did not stop") alarms += 1;
        if (kind !== "not yet") break;
      }
    }
    // At a rate of 0.001 a night, two or more in 300 nights come once in 27 such trials.
    expect(alarms).toBeLessThan(2);
  });

  it("is silent, not content, without readings", () => {
    expect(proofAt(6, []).kind).toBe("not yet");
  });

  it("refuses limits that mean nothing", () => {
    const record = { from_epochMs, now_epochMs: from_epochMs, until_epochMs: from_epochMs, readings: [] };
    const limits = { ...usualClosedProofLimits, falseAlarm_ratio: 0.5 };
    expect(() => closedProof(record, known, limits)).toThrow(OutOfValidRangeError);
  });
});
