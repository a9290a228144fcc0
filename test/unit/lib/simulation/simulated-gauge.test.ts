import { describe, expect, it } from "vitest";
import { createRandomSource } from "../../../../lib/simulation/random-source.js";
import { createSimulatedGauge } from "../../../../lib/simulation/simulated-gauge.js";

const ideal = { bias_bar: 0, hysteresis_bar: 0, stiction_bar: 0, noise_bar: 0, resolution_bar: 0.001 };

describe("the simulated gauge", () => {
  it.each([
    { because: "an ideal one shows what is so", spec: {}, shown: 12.345 },
    { because: "a bias adds", spec: { bias_bar: -0.2 }, shown: 12.145 },
    { because: "it is read in steps", spec: { resolution_bar: 0.5 }, shown: 12.5 },
    { because: "a step is a decimal number again", spec: { resolution_bar: 0.1 }, shown: 12.3 },
  ])("$because", ({ spec, shown }) => {
    const gauge = createSimulatedGauge({ ...ideal, ...spec }, 12.345, createRandomSource(1));
    gauge.follow(12.345);
    expect(gauge.read(0)).toBe(shown);
  });

  it("shows less on the way up than on the way down, by its hysteresis", () => {
    const gauge = createSimulatedGauge({ ...ideal, hysteresis_bar: 0.1 }, 5, createRandomSource(1));
    for (let at_bar = 5; at_bar < 10; at_bar += 0.01) gauge.follow(at_bar);
    gauge.follow(10);
    const up_bar = gauge.read(0);
    for (let at_bar = 15; at_bar > 10; at_bar -= 0.01) gauge.follow(at_bar);
    gauge.follow(10);
    expect(gauge.read(0) - up_bar).toBeCloseTo(0.1, 6);
  });

  it("stays where it is until the pressure has run ahead, and then jumps", () => {
    const gauge = createSimulatedGauge({ ...ideal, stiction_bar: 0.08 }, 5, createRandomSource(1));
    gauge.follow(4.95);
    expect(gauge.read(0)).toBe(5);
    gauge.follow(4.91);
    expect(gauge.read(0)).toBe(4.91);
  });

  it("never shows less than nothing", () => {
    const gauge = createSimulatedGauge({ ...ideal, bias_bar: -0.4 }, 0.1, createRandomSource(1));
    expect(gauge.read(0)).toBe(0);
  });
});
