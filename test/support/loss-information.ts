import type { SupplyReading } from "../../lib/estimation/supply-trace.js";

/** The same closed row in two worlds: one with a loss and one without. */
export interface PairedRow {
  readonly at_epochMs: number;
  readonly valveOpen: boolean;
  readonly loses_bar: number;
  readonly tight_bar: number;
}

/** Rows of two runs of the same seed that stand at the same instants, before their gauge is read. */
export function pairedRows(
  readings: readonly SupplyReading[],
  loses: readonly { readonly at_epochMs: number; readonly pressureGauge_bar: number }[],
  tight: readonly { readonly at_epochMs: number; readonly pressureGauge_bar: number }[],
): readonly PairedRow[] {
  const byInstant = new Map(tight.map((row) => [row.at_epochMs, row.pressureGauge_bar]));
  const valve = new Map(readings.map((row) => [row.at_epochMs, row.valveOpen]));
  return loses.flatMap(({ at_epochMs, pressureGauge_bar }) => {
    const tight_bar = byInstant.get(at_epochMs);
    const valveOpen = valve.get(at_epochMs);
    return tight_bar === undefined || valveOpen === undefined
      ? []
      : [{ at_epochMs, valveOpen, loses_bar: pressureGauge_bar, tight_bar }];
  });
}

/**
 * How far apart, in standard deviations, the best test there can be holds a loss and no loss: the likelihood ratio for a gauge whose
 * only error is the noise of its readings, in a room whose temperature has no influence, when nothing but the pressure at
 * which each closed span begins is unknown. Every other thing that is not known brings them nearer. By the lemma of Neyman
 * and Pearson no detector that gives each closed span a level of its own finds more: with one false alarm in a year of looks every few minutes, that is from about five on.
 * @see Neyman and Pearson (1933), Phil. Trans. R. Soc. A 231, 289-337
 */
export function mostLossDeviations(rows: readonly PairedRow[], noise_bar: number): number {
  const spans: PairedRow[][] = [];
  let isClosed = false;
  for (const row of rows) {
    if (!row.valveOpen) {
      if (isClosed) spans.at(-1)?.push(row);
      else spans.push([row]);
    }
    isClosed = !row.valveOpen;
  }
  const squares = spans.map((span) => {
    const differences_bar = span.map(({ loses_bar, tight_bar }) => loses_bar - tight_bar);
    const mean_bar = differences_bar.reduce((sum, value) => sum + value, 0) / span.length;
    return differences_bar.reduce((sum, value) => sum + (value - mean_bar) ** 2, 0);
  });
  return Math.sqrt(squares.reduce((sum, square) => sum + square, 0)) / noise_bar;
}
