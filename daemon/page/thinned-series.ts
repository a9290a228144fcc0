import type { MeasuredQuantity } from "../../lib/readings/reading.js";
import type { ReadingSummary } from "../ports/site-store.js";
import type { Series } from "./page-contract.js";

/** More points than that no chart of a page shows. */
export const mostPoints = 1500;

/** Readings of one quantity, those that lie near each other taken together until few enough are left. */
export function thinnedSeries(
  readings: readonly ReadingSummary[],
  quantity: MeasuredQuantity,
  most: number = mostPoints,
): Series {
  const mine = readings.filter((reading) => reading.quantity === quantity);
  const size = Math.max(1, Math.ceil(mine.length / most));
  const groups = Array.from({ length: Math.ceil(mine.length / size) }, (_, group) =>
    mine.slice(group * size, (group + 1) * size),
  );
  const weighed = (group: readonly ReadingSummary[], read: (one: ReadingSummary) => number): number => {
    const count = group.reduce((sum, one) => sum + one.count, 0);
    return group.reduce((sum, one) => sum + read(one) * one.count, 0) / count;
  };
  return {
    at_epochMs: groups.map((group) => Math.round(weighed(group, ({ from_epochMs }) => from_epochMs))),
    mean: groups.map((group) => weighed(group, ({ mean }) => mean)),
    minimum: groups.map((group) => Math.min(...group.map(({ minimum }) => minimum))),
    maximum: groups.map((group) => Math.max(...group.map(({ maximum }) => maximum))),
  };
}

/** The value that was read last at an instant, no longer ago than a limit. */
export function heldValue(
  { at_epochMs, mean }: Pick<Series, "at_epochMs" | "mean">,
  longest_ms: number,
): (at_epochMs: number) => number | undefined {
  let place = -1;
  return (wanted_epochMs) => {
    while (place + 1 < at_epochMs.length && (at_epochMs[place + 1] ?? Infinity) <= wanted_epochMs) place += 1;
    const read_epochMs = at_epochMs[place];
    return read_epochMs === undefined || wanted_epochMs - read_epochMs > longest_ms ? undefined : mean[place];
  };
}
