import { describe, expect, it } from "vitest";
import { flowCandidates, stepCandidates } from "../../../../lib/supply-watch/change-candidates.js";
import type { FlowChange } from "../../../../lib/supply-watch/flow-change.js";

const change = (flow_ratio: number): FlowChange => ({
  since_epochMs: 0,
  flow_ratio,
  deviation_ln: 0.08,
  before: { flow_gPerH: 0.3, deviation_gPerH: 0.01 },
});

const rows = [
  { flow_ratio: 0.5, branches: 2, first: "branch-closed", because: "one of two lines is half of the flow" },
  {
    flow_ratio: 0.667,
    branches: 3,
    first: "branch-closed",
    because: "one of three lines is a third of the flow",
  },
  { flow_ratio: 0.5, branches: 1, first: "needle-closed", because: "a single line has no branch to close" },
  { flow_ratio: 0.15, branches: 2, first: "outlet-blocked", because: "no line takes so much with it" },
  {
    flow_ratio: 1.3,
    branches: 1,
    first: "needle-opened",
    because: "a hand on the needle is the usual cause",
  },
  { flow_ratio: 2, branches: 2, first: "branch-opened", because: "the second of two lines doubles the flow" },
] as const;

describe("candidates of a changed flow", () => {
  it.each(rows)("puts $first first at $flow_ratio of the flow with $branches lines: $because", (row) => {
    const candidates = flowCandidates(change(row.flow_ratio), row.branches);
    expect(candidates[0]?.cause).toBe(row.first);
  });

  it.each(rows)("gives odds that sum to 1, never without a doubt, at $flow_ratio", (row) => {
    const candidates = flowCandidates(change(row.flow_ratio), row.branches);
    expect(candidates.reduce((sum, { odds }) => sum + odds, 0)).toBeCloseTo(1, 9);
    expect(candidates.find(({ cause }) => cause === "not-told")?.odds).toBeGreaterThan(0);
    for (const { separatedBy } of candidates) expect(separatedBy).not.toBe("");
  });

  it("never names a branch where there is one line", () => {
    for (const flow_ratio of [0.3, 0.5, 2]) {
      const causes = flowCandidates(change(flow_ratio), 1).map(({ cause }) => cause);
      expect(causes).not.toContain("branch-closed");
      expect(causes).not.toContain("branch-opened");
    }
  });
});

describe("candidates of a gauge that jumps while the valve is closed", () => {
  it("lets gas out only downwards", () => {
    const down = stepCandidates({ at_epochMs: 0, step_bar: -0.6, deviations: -9 }, true);
    const up = stepCandidates({ at_epochMs: 0, step_bar: 0.6, deviations: 9 }, true);
    expect(down.map(({ cause }) => cause)).toContain("gas-let-out");
    expect(up.map(({ cause }) => cause)).not.toContain("gas-let-out");
    expect(up[0]?.cause).toBe("gauge-offset");
  });

  it("thinks of crystals that meet the liquor before the reaction has ended", () => {
    expect(stepCandidates({ at_epochMs: 0, step_bar: 0.6, deviations: 9 }, false)[0]?.cause).toBe("gas-came");
  });
});
