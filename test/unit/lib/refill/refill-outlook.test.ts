import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import type { FreshCharge, RefillRequest } from "../../../../lib/refill/refill-option.js";
import { refillOutlook } from "../../../../lib/refill/refill-outlook.js";
import { refillSaid } from "../../../../lib/refill/refill-sentences.js";
import { wallClockAt, weekdays, type Weekday } from "../../../../lib/schedule/civil-time.js";
import { createDosingCalendar } from "../../../../lib/schedule/dosing-calendar.js";
import type { DateOff } from "../../../../lib/schedule/dosing-windows.js";
import { plainText } from "../../../../lib/told/plain-text.js";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";

const zone = "Europe/Berlin";
const refillSentences = (...[outlook, request]: Parameters<typeof refillSaid>): readonly string[] =>
  refillSaid(outlook, request).map((sentence) => plainText(sentence, zone));
const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const at = (text: string): number => Date.parse(text);

const water: FreshCharge = { closedWith: "water", ready: { value_h: 2.5, low_h: 1.25, high_h: 5 } };
const ice: FreshCharge = { closedWith: "ice", ready: { value_h: 23, low_h: 20, high_h: 26 } };

function calendar(days: readonly Weekday[] = weekdays, datesOff: readonly DateOff[] = []) {
  const photoperiods = [{ lightsOn: "10:00", lightsOff: "19:00", days }];
  return createDosingCalendar([{ photoperiods, lead_min: 0, earlyClose_min: 0, datesOff }], zone);
}

/** Wednesday 1 July 2026, 10:00; gas from 10:00 to 19:00; the charge ends on Monday 13 July at 13:00, and that is sure. */
const sure: RefillRequest = {
  now_epochMs: at("2026-07-01T10:00+02:00"),
  timeZone: zone,
  calendars: [calendar()],
  runOut: {
    low80_epochMs: at("2026-07-13T13:00+02:00"),
    median_epochMs: at("2026-07-13T13:00+02:00"),
    high80_epochMs: at("2026-07-13T13:00+02:00"),
  },
  deliverable: { value_g: 22, low80_g: 20, high80_g: 24 },
  habits: { days: ["wed", "sat", "sun"], from: "18:00", until: "21:30", handling_min: 45 },
  away: [],
  fresh: [water, ice],
  acceptedLoss_ratio: 0.1,
  hasSpareVessel: false,
};

const unsure: RefillRequest = {
  ...sure,
  runOut: {
    low80_epochMs: at("2026-07-10T15:00+02:00"),
    median_epochMs: at("2026-07-13T13:00+02:00"),
    high80_epochMs: at("2026-07-17T16:00+02:00"),
  },
};

const told = (at_epochMs: number | undefined): string | undefined => {
  if (at_epochMs === undefined) return undefined;
  const { weekday, date, timeOfDay } = wallClockAt(at_epochMs, zone);
  return `${weekday} ${date} ${timeOfDay.slice(0, 5)}`;
};

