/** One series of a chart by its own instants. */
export interface Column {
  readonly at_epochMs: readonly number[];
  readonly values: readonly number[];
}

/** Several series on one time line; null where one has nothing at the instant of another. */
export function alignedColumns(columns: readonly Column[]): {
  readonly at_epochMs: readonly number[];
  readonly columns: readonly (readonly (number | null)[])[];
} {
  const at_epochMs = [...new Set(columns.flatMap((column) => column.at_epochMs))].sort((a, b) => a - b);
  const place = new Map(at_epochMs.map((at, index) => [at, index]));
  return {
    at_epochMs,
    columns: columns.map((column) => {
      const aligned = new Array<number | null>(at_epochMs.length).fill(null);
      column.at_epochMs.forEach((at, index) => {
        aligned[place.get(at) ?? 0] = column.values[index] ?? null;
      });
      return aligned;
    }),
  };
}
