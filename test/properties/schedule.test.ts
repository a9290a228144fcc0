import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { clockChangesTouching } from "../../lib/schedule/clock-change-check.js";
import { clockChanges, instantsOfWallClock, wallClockAt, weekdays } from "../../lib/schedule/civil-time.js";
import {
  acceptClock,
  createClockPlausibilityState,
  judgeClock,
  type Synchronisation,
} from "../../lib/schedule/clock-plausibility.js";
import { createDosingCalendar } from "../../lib/schedule/dosing-calendar.js";
import { dosingWindows, type DosingRule } from "../../lib/schedule/dosing-windows.js";
import { IntlWindowOracle, openMinutes } from "../support/intl-window-oracle.js";

const seed = 20260301;
const minute_ms = 60_000;
const day_ms = 86_400_000;

/** Spans around clock changes of the IANA time zone database, and one without. */
const spans = [
  { timeZone: "Europe/Berlin", from: "2026-03-26T00:00Z" },
  { timeZone: "Europe/Berlin", from: "2026-10-22T00:00Z" },
  { timeZone: "America/New_York", from: "2026-03-05T00:00Z" },
  { timeZone: "America/New_York", from: "2026-10-29T00:00Z" },
  { timeZone: "Australia/Lord_Howe", from: "2026-04-02T00:00Z" },
  { timeZone: "Australia/Lord_Howe", from: "2026-10-01T00:00Z" },
  { timeZone: "Pacific/Apia", from: "2011-12-27T00:00Z" },
  { timeZone: "Africa/Casablanca", from: "2026-02-12T00:00Z" },
  { timeZone: "Asia/Kathmandu", from: "2026-06-10T00:00Z" },
].map(({ timeZone, from }) => ({ timeZone, from_epochMs: Date.parse(from) }));
const span_days = 7;

/** Half of the times fall near the hours at which clocks change. */
const timeOfDay = fc
  .oneof(
    fc.integer({ min: 0, max: 1439 }),
    fc.integer({ min: 30, max: 240 }),
    fc.constantFrom(0, 120, 150, 180),
  )
  .map(
    (minute) => `${String(Math.floor(minute / 60)).padStart(2, "0")}:${String(minute % 60).padStart(2, "0")}`,
  );
const rule: fc.Arbitrary<DosingRule> = fc.record({
  photoperiods: fc.array(
    fc.record({
      lightsOn: timeOfDay,
      lightsOff: timeOfDay,
      days: fc.oneof(fc.constant(weekdays), fc.subarray([...weekdays])),
    }),
    { minLength: 1, maxLength: 3 },
  ),
  lead_min: fc.oneof(fc.constant(0), fc.integer({ min: 0, max: 240 })),
  earlyClose_min: fc.oneof(fc.constant(0), fc.integer({ min: 0, max: 240 })),
  datesOff: fc.array(
    fc.constantFrom("2026-03-28", "2026-03-29", "2026-10-25", { from: "2026-11-01", to: "2026-11-02" }),
    {
      maxLength: 1,
    },
  ),
});
const spanOfDays = fc.constantFrom(...spans);