describe("the last sensible refill", () => {
  it("is, with water, the last evening before the end, begun when the day's gas is nearly done", () => {
    const [withWater] = refillOutlook(sure).fillings;
    // 30 min of 9 h are under the tenth that makes a day lost; 60 min are not.
    expect(told(withWater.lastSensible?.begins_epochMs)).toBe("sun 2026-07-12 18:30");
    expect(withWater).toMatchObject({ verdict: "wait", isBeyondOutlook: false });
    expect(withWater.lastSensible).toMatchObject({ lossChance_ratio: 0, expectedLost_days: 0, lostDays: [] });
    expect(told(withWater.latestPossible?.begins_epochMs)).toBe("sun 2026-07-12 18:30");
  });

  it("costs a day with ice where gas flows daily and there is one vessel", () => {
    const [, withIce] = refillOutlook(sure).fillings;
    expect(withIce).toMatchObject({ verdict: "costs-days", lastSensible: undefined });
    expect(withIce?.leastLoss).toMatchObject({
      date: "2026-07-12",
      lossChance_ratio: 1,
      expectedLost_days: 1,
    });
    expect(withIce?.leastLoss?.lostDays).toEqual([{ date: "2026-07-13", chance_ratio: 1 }]);
  });

  it("is waited for with ice though the end is not sure: each refill costs its day, an early one the gas as well", () => {
    const [, withIce] = refillOutlook(unsure).fillings;
    expect(withIce?.verdict).toBe("costs-days");
    // The very next evening has a hair less to lose, and throws a week of gas away.
    expect(withIce?.next?.date).toBe("2026-07-01");
    expect(withIce?.next?.expectedLost_days).toBeLessThan(withIce?.leastLoss?.expectedLost_days ?? 0);
    expect(["2026-07-08", "2026-07-11"]).toContain(withIce?.leastLoss?.date);
  });

  it("is not moved up with ice for a night that is an hour longer", () => {
    // On the evening before the clocks go back ice has an hour more until the lights, and may just be ready.
    const longNight = {
      ...unsure,
      now_epochMs: at("2026-10-24T10:00+02:00"),
      runOut: {
        low80_epochMs: at("2026-11-05T15:00+01:00"),
        median_epochMs: at("2026-11-08T13:00+01:00"),
        high80_epochMs: at("2026-11-11T16:00+01:00"),
      },
      fresh: [{ ...ice, ready: { value_h: 14.4, low_h: 14, high_h: 15 } }] as const,
    };
    const [withIce] = refillOutlook(longNight).fillings;
    expect(withIce.next?.date).toBe("2026-10-24");
    expect(withIce.next?.expectedLost_days).toBeLessThan(0.9);
    expect(withIce.leastLoss?.date).not.toBe("2026-10-24");
  });

  it("is, with ice, a day before a day without gas", () => {
    const outlook = refillOutlook({
      ...sure,
      calendars: [calendar(["mon", "tue", "wed", "thu", "fri", "sat"])],
    });
    const [withWater, withIce] = outlook.fillings;
    expect(told(withIce?.lastSensible?.begins_epochMs)).toBe("sat 2026-07-11 18:30");
    expect(told(withIce?.lastSensible?.ready.median_epochMs)).toBe("sun 2026-07-12 18:15");
    expect(withWater.lastSensible?.date).toBe("2026-07-12");
  });

  it("is, with a second vessel, early enough for somebody to exchange them", () => {
    const [withWater, withIce] = refillOutlook({ ...sure, hasSpareVessel: true }).fillings;
    // Closed on Saturday, exchanged on Sunday; closed on Sunday there is nobody before Wednesday. Water is ready within
    // the evening only if it settles fast.
    expect(withIce?.lastSensible?.date).toBe("2026-07-11");
    expect(withWater.lastSensible?.date).toBe("2026-07-11");
    expect(withIce?.lastSensible?.unused.value_g).toBe(0);
  });

  it("is the next opportunity when there is no later one", () => {
    const [withWater] = refillOutlook({ ...sure, now_epochMs: at("2026-07-12T12:00+02:00") }).fillings;
    expect(withWater.verdict).toBe("refill-next");
    expect(withWater.waitingSaves_g).toBe(0);
  });

  it.each([
    { acceptedLoss_ratio: 0.01, date: "2026-07-05" },
    { acceptedLoss_ratio: 0.1, date: "2026-07-08" },
    { acceptedLoss_ratio: 0.45, date: "2026-07-12" },
  ])("is later for who accepts more: $acceptedLoss_ratio", ({ acceptedLoss_ratio, date }) => {
    const [withWater] = refillOutlook({ ...unsure, acceptedLoss_ratio }).fillings;
    expect(withWater.lastSensible?.date).toBe(date);
    expect(withWater.lastSensible?.lossChance_ratio).toBeLessThanOrEqual(acceptedLoss_ratio);
  });

  it("is not bound by a spell without dosing after the end", () => {
    const [withWater] = refillOutlook({
      ...sure,
      calendars: [calendar(weekdays, [{ from: "2026-07-14", to: "2026-07-24" }])],
      runOut: {
        low80_epochMs: at("2026-07-13T19:00+02:00"),
        median_epochMs: at("2026-07-13T19:00+02:00"),
        high80_epochMs: at("2026-07-13T19:00+02:00"),
      },
    }).fillings;
    expect(withWater.lastSensible?.date).toBe("2026-07-22");
    expect(withWater.lastSensible?.unused.value_g).toBe(0);
  });

  it("is past for a charge that is spent: the next opportunity costs least", () => {
    const ended_epochMs = at("2026-06-30T15:00+02:00");
    const { fillings, daysLeft } = refillOutlook({
      ...sure,
      runOut: { low80_epochMs: ended_epochMs, median_epochMs: ended_epochMs, high80_epochMs: ended_epochMs },
      deliverable: { value_g: 0, low80_g: 0, high80_g: 1 },
    });
    expect(daysLeft).toEqual({ median: 0, low80: 0, high80: 0, firstShort: "2026-07-01" });
    expect(fillings[0]).toMatchObject({ verdict: "costs-days", leastLoss: { date: "2026-07-01" } });
    expect(fillings[0].leastLoss?.lostDays).toEqual([{ date: "2026-07-01", chance_ratio: 1 }]);
  });

  it("does not exist where nobody is ever there", () => {
    const outlook = refillOutlook({ ...sure, away: [{ from: "2026-06-01", to: "2027-06-01" }] });
    expect(outlook.fillings[0].verdict).toBe("no-opportunity");
    expect(refillSentences(outlook, sure).join(" ")).toContain("Nobody is there to refill");
  });

  it("is told as after the clock has gone forward", () => {
    const [withWater] = refillOutlook({
      ...sure,
      now_epochMs: at("2026-03-25T10:00+01:00"),
      runOut: {
        low80_epochMs: at("2026-03-30T13:00+02:00"),
        median_epochMs: at("2026-03-30T13:00+02:00"),
        high80_epochMs: at("2026-03-30T13:00+02:00"),
      },
    }).fillings;
    expect(withWater.lastSensible?.begins_epochMs).toBe(at("2026-03-29T18:30+02:00"));
  });
});

