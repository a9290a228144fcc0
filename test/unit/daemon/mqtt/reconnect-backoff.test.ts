import { describe, expect, it } from "vitest";
import { createReconnectBackoff } from "../../../../daemon/mqtt/reconnect-backoff.js";

describe("the reconnect back-off", () => {
  it("doubles its ceiling from 1 s to 60 s and stays there", () => {
    const backoff = createReconnectBackoff({ random: () => 1 });
    const waits_ms = Array.from({ length: 9 }, () => backoff.next_ms());
    expect(waits_ms).toEqual([1000, 2000, 4000, 8000, 16_000, 32_000, 60_000, 60_000, 60_000]);
  });

  it("spreads the wait evenly from zero to the ceiling", () => {
    for (const random of [0, 0.25, 0.5, 0.999]) {
      const backoff = createReconnectBackoff({ random: () => random });
      expect(backoff.next_ms()).toBe(Math.round(1000 * random));
      expect(backoff.next_ms()).toBe(Math.round(2000 * random));
    }
  });

  it("starts over after a reset", () => {
    const backoff = createReconnectBackoff({ random: () => 1, first_ms: 100, ceiling_ms: 400 });
    expect([backoff.next_ms(), backoff.next_ms(), backoff.next_ms(), backoff.next_ms()]).toEqual([
      100, 200, 400, 400,
    ]);
    backoff.reset();
    expect(backoff.next_ms()).toBe(100);
  });
});
