import { describe, expect, it } from "vitest";
import { mostLossDeviations, pairedRows, type PairedRow } from "../../support/loss-information.js";

const minute_ms = 60_000;

/** A loss of 0.01 bar an hour, read every minute; closed but for the given minutes. */
function rowsOf(minutes: number, isOpen: (minute: number) => boolean = () => false): readonly PairedRow[] {
  return Array.from({ length: minutes + 1 }, (_, minute) => ({
    at_epochMs: minute * minute_ms,
    valveOpen: isOpen(minute),
    tight_bar: 10,
    loses_bar: 10 - (0.01 * minute) / 60,
  }));
}

describe("the most that a likelihood ratio can tell of a loss", () => {
  it("is the textbook's slope over the standard error of a straight line", () => {
    // Least squares: sigma times the root of 12 / (n (n^2 - 1)), for each step; any handbook of statistics.
    const n = 121;
    const standardError_barPerMin = 0.005 * Math.sqrt(12 / (n * (n ** 2 - 1)));
    expect(mostLossDeviations(rowsOf(120), 0.005)).toBeCloseTo(0.01 / 60 / standardError_barPerMin, 6);
  });

  it("takes no level of one closed span for that of the next", () => {
    const parted = mostLossDeviations(
      rowsOf(120, (minute) => minute === 60),
      0.005,
    );
    const half = mostLossDeviations(rowsOf(59), 0.005);
    expect(parted).toBeCloseTo(Math.SQRT2 * half, 6);
  });

  it("pairs the rows of two runs by their instant", () => {
    const row = (at_epochMs: number, pressureGauge_bar: number) => ({ at_epochMs, pressureGauge_bar });
    expect(
      pairedRows(
        [
          { at_epochMs: 0, valveOpen: true },
          { at_epochMs: 1, valveOpen: false },
        ],
        [row(0, 9), row(1, 8), row(2, 7)],
        [row(1, 8.5), row(0, 9)],
      ),
    ).toEqual([
      { at_epochMs: 0, valveOpen: true, loses_bar: 9, tight_bar: 9 },
      { at_epochMs: 1, valveOpen: false, loses_bar: 8, tight_bar: 8.5 },
    ]);
  });
});