describe("what a refill wastes", () => {
  it("is what is left in proportion to the open time", () => {
    const { next, lastSensible } = refillOutlook(sure).fillings[0];
    // 1 July 10:00 to 13 July 13:00 are 12 x 9 + 3 = 111 h; until 1 July 18:30 8.5 h go by, until 12 July 18:30 107.5 h.
    expect(next?.unused.value_g).toBeCloseTo((22 * (111 - 8.5)) / 111, 1);
    expect(lastSensible?.unused.value_g).toBeCloseTo((22 * 3.5) / 111, 1);
  });

  it("decides whether waiting is worth it", () => {
    expect(refillOutlook(sure).fillings[0]).toMatchObject({ isWorthWaiting: true });
    const nearly = { ...sure, habits: { ...sure.habits, days: ["sat", "sun"] as const } };
    const saturday = refillOutlook({ ...nearly, now_epochMs: at("2026-07-11T10:00+02:00") }).fillings[0];
    expect(saturday.verdict).toBe("wait");
    expect(saturday.waitingSaves_g).toBeCloseTo((22 * 9) / 21, 1);
  });
});

describe("the chance of losing a day", () => {
  it.each(["2026-07-08", "2026-07-11", "2026-07-12", "2026-07-15"])(
    "agrees with drawn lots for %s",
    (date) => {
      const request: RefillRequest = {
        ...unsure,
        habits: { ...unsure.habits, days: [wallClockAt(at(`${date}T12:00+02:00`), zone).weekday] },
        away: [{ from: "2026-07-01", to: dayBefore(date) }],
      };
      const found = refillOutlook(request).fillings[0].next;
      expect(found?.date).toBe(date);
      if (found === undefined) return;
      const drawn = drawnLossChance(request, found.begins_epochMs, 4000);
      // Three standard deviations of 4000 lots, and a hundredth for the fixed draws.
      expect(Math.abs(found.lossChance_ratio - drawn)).toBeLessThan(0.01 + 3 * Math.sqrt(0.25 / 4000));
    },
  );
});

function dayBefore(date: string): string {
  return new Date(at(`${date}T12:00Z`) - day_ms).toISOString().slice(0, 10);
}

/** By brute force: lots for run-out and ready time, and every five minutes looked at whether gas is asked for and missing. */
function drawnLossChance(request: RefillRequest, begins_epochMs: number, lots: number): number {
  const random = createRandomSource(7);
  const normal = (): number => drawNormal(random);
  const step_ms = 300_000;
  const steps = (30 * day_ms) / step_ms;
  const open: number[] = [];
  const dates: string[] = [];
  for (let k = 0; k < steps; k += 1) {
    const middle_epochMs = request.now_epochMs + (k + 0.5) * step_ms;
    open.push(request.calendars[0]?.stateAt(middle_epochMs).kind === "open" ? 1 : 0);
    dates.push(new Date(middle_epochMs + 2 * hour_ms).toISOString().slice(0, 10));
  }
  const openUntil = (at_epochMs: number): number =>
    open
      .slice(0, Math.round((at_epochMs - request.now_epochMs) / step_ms))
      .reduce((sum, one) => sum + one, 0);
  const median = openUntil(request.runOut.median_epochMs);
  const down = (median - openUntil(request.runOut.low80_epochMs)) / 1.2816;
  const up = (openUntil(request.runOut.high80_epochMs) - median) / 1.2816;
  const begins = Math.round((begins_epochMs - request.now_epochMs) / step_ms);
  const { value_h, high_h } = request.fresh[0].ready;
  let lost = 0;
  for (let lot = 0; lot < lots; lot += 1) {
    const z = normal();
    let left = median + z * (z < 0 ? down : up);
    const ready =
      begins + (0.75 * hour_ms + value_h * (high_h / value_h) ** (normal() / 1.96) * hour_ms) / step_ms;
    const missed = new Map<string, number>();
    for (let k = 0; k < ready; k += 1) {
      if (open[k] !== 1) continue;
      left -= 1;
      if (left < 0 || k >= begins) missed.set(dates[k]!, (missed.get(dates[k]!) ?? 0) + 1);
    }
    if ([...missed.values()].some((count) => count > 0.1 * 9 * 12)) lost += 1;
  }
  return lost / lots;
}

