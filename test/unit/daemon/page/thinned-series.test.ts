import { describe, expect, it } from "vitest";
import { heldValue, thinnedSeries } from "../../../../daemon/page/thinned-series.js";
import type { ReadingSummary } from "../../../../daemon/ports/site-store.js";

const readings = Array.from({ length: 4000 }, (_, k): ReadingSummary => {
  const value = k === 1234 ? 99 : 10;
  return {
    sensorId: "gauge",
    quantity: "pressureGauge_bar",
    from_epochMs: 1000 * k,
    minimum: value,
    mean: value,
    maximum: value,
    count: 1,
  };
});

describe("a series for a chart", () => {
  it("has no more points than were asked for, and still shows the one that stands out", () => {
    const series = thinnedSeries(readings, "pressureGauge_bar", 1500);
    expect(series.at_epochMs.length).toBeLessThanOrEqual(1500);
    expect(Math.max(...series.maximum)).toBe(99);
    expect(series.at_epochMs).toEqual([...series.at_epochMs].sort((a, b) => a - b));
  });

  it("weighs what was rolled up by how many readings it holds", () => {
    const one = { ...readings[0]!, mean: 1, count: 3 };
    const other = { ...readings[1]!, mean: 5, count: 1 };
    expect(thinnedSeries([one, other], "pressureGauge_bar", 1).mean).toEqual([2]);
  });

  it("leaves other quantities out, and is empty where nothing was read", () => {
    expect(thinnedSeries(readings, "pH").mean).toEqual([]);
  });

  it("holds the last value so long and no longer", () => {
    const held = heldValue({ at_epochMs: [0, 100], mean: [1, 2] }, 50);
    expect([held(-1), held(10), held(60), held(100), held(149), held(200)]).toEqual([
      undefined,
      1,
      undefined,
      2,
      2,
      undefined,
    ]);
  });
});
