export interface StoreTiming {
  readonly busyTimeout_ms: number;
  readonly fileCheck_ms: number;
  /** A write that is not answered for so long makes the store count as failing. */
  readonly unansweredLimit_ms: number;
  readonly queryLimit_ms: number;
  readonly firstRetry_ms: number;
  readonly longestRetry_ms: number;
  readonly tick_ms: number;
  readonly stopLimit_ms: number;
}

export const defaultTiming: StoreTiming = {
  busyTimeout_ms: 5000,
  fileCheck_ms: 5000,
  unansweredLimit_ms: 60_000,
  queryLimit_ms: 10_000,
  firstRetry_ms: 1000,
  longestRetry_ms: 30_000,
  tick_ms: 500,
  stopLimit_ms: 5000,
};
