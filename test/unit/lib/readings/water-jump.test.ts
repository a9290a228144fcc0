import { describe, expect, it } from "vitest";
import { beyondWater_K, fastestWarming_KPerMin } from "../../../../lib/readings/water-jump.js";

describe("how fast the water of a tank changes", () => {
  it("is faster than any heater of the trade warms it", () => {
    // Heat: P / (V rho c); water at 25 degC: 0.99705 kg/L (IAPWS-95) and 4.1816 kJ/(kg K) (IAPWS-95); both from memory.
    const byHeater_KPerMin = (power_W: number, volume_L: number): number =>
      (power_W * 60) / (volume_L * 0.99705 * 4181.6);
    for (const [power_W, volume_L] of [
      [25, 20],
      [100, 60],
      [300, 120],
      [1000, 500],
    ] as const) {
      expect(fastestWarming_KPerMin(volume_L)).toBeGreaterThan(byHeater_KPerMin(power_W, volume_L));
    }
  });

  it("is that of a water change by mixing: 15 L a minute, 20 K apart", () => {
    // After one minute in a full tank from which as much runs off: dT = 20 K x (1 - exp(-15/V)), at most 20 x 15 / V.
    for (const volume_L of [30, 120, 500]) {
      const mixed_K = 20 * (1 - Math.exp(-15 / volume_L));
      expect(fastestWarming_KPerMin(volume_L)).toBeGreaterThan(mixed_K);
      expect(fastestWarming_KPerMin(volume_L)).toBeLessThan(mixed_K * 1.35 + 0.2);
    }
  });

  it.each([
    { from: 24.5, to: 31, after_s: 10, beyond: true, because: "6.5 K in ten seconds" },
    { from: 31, to: 24.4, after_s: 10, beyond: true, because: "to cool is no easier" },
    {
      from: 24.5,
      to: 31,
      after_s: 60,
      beyond: false,
      because: "a careless water change may do it in a minute",
    },
    { from: 24.5, to: 28.5, after_s: 1, beyond: false, because: "fresh water that flows past the probe" },
  ])("$from to $to degC: beyond water $beyond, as $because", ({ from, to, after_s, beyond }) => {
    const rules = { gate: 5, fastest_KPerMin: fastestWarming_KPerMin(120) };
    const last = { value: from, at_monotonicMs: 1000 };
    const found = beyondWater_K(last, { value: to, at_monotonicMs: 1000 + after_s * 1000 }, rules);
    expect(found !== undefined).toBe(beyond);
    expect(beyondWater_K(undefined, { value: to, at_monotonicMs: 0 }, rules)).toBeUndefined();
  });
});
