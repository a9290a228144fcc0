/**
 * A span in which the recorder is silent.
 * - pressure-only: the pressure sensor is silent, the rest is recorded
 * - all: nothing is recorded, dosing goes on as planned
 * - all-and-valve-closed: nothing is recorded and the valve stays closed, as after a power cut
 */
export interface RecordingGap {
  readonly kind: "pressure-only" | "all" | "all-and-valve-closed";
  readonly from_epochMs: number;
  readonly to_epochMs: number;
}

const hour_ms = 3_600_000;
const minute_ms = 60_000;

/** Mean time between gaps, and their span: hours to days. */
const meanBetween_h = 12 * 24;
const span_h = { shortest: 2, longest: 72 } as const;
/** A cut of the power that keeps the valve closed is mended within half a day. */
const powerCut_h = 12;

/** Gaps from one instant to another, in order, none in another; their ends lie on whole multiples of 5 minutes. */
export function recordingGaps(
  from_epochMs: number,
  to_epochMs: number,
  random: () => number,
): readonly RecordingGap[] {
  const gaps: RecordingGap[] = [];
  const grid = (at_epochMs: number): number => Math.round(at_epochMs / (5 * minute_ms)) * 5 * minute_ms;
  let at_epochMs = from_epochMs;
  for (;;) {
    at_epochMs += -Math.log(1 - random()) * meanBetween_h * hour_ms;
    if (at_epochMs >= to_epochMs) return gaps;
    const drawn_h = span_h.shortest * (span_h.longest / span_h.shortest) ** random();
    const chance = random();
    const kind = chance < 0.5 ? "pressure-only" : chance < 0.8 ? "all" : "all-and-valve-closed";
    const lasts_h = kind === "all-and-valve-closed" ? Math.min(powerCut_h, drawn_h) : drawn_h;
    const end_epochMs = at_epochMs + lasts_h * hour_ms;
    gaps.push({
      kind,
      from_epochMs: grid(at_epochMs),
      to_epochMs: grid(end_epochMs),
    });
    at_epochMs = end_epochMs;
  }
}
