/** Series numbers are below this. */
export const seriesPerInstant = 4096;

/** SQL for the first key at or after an instant; see the schema's note on timeAndSeries. */
export const keyAt = (instant: string): string => `cast(${instant} AS INTEGER) * ${seriesPerInstant}`;

/** Later instants have no key: the year 73000. */
export const latestStorable_epochMs = 2 ** 51 - 1;
