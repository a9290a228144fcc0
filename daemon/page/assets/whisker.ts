import { svg } from "./svg.js";

export interface Whisked {
  readonly value: number;
  readonly low: number | undefined;
  readonly high: number | undefined;
}

const width = 120;
const height = 14;
const side = 4;

/** A point with its error bar on the scale of all that it is compared with. The numbers stand beside it. */
export function whisker(
  { value, low, high }: Whisked,
  scale: { readonly low: number; readonly high: number },
): SVGSVGElement {
  const span = scale.high - scale.low;
  const x = (at: number): number =>
    side + (span > 0 ? ((at - scale.low) / span) * (width - 2 * side) : (width - 2 * side) / 2);
  const line = (x1: number, x2: number, y1: number, y2: number): SVGLineElement =>
    svg("line", { x1, x2, y1, y2 });
  const middle = height / 2;
  return svg(
    "svg",
    { class: "whisker", viewBox: `0 0 ${width} ${height}`, "aria-hidden": "true" },
    low === undefined || high === undefined
      ? undefined
      : svg(
          "g",
          {},
          line(x(low), x(high), middle, middle),
          line(x(low), x(low), middle - 4, middle + 4),
          line(x(high), x(high), middle - 4, middle + 4),
        ),
    svg("circle", { cx: x(value), cy: middle, r: 3.5 }),
  );
}

/** From the lowest end to the highest. */
export function scaleOf(whisked: readonly Whisked[]): { readonly low: number; readonly high: number } {
  const ends = whisked.flatMap(({ value, low = value, high = value }) => [low, high]);
  return { low: Math.min(...ends), high: Math.max(...ends) };
}
