/** Keeps guesses few: each address waits longer after each, and all together make no more than some a minute. */
export interface LoginLimit {
  /** So long the address has to wait before its next try counts, ms; 0: it may try now. */
  wait_ms(address: string, now_monotonicMs: number): number;
  failed(address: string, now_monotonicMs: number): void;
  succeeded(address: string): void;
}

/** A person mistypes now and then. */
const free = 3;
const first_ms = 2000;
const longest_ms = 15 * 60_000;
const forgotten_ms = 60 * 60_000;
const mostAddresses = 500;
const overall = { most: 30, within_ms: 60_000 } as const;

interface Failures {
  readonly count: number;
  readonly last_monotonicMs: number;
}

export function createLoginLimit(): LoginLimit {
  const failures = new Map<string, Failures>();
  let all: readonly number[] = [];

  return {
    wait_ms(address, now_monotonicMs) {
      all = all.filter((at) => now_monotonicMs - at < overall.within_ms);
      const [oldest] = all;
      const forAll_ms =
        all.length >= overall.most && oldest !== undefined ? oldest + overall.within_ms - now_monotonicMs : 0;
      const known = failures.get(address);
      if (known === undefined || known.count < free) return forAll_ms;
      const pause_ms = Math.min(longest_ms, first_ms * 2 ** (known.count - free));
      return Math.max(forAll_ms, known.last_monotonicMs + pause_ms - now_monotonicMs, 0);
    },
    failed(address, now_monotonicMs) {
      all = [...all, now_monotonicMs];
      const known = failures.get(address);
      const isOld = known !== undefined && now_monotonicMs - known.last_monotonicMs > forgotten_ms;
      failures.delete(address);
      failures.set(address, {
        count: known === undefined || isOld ? 1 : known.count + 1,
        last_monotonicMs: now_monotonicMs,
      });
      for (const oldest of failures.keys()) {
        if (failures.size <= mostAddresses) break;
        failures.delete(oldest);
      }
    },
    succeeded: (address) => void failures.delete(address),
  };
}
