/** Waiting times between connection attempts. */
export interface ReconnectBackoff {
  /** The next waiting time; the ceiling doubles with every call. */
  next_ms(): number;
  /** Call it after a connection that lasted. */
  reset(): void;
}

/**
 * Exponential back-off with full jitter: uniform between zero and a ceiling that doubles from `first_ms` to
 * `ceiling_ms`. Many clients that lost the same broker then come back spread out.
 */
export function createReconnectBackoff(options: {
  readonly random: () => number;
  readonly first_ms?: number;
  readonly ceiling_ms?: number;
}): ReconnectBackoff {
  const first_ms = options.first_ms ?? 1_000;
  const highest_ms = options.ceiling_ms ?? 60_000;
  let ceiling_ms = first_ms;
  return {
    next_ms() {
      const wait_ms = Math.round(options.random() * ceiling_ms);
      ceiling_ms = Math.min(ceiling_ms * 2, highest_ms);
      return wait_ms;
    },
    reset() {
      ceiling_ms = first_ms;
    },
  };
}
