import { expect, it } from "vitest";
import { createHousekeeping } from "../../../../daemon/scheduler/housekeeping.js";
import { CollectingLogger } from "../../../support/collecting-logger.js";
import { FakeClock } from "../../../support/fake-clock.js";

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const begin_epochMs = Date.parse("2026-05-04T10:17:00Z");

function bench(latestKnown_epochMs: number | undefined) {
  const clock = new FakeClock(begin_epochMs);
  const asked: number[] = [];
  const site = { isPlausible: true };
  const run = createHousekeeping({
    store: {
      latestKnown_epochMs: () => latestKnown_epochMs,
      runHousekeeping: (now_epochMs) => {
        asked.push(now_epochMs);
        return Promise.resolve({ kind: "done", slices: 0, longestSlice_ms: 0, deletedRows: 0 });
      },
    },
    clock,
    logger: new CollectingLogger(),
    isClockPlausible: () => site.isPlausible,
  });
  return { clock, asked, run, site };
}

it("ages the history by a day at most where a clock is years ahead for an hour, and goes on when it is right again", async () => {
  const { clock, asked, run } = bench(begin_epochMs - hour_ms);
  await run();
  clock.setCivilTime(Date.parse("2040-01-01T00:17:00Z"));
  await run();
  clock.setCivilTime(begin_epochMs + 2 * hour_ms);
  await run();
  expect(asked).toEqual([begin_epochMs, begin_epochMs + day_ms, begin_epochMs + 2 * hour_ms]);
});

it("ages nothing by a clock that is not believed", async () => {
  const { asked, run, site } = bench(begin_epochMs);
  site.isPlausible = false;
  await run();
  expect(asked).toEqual([]);
});

it("makes up for a house that stood empty for months, a day at each run", async () => {
  const { asked, run } = bench(begin_epochMs - 2.5 * day_ms);
  for (let hour = 0; hour < 4; hour += 1) await run();
  expect(asked.map((at) => (at - begin_epochMs) / day_ms)).toEqual([-1.5, -0.5, 0, 0]);
});