describe("dosing windows", () => {
  it("agree minute by minute with the wall clock that Intl shows, for any rules around any clock change", () => {
    const oracles = new Map(
      spans.map((span) => [
        span,
        new IntlWindowOracle(span.timeZone, span.from_epochMs, span.from_epochMs + span_days * day_ms),
      ]),
    );
    fc.assert(
      fc.property(spanOfDays, fc.array(rule, { minLength: 1, maxLength: 2 }), (span, rules) => {
        const to_epochMs = span.from_epochMs + span_days * day_ms;
        const oracle = oracles.get(span)!;
        const calendar = createDosingCalendar(rules, span.timeZone);
        const ours = openMinutes(
          [calendar.windowsBetween(span.from_epochMs, to_epochMs)],
          span.from_epochMs,
          to_epochMs,
        );
        const theirs = openMinutes(
          rules.map((one) => oracle.rawWindows(one)),
          span.from_epochMs,
          to_epochMs,
        );
        const differs = theirs.findIndex((open, minute) => open !== ours[minute]);
        expect(
          differs === -1 ? "equal" : new Date(span.from_epochMs + differs * minute_ms).toISOString(),
        ).toBe("equal");
      }),
      { seed, numRuns: 400 },
    );
  });

  it("are sorted, apart from each other, not empty and inside the span", () => {
    fc.assert(
      fc.property(spanOfDays, rule, fc.integer({ min: 1, max: 4 * day_ms }), (span, one, length) => {
        const to_epochMs = span.from_epochMs + length;
        let last_epochMs = Number.NEGATIVE_INFINITY;
        for (const window of dosingWindows(one, span.timeZone, span.from_epochMs, to_epochMs)) {
          expect(window.opens_epochMs).toBeGreaterThan(last_epochMs);
          expect(window.closes_epochMs).toBeGreaterThan(window.opens_epochMs);
          expect(window.opens_epochMs).toBeGreaterThanOrEqual(span.from_epochMs);
          expect(window.closes_epochMs).toBeLessThanOrEqual(to_epochMs);
          last_epochMs = window.closes_epochMs;
        }
      }),
      { seed, numRuns: 200 },
    );
  });

  it("are the same whether a span is asked for whole or in two parts", () => {
    fc.assert(
      fc.property(spanOfDays, rule, fc.integer({ min: 0, max: span_days * day_ms }), (span, one, cut) => {
        const from_epochMs = span.from_epochMs;
        const cut_epochMs = from_epochMs + cut;
        const to_epochMs = from_epochMs + span_days * day_ms;
        const whole = dosingWindows(one, span.timeZone, from_epochMs, to_epochMs);
        const parts = [
          ...dosingWindows(one, span.timeZone, from_epochMs, cut_epochMs),
          ...dosingWindows(one, span.timeZone, cut_epochMs, to_epochMs),
        ];
        const joined = parts.flatMap((part, index) => {
          const next = parts[index + 1];
          if (parts[index - 1]?.closes_epochMs === part.opens_epochMs) return [];
          return next?.opens_epochMs === part.closes_epochMs
            ? [{ opens_epochMs: part.opens_epochMs, closes_epochMs: next.closes_epochMs }]
            : [part];
        });
        expect(joined).toEqual(whole);
      }),
      { seed, numRuns: 200 },
    );
  });

  it("never grow when the lead shrinks, the early closing grows or a tank is added", () => {
    fc.assert(
      fc.property(
        spanOfDays,
        rule,
        rule,
        fc.integer({ min: 0, max: span_days * 1440 }),
        (span, one, other, minute) => {
          const at_epochMs = span.from_epochMs + minute * minute_ms;
          const isOpen = (...rules: readonly DosingRule[]): boolean =>
            createDosingCalendar(rules, span.timeZone).stateAt(at_epochMs).kind === "open";
          const stricter = [
            isOpen({ ...one, lead_min: Math.floor(one.lead_min / 2) }),
            isOpen({ ...one, earlyClose_min: Math.min(240, one.earlyClose_min + 20) }),
            isOpen(one, other),
          ];
          if (stricter.includes(true)) expect(isOpen(one)).toBe(true);
        },
      ),
      { seed, numRuns: 200 },
    );
  });
});

describe("the dosing calendar", () => {
  it("gives the same answer in any order of calls as when asked for the first time", () => {
    const instants = fc.array(fc.integer({ min: -90 * 1440, max: 90 * 1440 }), {
      minLength: 2,
      maxLength: 40,
    });
    fc.assert(
      fc.property(
        spanOfDays,
        fc.array(rule, { minLength: 1, maxLength: 2 }),
        instants,
        (span, rules, minutes) => {
          const used = createDosingCalendar(rules, span.timeZone);
          for (const minute of minutes) {
            const at_epochMs = span.from_epochMs + minute * minute_ms;
            expect(used.stateAt(at_epochMs)).toEqual(
              createDosingCalendar(rules, span.timeZone).stateAt(at_epochMs),
            );
          }
        },
      ),
      { seed, numRuns: 60 },
    );
  });

  it("names the next change: nothing changes before it, and the state is the other one at it", () => {
    fc.assert(
      fc.property(spanOfDays, rule, fc.integer({ min: 0, max: span_days * 86_400 }), (span, one, second) => {
        const calendar = createDosingCalendar([one], span.timeZone);
        const at_epochMs = span.from_epochMs + second * 1000;
        const state = calendar.stateAt(at_epochMs);
        const horizon_epochMs = at_epochMs + 60 * day_ms;
        const change_epochMs = state.kind === "open" ? state.closes_epochMs : state.opens_epochMs;
        if (change_epochMs === undefined || change_epochMs === horizon_epochMs) return;
        expect(change_epochMs).toBeGreaterThan(at_epochMs);
        expect(calendar.stateAt(change_epochMs - 1).kind).toBe(state.kind);
        expect(calendar.stateAt(change_epochMs).kind).not.toBe(state.kind);
      }),
      { seed, numRuns: 200 },
    );
  });
});

