const minute_ms = 60_000;

/** More points than a chart has pixels; the answer also has to cross a thread without holding up the control cycle. */
export const mostRows = 4000;

const widths_ms = [1, 15, 60, 360, 1440].map((width_min) => width_min * minute_ms);

export const floorTo = (at_epochMs: number, width_ms: number): number => at_epochMs - (at_epochMs % width_ms);

/** The finest bucket width that keeps a series over this span at or below `mostRows` rows. */
export const summaryWidth_ms = (span_ms: number): number => {
  const day_ms = 1440 * minute_ms;
  return (
    widths_ms.find((width_ms) => span_ms / width_ms <= mostRows) ??
    Math.ceil(span_ms / mostRows / day_ms) * day_ms
  );
};
