import type { Co2Band } from "../tank/co2-bands.js";

/** The bands as a digest tells them: where the CO2 should be comes first. */
export const bandsAsTold = [
  "in target",
  "below target",
  "caution",
  "alarm",
  "close",
  "not known",
] as const satisfies readonly Co2Band[];

/** How long a tank was in each band; a band without an entry was not reached. */
export type BandTime = Readonly<Partial<Record<Co2Band, number>>>;

/** The same with a further span, ms, in one band. A span that is not positive (a clock that begins anew) adds nothing. */
export function withBandTime(before: BandTime, band: Co2Band, span_ms: number): BandTime {
  return span_ms > 0 ? { ...before, [band]: (before[band] ?? 0) + span_ms } : before;
}

/** Time in which something was known or sought, ms. */
export function watchedTime_ms(time: BandTime): number {
  return Object.values(time).reduce((sum, span_ms) => sum + span_ms, 0);
}

/** Time above the target, and the part of it in the bands of alarm and closing, ms. */
export function timeAbove_ms(time: BandTime): { readonly target_ms: number; readonly alarm_ms: number } {
  const alarm_ms = (time.alarm ?? 0) + (time.close ?? 0);
  return { target_ms: alarm_ms + (time.caution ?? 0), alarm_ms };
}
