import { describe, expect, it } from "vitest";
import type { Co2Evidence } from "../../lib/tank/co2-evidence.js";
import { fuseCo2 } from "../../lib/tank/co2-fusion.js";
import { missOf, readReference } from "./read-reference.js";

interface FusionRow {
  readonly case: string;
  readonly offsetPhSigma: number;
  readonly readingPhSigma: number;
  readonly evidences: readonly Omit<Co2Evidence, "method">[];
  readonly expected: readonly number[];
}

const methods = ["carbonate hardness", "pH drop", "drop checker"] as const;

describe("fused CO2 against integration by general-purpose libraries", () => {
  const table = readReference<FusionRow>("fused-carbon-dioxide.json");

  it.each(table.rows)("of $case has the points of its distribution", (row) => {
    const evidences = row.evidences.map((evidence, index): Co2Evidence => ({
      ...evidence,
      method: methods[index] ?? "drop checker",
    }));
    const fused = fuseCo2(evidences, row);
    if (fused === undefined) throw new Error("nothing fused");
    const points = [
      fused.co2Low95_mgPerL,
      fused.co2Low80_mgPerL,
      fused.co2_mgPerL,
      fused.co2High80_mgPerL,
      fused.co2High95_mgPerL,
    ];
    expect(fused.agreement.kind).toBe("methods agree");
    points.forEach((point, index) => {
      expect(
        missOf(table, point, row.expected[index]!),
        `point ${String(index)}: ${String(point)}`,
      ).toBeLessThanOrEqual(table.tolerance);
    });
  });
});
