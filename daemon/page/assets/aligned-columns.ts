/** One series of a chart by its own instants. */
export interface Column {
  readonly at_epochMs: readonly number[];
  readonly values: readonly number[];
}

/** Several series on one time line; undefined where one has nothing at the instant of another, which breaks no line. */
export function alignedColumns(columns: readonly Column[]): {
  readonly at_epochMs: readonly number[];
  readonly columns: readonly (readonly (number | undefined)[])[];
} {
  const at_epochMs = [...new Set(columns.flatMap((column) => column.at_epochMs))].sort((a, b) => a - b);
  const place = new Map(at_epochMs.map((at, index) => [at, index]));
  return {
    at_epochMs,
    columns: columns.map((column) => {
      const aligned = new Array<number | undefined>(at_epochMs.length).fill(undefined);
      column.at_epochMs.forEach((at, index) => {
        aligned[place.get(at) ?? 0] = column.values[index];
      });
      return aligned;
    }),
  };
}
