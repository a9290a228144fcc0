import { describe, expect, it } from "vitest";
import { retryDelay_ms } from "../../../../lib/alerts/retry.js";

describe("retryDelay_ms", () => {
  const failed = { kind: "failed", retryAfter_s: undefined } as const;
  it.each([
    { because: "begins within 5 s", failure: failed, attempts: 1, chance: 0.999, at_ms: 4998 },
    { because: "never comes at once", failure: failed, attempts: 1, chance: 0, at_ms: 2500 },
    { because: "doubles", failure: failed, attempts: 3, chance: 0, at_ms: 10_000 },
    {
      because: "is capped at a quarter of an hour",
      failure: failed,
      attempts: 500,
      chance: 1,
      at_ms: 900_000,
    },
    {
      because: "asks one who refuses seldom",
      failure: { kind: "refused" } as const,
      attempts: 1,
      chance: 0,
      at_ms: 1_800_000,
    },
    {
      because: "waits as long as it is asked to",
      failure: { kind: "failed", retryAfter_s: 120 } as const,
      attempts: 1,
      chance: 0,
      at_ms: 120_000,
    },
    {
      because: "but not for days",
      failure: { kind: "failed", retryAfter_s: 1e9 } as const,
      attempts: 1,
      chance: 0,
      at_ms: 3_600_000,
    },
  ])("$because", ({ failure, attempts, chance, at_ms }) => {
    expect(retryDelay_ms(failure, attempts, () => chance)).toBe(at_ms);
  });

  it("spreads those who lost the same network over half the interval", () => {
    const delays = Array.from({ length: 100 }, (_, n) => retryDelay_ms(failed, 20, () => n / 100));
    expect(Math.min(...delays)).toBe(450_000);
    expect(Math.max(...delays)).toBeGreaterThan(890_000);
  });
});
