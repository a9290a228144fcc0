import { describe, expect, it } from "vitest";
import { parseConfig } from "../../../daemon/config/load-config.js";
import { figureLine, isWithin, type Figure } from "../../bench/figure.js";
import { loadSensors, loadSite, loadSiteYaml } from "../../bench/load-site.js";
import { slopeOf } from "../../bench/month-memory.js";
import { missedTicks } from "../../bench/pass-figures.js";

describe("a figure of the bench", () => {
  const figure: Figure = { name: "a time", value: 312.345, unit: "ms", limit: 400, bound: "most" };

  it("is one JSON object a line, with the ratio to its limit", () => {
    expect(JSON.parse(figureLine(figure))).toEqual({
      name: "a time",
      value: 312.3,
      unit: "ms",
      limit: 400,
      bound: "most",
      toLimit_ratio: 0.7809,
      holds: true,
    });
  });

  it.each([
    [{ ...figure, value: 400 }, true],
    [{ ...figure, value: 401 }, false],
    [{ ...figure, value: 399, bound: "least" as const }, false],
    [{ ...figure, value: Number.NaN }, false],
    [{ ...figure, value: Number.NaN, bound: "least" as const }, false],
  ])("holds or not: %o", (measured, holds) => {
    expect(isWithin(measured)).toBe(holds);
  });

  it("counts a tick as missed where a second went by without one", () => {
    const passes = (...begins_ms: readonly number[]) =>
      begins_ms.map((began_ms) => ({ began_ms, took_ms: 1, computed_ms: 1 }));
    expect(missedTicks(passes(0, 1003, 2400, 3380))).toBe(0);
    expect(missedTicks(passes(0, 1000, 3020, 4000, 7100))).toBe(3);
  });

  it("takes the growth of a straight line, whatever wobbles about it", () => {
    expect(slopeOf([5, 7, 9, 11])).toBeCloseTo(2, 12);
    expect(slopeOf([4, 4, 4])).toBe(0);
  });
});

describe("the site of the bench", () => {
  it("is a config that the daemon takes, with every sensor that speaks in it", () => {
    const parsed = parseConfig(
      loadSiteYaml({ address: "mqtt://127.0.0.1:1883", folder: "/bench" }),
      "/bench/site.yaml",
    );
    if (parsed.kind === "invalid") throw new Error(JSON.stringify(parsed.faults.slice(0, 3)));
    const { vessels, tanks, sensors } = parsed.config;
    expect(Object.keys(vessels)).toHaveLength(loadSite.vessels);
    expect(Object.keys(tanks)).toHaveLength(150);
    expect(
      Object.values(sensors)
        .map(({ topic }) => topic)
        .sort(),
    ).toEqual(loadSensors.map(({ topic }) => topic).sort());
  });
});
