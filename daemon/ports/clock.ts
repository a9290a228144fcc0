/** Civil time for windows and calendars, monotonic time for every duration. */
export interface Clock {
  now_epochMs(): number;
  monotonic_ms(): number;
  /** Resolves after the duration, or at once when the signal is aborted; never rejects. */
  sleep(duration_ms: number, signal?: AbortSignal): Promise<void>;
}
