import { readFileSync } from "node:fs";

/** A table of published values: where it is from, what it holds, and how near the code has to come. */
export interface ReferenceTable<Row> {
  readonly source: string;
  readonly table: string;
  readonly quantity: string;
  readonly tolerance: number;
  readonly toleranceKind: "relative" | "absolute";
  readonly toleranceFrom: string;
  readonly rows: readonly Row[];
}

export function readReference<Row>(name: string): ReferenceTable<Row> {
  const table = JSON.parse(
    readFileSync(new URL(`./${name}`, import.meta.url), "utf8"),
  ) as ReferenceTable<Row>;
  if (table.rows.length === 0) throw new Error(`${name} has no rows`);
  return table;
}

/** How far apart two values are, in the table's own measure. */
export function missOf(
  table: { readonly toleranceKind: "relative" | "absolute" },
  actual: number,
  expected: number,
): number {
  return Math.abs(table.toleranceKind === "relative" ? actual / expected - 1 : actual - expected);
}
