import { expect, it } from "vitest";
import type { SupplyReading } from "../../../../lib/estimation/supply-trace.js";
import { hearing, nothingHeard, rowEvery_ms, type Heard } from "../../../../daemon/supply/vessel-ear.js";

const begin_epochMs = Date.parse("2026-03-02T08:00:00Z");

/** Looks once a second at a shut vessel whose sensor speaks as it is told. */
function listen(seconds: number, speaksAt_s: (second: number) => boolean): readonly SupplyReading[] {
  let heard: Heard = nothingHeard;
  const rows: SupplyReading[] = [];
  let pressure: { at_epochMs: number; value: number } | undefined;
  for (let second = 0; second < seconds; second += 1) {
    const now_epochMs = begin_epochMs + second * 1000;
    if (speaksAt_s(second)) pressure = { at_epochMs: now_epochMs, value: 9.9 };
    const step = hearing(heard, rows.at(-1)?.at_epochMs, {
      now_epochMs,
      now_monotonicMs: second * 1000,
      valves: "closed",
      pressure,
      temperature: undefined,
    });
    heard = step.heard;
    rows.push(...step.rows);
  }
  return rows;
}

const secondsOfPressures = (rows: readonly SupplyReading[]): readonly number[] =>
  rows
    .filter(({ pressureGauge_bar }) => pressureGauge_bar !== undefined)
    .map(({ at_epochMs }) => (at_epochMs - begin_epochMs) / 1000);

it("a sensor's first word after a start counts at once, and from then on the mean of each ten minutes", () => {
  const rows = listen(1300, (second) => second >= 40 && second % 10 === 0);
  expect(secondsOfPressures(rows)).toEqual([40, 640, 1240]);
});

it("so does its first word after a silence that was longer than the ten minutes", () => {
  const silence_s = 2 * (rowEvery_ms / 1000);
  const rows = listen(2100, (second) => second % 10 === 0 && (second < 300 || second > 300 + silence_s + 45));
  expect(secondsOfPressures(rows)).toEqual([0, 600, 1550]);
});