describe("civil time", () => {
  it("comes back from the wall clock to the instant, or to one of two", () => {
    fc.assert(
      fc.property(spanOfDays, fc.integer({ min: 0, max: span_days * 1440 - 1 }), (span, minute) => {
        const at_epochMs = span.from_epochMs + minute * minute_ms;
        const { date, timeOfDay: time } = wallClockAt(at_epochMs, span.timeZone);
        const minuteOfTheDay = Number(time.slice(0, 2)) * 60 + Number(time.slice(3, 5));
        const back = instantsOfWallClock(date, minuteOfTheDay, span.timeZone);
        const candidates = {
          once: () => (back.kind === "once" ? [back.at_epochMs] : []),
          twice: () => (back.kind === "twice" ? [back.earlier_epochMs, back.later_epochMs] : []),
          never: () => [],
        }[back.kind]();
        expect(candidates).toContain(at_epochMs);
      }),
      { seed, numRuns: 500 },
    );
  });

  it("a window without a clock change within a day of it is never called touched", () => {
    fc.assert(
      fc.property(spanOfDays, rule, (span, one) => {
        const to_epochMs = span.from_epochMs + span_days * day_ms;
        for (const { window, change } of clockChangesTouching(
          one,
          span.timeZone,
          span.from_epochMs,
          to_epochMs,
        )) {
          expect(clockChanges(span.timeZone, span.from_epochMs, to_epochMs)).toContainEqual(change);
          if (window === undefined) continue;
          expect(window.opens_epochMs - 1440 * minute_ms).toBeLessThanOrEqual(change.at_epochMs);
          expect(window.closes_epochMs + 1440 * minute_ms).toBeGreaterThanOrEqual(change.at_epochMs);
        }
      }),
      { seed, numRuns: 200 },
    );
  });
});

describe("the plausibility of the clock", () => {
  const step = fc.record({
    elapsed_ms: fc.integer({ min: 1000, max: 180_000 }),
    jump_ms: fc.oneof(
      { weight: 6, arbitrary: fc.constant(0) },
      { weight: 1, arbitrary: fc.integer({ min: -4_000_000, max: 4_000_000 }) },
    ),
    synchronisation: fc.constantFrom<Synchronisation>(
      "unknown",
      "unknown",
      "unknown",
      "not synchronised",
      "synchronised",
    ),
    isAccepted: fc.integer({ min: 0, max: 9 }).map((one) => one === 0),
  });

  it("is never granted within ten minutes of a jump without synchronisation or a person", () => {
    const notBefore_epochMs = Date.parse("2026-01-01T00:00Z");
    fc.assert(
      fc.property(fc.array(step, { minLength: 1, maxLength: 60 }), (steps) => {
        let now_epochMs = notBefore_epochMs + 30 * day_ms;
        let monotonic_ms = 0;
        let state = judgeClock(createClockPlausibilityState(), {
          now_epochMs,
          monotonic_ms,
          notBefore_epochMs,
          synchronisation: "unknown",
        }).state;
        let excused_ms = 0;
        let jumped_ms = Number.NEGATIVE_INFINITY;
        for (const { elapsed_ms, jump_ms, synchronisation, isAccepted } of steps) {
          monotonic_ms += elapsed_ms;
          now_epochMs += elapsed_ms + jump_ms;
          const judged = judgeClock(state, { now_epochMs, monotonic_ms, notBefore_epochMs, synchronisation });
          state = judged.state;
          // Twice the limit of a jump and more: one even where earlier steps the other way are not yet followed.
          if (Math.abs(jump_ms) > 260_000) jumped_ms = monotonic_ms;
          if (synchronisation === "synchronised") excused_ms = monotonic_ms;
          if (monotonic_ms - jumped_ms < 600_000 && jumped_ms > excused_ms) {
            expect(judged.verdict.kind).toBe("implausible");
          }
          if (isAccepted) {
            state = acceptClock(state, { now_epochMs, monotonic_ms });
            excused_ms = monotonic_ms;
          }
        }
      }),
      { seed, numRuns: 300 },
    );
  });
});
