import { addDays, instantsOfWallClock, wallClockAt } from "../schedule/civil-time.js";
import { escapedMarkup } from "./escaped-markup.js";

/** A pressure, or the mean of several that lie near each other. */
export interface PressurePoint {
  readonly at_epochMs: number;
  readonly pressureGauge_bar: number;
}

/** A picture for those who see it, and a sentence for those who do not. */
export interface PressurePicture {
  readonly vesselId: string;
  readonly alt: string;
  readonly svg: string;
}

export interface PictureSpan {
  readonly from_epochMs: number;
  readonly to_epochMs: number;
  readonly timeZone: string;
}

const width = 640;
const height = 220;
const plot = { left: 52, right: 628, top: 14, bottom: 188 } as const;
/** More points than that no picture of this width shows. */
const columns = 288;
/** A line is not drawn over a longer silence: nobody knows what was there. */
const longestGap_ms = 6 * 3_600_000;
const mostDates = 8;
/** A pressure that hardly moves is not blown up to fill the height. */
const leastHeight_bar = 1;

/**
 * The line of a vessel's gauge pressure, bar, as SVG 1.1 text, or undefined where fewer than two points lie in the span. Each
 * column of the picture shows the mean of its points; the scale need not begin at 0, and is written at its side.
 */
export function pressurePicture(
  vesselId: string,
  points: readonly PressurePoint[],
  span: PictureSpan,
): PressurePicture | undefined {
  const { from_epochMs, to_epochMs, timeZone } = span;
  const drawn = thinned(
    points.filter(({ at_epochMs }) => at_epochMs >= from_epochMs && at_epochMs <= to_epochMs),
    span,
  );
  const [first] = drawn;
  const last = drawn.at(-1);
  if (first === undefined || last === undefined || drawn.length < 2) return undefined;
  const pressures_bar = drawn.map(({ pressureGauge_bar }) => pressureGauge_bar);
  const lowest_bar = Math.min(...pressures_bar);
  const highest_bar = Math.max(...pressures_bar);
  const alt =
    `Pressure of ${vesselId} by its gauge, ${dateOf(first.at_epochMs, timeZone)} to ${dateOf(last.at_epochMs, timeZone)}: ` +
    `${bar(first.pressureGauge_bar)} bar at first, ${bar(last.pressureGauge_bar)} bar at last, ` +
    `between ${bar(lowest_bar)} and ${bar(highest_bar)} bar.`;
  const middle_bar = (lowest_bar + highest_bar) / 2;
  const half_bar = Math.max(leastHeight_bar, (highest_bar - lowest_bar) * 1.1) / 2;
  const bottom_bar = middle_bar - half_bar;
  const x = (at_epochMs: number): number =>
    plot.left + ((at_epochMs - from_epochMs) / (to_epochMs - from_epochMs)) * (plot.right - plot.left);
  const y = (pressureGauge_bar: number): number =>
    plot.bottom - ((pressureGauge_bar - bottom_bar) / (2 * half_bar)) * (plot.bottom - plot.top);
  const lines = unbroken(drawn).map(
    (line) =>
      `<polyline fill="none" stroke="#1d5a8c" stroke-width="2" points="${line
        .map((point) => `${tenth(x(point.at_epochMs))},${tenth(y(point.pressureGauge_bar))}`)
        .join(" ")}"/>`,
  );
  const scale = [0.05, 0.5, 0.95].map((part) => bottom_bar + part * 2 * half_bar);
  const svg = [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" role="img" aria-label="${escapedMarkup(alt)}" font-family="sans-serif" font-size="12" fill="#333333">`,
    `<title>${escapedMarkup(alt)}</title>`,
    `<rect width="${width}" height="${height}" fill="#ffffff"/>`,
    ...scale.map(
      (pressureGauge_bar) =>
        `<path d="M${plot.left} ${tenth(y(pressureGauge_bar))}H${plot.right}" stroke="#dddddd"/><text x="${plot.left - 6}" y="${tenth(y(pressureGauge_bar) + 4)}" text-anchor="end">${bar(pressureGauge_bar)}</text>`,
    ),
    ...midnights(span).map(
      ({ at_epochMs, date }) =>
        `<path d="M${tenth(x(at_epochMs))} ${plot.top}V${plot.bottom}" stroke="#eeeeee"/><text x="${tenth(x(at_epochMs))}" y="${plot.bottom + 18}" text-anchor="middle">${date.slice(5)}</text>`,
    ),
    ...lines,
    `<text x="${plot.left}" y="${height - 4}">${escapedMarkup(vesselId)}, bar</text>`,
    "</svg>",
  ].join("\n");
  return { vesselId, alt, svg };
}

/** In order of time, one point for each column. */
function thinned(
  points: readonly PressurePoint[],
  { from_epochMs, to_epochMs }: PictureSpan,
): readonly PressurePoint[] {
  const column_ms = (to_epochMs - from_epochMs) / columns;
  const gathered = new Map<number, PressurePoint[]>();
  for (const point of [...points].sort((a, b) => a.at_epochMs - b.at_epochMs)) {
    const column = Math.floor((point.at_epochMs - from_epochMs) / column_ms);
    const mates = gathered.get(column);
    if (mates === undefined) gathered.set(column, [point]);
    else mates.push(point);
  }
  return [...gathered.values()].map((mates) => ({
    at_epochMs: mean(mates.map(({ at_epochMs }) => at_epochMs)),
    pressureGauge_bar: mean(mates.map(({ pressureGauge_bar }) => pressureGauge_bar)),
  }));
}

function unbroken(points: readonly PressurePoint[]): readonly (readonly PressurePoint[])[] {
  const lines: PressurePoint[][] = [];
  let before_epochMs = Number.NEGATIVE_INFINITY;
  for (const point of points) {
    const line = lines.at(-1);
    if (line === undefined || point.at_epochMs - before_epochMs > longestGap_ms) lines.push([point]);
    else line.push(point);
    before_epochMs = point.at_epochMs;
  }
  return lines;
}

/** The beginnings of the days within the span, not too many of them. */
function midnights({
  from_epochMs,
  to_epochMs,
  timeZone,
}: PictureSpan): readonly { readonly at_epochMs: number; readonly date: string }[] {
  const found: { readonly at_epochMs: number; readonly date: string }[] = [];
  for (let date = addDays(dateOf(from_epochMs, timeZone), 1); ; date = addDays(date, 1)) {
    const instants = instantsOfWallClock(date, 0, timeZone);
    const at_epochMs =
      instants.kind === "once"
        ? instants.at_epochMs
        : instants.kind === "twice"
          ? instants.earlier_epochMs
          : instants.change_epochMs;
    if (at_epochMs > to_epochMs) break;
    found.push({ at_epochMs, date });
  }
  const step = Math.ceil(found.length / mostDates);
  return found.filter((_, index) => index % step === 0);
}

const dateOf = (at_epochMs: number, timeZone: string): string => wallClockAt(at_epochMs, timeZone).date;
const bar = (pressure_bar: number): string => pressure_bar.toFixed(1).replace(/^-(0\.0)$/, "$1");
const tenth = (pixel: number): string => String(Number(pixel.toFixed(1)));
const mean = (values: readonly number[]): number =>
  values.reduce((sum, value) => sum + value, 0) / values.length;
