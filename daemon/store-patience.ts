import type { StoreHealth } from "./ports/site-store.js";

/** How long the store may fail before gas is held off. The alarm does not wait for it. */
const patience_s = 60;

/**
 * What the interlock hears of the store. The history may be late without moving a valve: a disk that is slow or locked for a
 * while is no danger to fish.
 */
export function createStorePatience(): (health: StoreHealth, now_monotonicMs: number) => StoreHealth {
  let failingSince_monotonicMs: number | undefined;

  return (health, now_monotonicMs) => {
    if (health.kind === "ok") {
      failingSince_monotonicMs = undefined;
      return health;
    }
    failingSince_monotonicMs ??= now_monotonicMs;
    return now_monotonicMs - failingSince_monotonicMs >= patience_s * 1000 ? health : { kind: "ok" };
  };
}
