import { describe, expect, it } from "vitest";
import { chargeExperiments, runExperiment, type ExperimentOutcome } from "../support/charge-experiments.js";
import { detectorsUnderTest } from "../support/detectors-under-test.js";

/**
 * The watch against charges with a fault, of a simulation with physics of its own: a few of each here; a command of its own
 * runs sixty and two hundred and prints all figures. Nothing here is measured: the simulation's pressures are held against
 * published equilibria in test/reference.
 */

const firstSeed = 1001;

function outcomeOf(id: string, runs: number): ExperimentOutcome {
  const experiment = chargeExperiments.find((one) => one.id === id);
  expect(experiment).toBeDefined();
  const result = runExperiment(experiment!, detectorsUnderTest, { runs, firstSeed });
  if (result.kind !== "done") throw new Error(`no detector for ${id}`);
  return result;
}

const found = [
  { id: "leak-1.2K", runs: 4, least: 4, because: "a gram a day shows in a night or two" },
  { id: "leak-3K", runs: 4, least: 3, because: "the room hides more of it, and five nights are many" },
  { id: "short-water", runs: 6, least: 6, because: "a quarter less is beyond weighing and model" },
  { id: "short-ice", runs: 5, least: 5, because: "the same once the ice has melted" },
  { id: "stuck-0.25", runs: 5, least: 4, because: "one in ten has a pause of an hour between its windows" },
  { id: "stuck-0.1", runs: 5, least: 4, because: "the same" },
] as const;

describe("the watch on simulated charges with a fault", () => {
  it.each(found)(
    "finds $id in time in $least of $runs: $because",
    ({ id, runs, least }) => {
      const { figures } = outcomeOf(id, runs);
      expect(Math.round((figures["foundInTime_ratio"] ?? 0) * runs)).toBeGreaterThanOrEqual(least);
      expect(figures["falseOnSound_ratio"] ?? 0).toBe(0);
      expect(figures["falseBeforeOnset"] ?? 0).toBe(0);
    },
    120_000,
  );

  it("tells every charge weighed 30 % too heavy before 80 % of the rating, and no sound one", () => {
    const { figures } = outcomeOf("too-strong", 5);
    expect(figures["passed80"]).toBeGreaterThan(0);
    expect(figures["toldBefore80_ratio"]).toBe(1);
    expect(figures["falseOnSound_ratio"]).toBe(0);
  }, 120_000);

  it("raises no alarm over a third of a year of sound charges", () => {
    const { figures } = outcomeOf("false-alarms", 4);
    expect(figures["simulatedYears"]).toBeGreaterThan(0.3);
    expect(figures["alarms"]).toBe(0);
  }, 120_000);
});
