import { describe, expect, it } from "vitest";
import { pressurePicture, type PressurePoint } from "../../../../lib/digest/pressure-picture.js";

const from_epochMs = Date.parse("2026-05-01T00:00:00+02:00");
const hour_ms = 3_600_000;
const span = { from_epochMs, to_epochMs: from_epochMs + 7 * 24 * hour_ms, timeZone: "Europe/Berlin" };
/** From 12 bar down by 0.02 bar an hour. */
const falling: readonly PressurePoint[] = Array.from({ length: 168 }, (_, index) => ({
  at_epochMs: from_epochMs + index * hour_ms,
  pressureGauge_bar: 12 - 0.02 * index,
}));

function pointsOf(svg: string): readonly (readonly (readonly [number, number])[])[] {
  return [...svg.matchAll(/<polyline [^>]*points="([^"]*)"/g)].map(([, points = ""]) =>
    points.split(" ").map((point) => {
      const [x, y] = point.split(",").map(Number);
      return [x!, y!] as const;
    }),
  );
}

describe("the picture of a pressure", () => {
  it("goes from left to right within its frame and downwards where the pressure falls", () => {
    const picture = pressurePicture("cellar", falling, span)!;
    const [line] = pointsOf(picture.svg);
    expect(line).toHaveLength(168);
    line!.forEach(([x, y], index) => {
      expect(x).toBeGreaterThanOrEqual(52);
      expect(x).toBeLessThanOrEqual(628);
      expect(y).toBeGreaterThanOrEqual(14);
      expect(y).toBeLessThanOrEqual(188);
      const before = line![index - 1];
      if (before === undefined) return;
      expect(x).toBeGreaterThan(before[0]);
      expect(y).toBeGreaterThan(before[1]);
    });
  });

  it("says in words what it shows, and marks each midnight of the site", () => {
    const picture = pressurePicture("cellar", falling, span)!;
    expect(picture.alt).toBe(
      "Pressure of cellar by its gauge, 2026-05-01 to 2026-05-07: 12.0 bar at first, 8.7 bar at last, between 8.7 and 12.0 bar.",
    );
    expect(picture.svg).toContain(`<title>${picture.alt}</title>`);
    const dates = [...picture.svg.matchAll(/text-anchor="middle">([^<]*)</g)].map(([, date]) => date);
    expect(dates).toEqual(["05-02", "05-03", "05-04", "05-05", "05-06", "05-07", "05-08"]);
    // The second midnight stands a seventh of the width further.
    const marks = [...picture.svg.matchAll(/<path d="M([\d.]+) 14V/g)].map(([, x]) => Number(x));
    expect(marks[1]! - marks[0]!).toBeCloseTo((628 - 52) / 7, 0);
  });

  it("is well-formed: each element that is opened is closed, and what a name holds is escaped", () => {
    const { svg } = pressurePicture('<b & "c">', falling, span)!;
    const open: string[] = [];
    for (const [, closing, name, empty] of svg.matchAll(/<(\/?)([a-z]+)[^<>]*?(\/?)>/g)) {
      if (closing === "/") expect(open.pop()).toBe(name);
      else if (empty !== "/") open.push(name!);
    }
    expect(open).toEqual([]);
    expect(svg).not.toMatch(/&(?!amp;|lt;|gt;|quot;)/);
    expect(svg).toContain("&lt;b &amp; &quot;c&quot;&gt;");
  });

  it("draws no line over a night without readings", () => {
    const gap = falling.filter((_, index) => index < 40 || index > 52);
    expect(pointsOf(pressurePicture("cellar", gap, span)!.svg)).toHaveLength(2);
  });

  it("stays small with a reading each ten seconds, and keeps the mean", () => {
    const many = Array.from({ length: 60_480 }, (_, index) => ({
      at_epochMs: from_epochMs + index * 10_000,
      pressureGauge_bar: 10 + (index % 2 === 0 ? 1 : -1),
    }));
    const { svg, alt } = pressurePicture("cellar", many, span)!;
    expect(svg.length).toBeLessThan(8000);
    expect(alt).toContain("between 10.0 and 10.0 bar");
  });

  it("is none without two points in the time that it shows", () => {
    expect(pressurePicture("cellar", falling.slice(0, 1), span)).toBeUndefined();
    const old = falling.map((point) => ({ ...point, at_epochMs: point.at_epochMs - 30 * 24 * hour_ms }));
    expect(pressurePicture("cellar", old, span)).toBeUndefined();
  });

  it("does not blow up a pressure that stands still", () => {
    const still = falling.map((point, index) => ({ ...point, pressureGauge_bar: 9 + (index % 2) * 0.02 }));
    const [line] = pointsOf(pressurePicture("cellar", still, span)!.svg);
    const heights = line!.map(([, y]) => y);
    expect(Math.max(...heights) - Math.min(...heights)).toBeLessThan(5);
  });
});
