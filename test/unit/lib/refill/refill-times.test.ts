import { describe, expect, it } from "vitest";
import { OutOfValidRangeError, UnknownNameError } from "../../../../lib/errors.js";
import { refillOpportunities, type RefillHabits } from "../../../../lib/refill/refill-times.js";
import { weekdays } from "../../../../lib/schedule/civil-time.js";
import type { DateOff } from "../../../../lib/schedule/dosing-windows.js";

const zone = "Europe/Berlin";
const habits: RefillHabits = { days: ["wed", "sat"], from: "18:00", until: "21:00", handling_min: 60 };
const at = (text: string): number => Date.parse(text);

function found(
  own: Partial<RefillHabits>,
  from: string,
  to: string,
  away: readonly DateOff[] = [],
): readonly (readonly [string, string])[] {
  return refillOpportunities({ ...habits, ...own }, away, zone, {
    from_epochMs: at(from),
    to_epochMs: at(to),
  }).map(({ first_epochMs, last_epochMs }) => [
    new Date(first_epochMs).toISOString(),
    new Date(last_epochMs).toISOString(),
  ]);
}

describe("opportunities to refill", () => {
  it.each([
    {
      because: "Wednesday and Saturday evening, begun an hour before the end",
      own: {},
      span: ["2026-07-01T00:00+02:00", "2026-07-06T00:00+02:00"] as const,
      away: [],
      spans: [
        ["2026-07-01T16:00:00.000Z", "2026-07-01T18:00:00.000Z"],
        ["2026-07-04T16:00:00.000Z", "2026-07-04T18:00:00.000Z"],
      ],
    },
    {
      because: "an opportunity that has begun is cut at now",
      own: {},
      span: ["2026-07-01T19:30+02:00", "2026-07-02T00:00+02:00"] as const,
      away: [],
      spans: [["2026-07-01T17:30:00.000Z", "2026-07-01T18:00:00.000Z"]],
    },
    {
      because: "too late to be done in time is none",
      own: {},
      span: ["2026-07-01T20:01+02:00", "2026-07-02T00:00+02:00"] as const,
      away: [],
      spans: [],
    },
    {
      because: "nobody is home, both ends counted",
      own: { days: weekdays },
      span: ["2026-07-01T00:00+02:00", "2026-07-05T00:00+02:00"] as const,
      away: ["2026-07-01", { from: "2026-07-03", to: "2026-07-04" }],
      spans: [["2026-07-02T16:00:00.000Z", "2026-07-02T18:00:00.000Z"]],
    },
    {
      because: "an hour that does not exist in the night of 29 March leaves what follows",
      own: { days: ["sun"] as const, from: "02:30", until: "05:00" },
      span: ["2026-03-28T12:00+01:00", "2026-03-30T00:00+02:00"] as const,
      away: [],
      spans: [["2026-03-29T01:00:00.000Z", "2026-03-29T02:00:00.000Z"]],
    },
    {
      because: "an hour that comes twice on 25 October counts the second time",
      own: { days: ["sun"] as const, from: "02:30", until: "05:00" },
      span: ["2026-10-24T12:00+02:00", "2026-10-26T00:00+01:00"] as const,
      away: [],
      spans: [["2026-10-25T01:30:00.000Z", "2026-10-25T03:00:00.000Z"]],
    },
  ])("follow the clock on the wall: $because", ({ own, span, away, spans }) => {
    expect(found(own, span[0], span[1], away)).toEqual(spans);
  });

  it.each([
    { own: { until: "18:00" }, error: UnknownNameError, because: "no time at all" },
    { own: { from: "25:00" }, error: UnknownNameError, because: "no time of day" },
    { own: { handling_min: 0 }, error: OutOfValidRangeError, because: "a refill takes time" },
  ])("are refused: $because", ({ own, error }) => {
    expect(() => found(own, "2026-07-01T00:00+02:00", "2026-07-02T00:00+02:00")).toThrow(error);
  });

  it("are refused with an absence on a date that does not exist", () => {
    expect(() => found({}, "2026-07-01T00:00+02:00", "2026-07-02T00:00+02:00", ["2026-02-30"])).toThrow(
      UnknownNameError,
    );
  });
});