describe("an absence in which the charge ends", () => {
  const away = [{ from: "2026-07-09", to: "2026-07-19" }];
  const fresh: FreshCharge = { ...water, deliverable_g: 30 };

  it("names the days that are lost, and the refill before leaving", () => {
    const { absence } = refillOutlook({ ...sure, away, fresh: [fresh] });
    expect(absence).toMatchObject({ from: "2026-07-09", to: "2026-07-19" });
    expect(told(absence?.before?.begins_epochMs)).toBe("wed 2026-07-08 18:30");
    expect(absence?.after?.date).toBe("2026-07-22");
    expect(absence?.after?.lostDays.map(({ date }) => date)).toEqual(
      ["13", "14", "15", "16", "17", "18", "19", "20", "21", "22"].map((day) => `2026-07-${day}`),
    );
    expect(absence?.freshLasts).toBe(true);
  });

  it("says when even a fresh charge ends before the return", () => {
    const outlook = refillOutlook({ ...sure, away, fresh: [{ ...water, deliverable_g: 12 }] });
    expect(outlook.absence?.freshLasts).toBe(false);
    expect(refillSentences(outlook, sure).join(" ")).toContain(
      "even a fresh charge then ends before the return",
    );
  });

  it("says by how much less dose the charge lasts until the return", () => {
    const { absence } = refillOutlook({ ...sure, away, fresh: [fresh] });
    // 111 h of gas must reach to 22 July less a tenth of a day: 21 days of 9 h and 8.1 to 8.5 h.
    const needed = 100 * (1 - 111 / (21 * 9 + 8.1));
    expect(absence?.doseReduction_percent).toBeGreaterThanOrEqual(needed - 0.3);
    expect(absence?.doseReduction_percent).toBeLessThanOrEqual(needed + 1.5);
  });

  it("knows no smaller dose where ice itself costs the day", () => {
    const outlook = refillOutlook({ ...sure, away, fresh: [ice, water] });
    expect(outlook.absence?.doseReduction_percent).toBeUndefined();
    const text = refillSentences(outlook, sure).join("\n");
    expect(text).toContain("No smaller dose stretches this charge");
    expect(text).toContain("Or fill with water in place of ice: Wednesday 2026-07-08 18:30");
  });

  it("is no matter when the charge outlasts it", () => {
    const early = [{ from: "2026-07-03", to: "2026-07-06" }];
    expect(refillOutlook({ ...sure, away: early }).absence).toBeUndefined();
  });

  it("leaves nothing before it for who is away already", () => {
    const outlook = refillOutlook({ ...sure, away: [{ from: "2026-06-28", to: "2026-07-19" }] });
    expect(outlook.fillings[0].verdict).toBe("costs-days");
    expect(outlook.absence?.before).toBeUndefined();
    expect(refillSentences(outlook, sure).join("\n")).toContain("no opportunity to refill before leaving");
  });
});

describe("the sentences", () => {
  it("tells what is wasted in grams as a person weighs them", () => {
    const span: RefillRequest = {
      ...unsure,
      deliverable: { value_g: 22, low80_g: 20 / 3, high80_g: 100 / 3 },
    };
    const text = refillSentences(refillOutlook(span), span).join("\n");
    expect(text).toContain("are wasted (");
    expect(text).not.toMatch(/\d\.\d\d/);
  });

  it("tell days left, day, hour, waste and both fillings", () => {
    const text = refillSentences(refillOutlook(unsure), unsure).join("\n");
    expect(text).toContain("Gas is left for 12 dosing days (8 times in 10 between 9 and 16)");
    expect(text).toContain("With water the last sensible refill is Wednesday 2026-07-08 18:30");
    expect(text).toMatch(/The latest possible one is Sunday 2026-07-12 18:30, with a chance of \d\d %/);
    expect(text).toContain("With ice no opportunity keeps every dosing day: at best about 1 dosing day lost");
  });
});

it.each([0, 0.6, Number.NaN])("refuses an accepted chance of %d", (acceptedLoss_ratio) => {
  expect(() => refillOutlook({ ...sure, acceptedLoss_ratio })).toThrow(OutOfValidRangeError);
});
