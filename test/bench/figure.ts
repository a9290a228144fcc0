/** One measured figure, as `npm run bench` prints it: a JSON object a line. */
export interface Figure {
  readonly name: string;
  readonly value: number;
  readonly unit: string;
  /** "most": the value may not be above the limit; "least": not below it. */
  readonly limit: number;
  readonly bound: "most" | "least";
}

export function isWithin({ value, limit, bound }: Figure): boolean {
  return bound === "most" ? value <= limit : value >= limit;
}

/** With the ratio to the limit: at most 1 where "most", at least 1 where "least". A limit of 0 has none. */
export function figureLine(figure: Figure): string {
  const { value, limit } = figure;
  const toLimit_ratio = limit === 0 ? null : rounded(value / limit);
  return JSON.stringify({ ...figure, value: rounded(value), toLimit_ratio, holds: isWithin(figure) });
}

function rounded(value: number): number {
  return Number(value.toPrecision(4));
}
