import { describe, expect, it } from "vitest";
import { createRandomSource, drawNormal } from "../../../../lib/simulation/random-source.js";
import {
  co2LimitProblems,
  co2LimitsProvenance,
  defaultCo2Limits,
  stepCo2Band,
  stepShownBand,
  type Co2Band,
  type Co2BandState,
  type Co2Limits,
  type ShownBandState,
} from "../../../../lib/tank/co2-bands.js";
import type { RateOfRise } from "../../../../lib/tank/rate-of-rise.js";

const minute_ms = 60_000;
const rising = (low: number, central: number): RateOfRise => ({
  rate_mgPerLPer30Min: central,
  rateLow80_mgPerLPer30Min: low,
  rateHigh80_mgPerLPer30Min: 2 * central - low,
  span_min: 30,
  endAboveLine_mgPerL: 0,
});
const estimateOf = (co2_mgPerL: number, factor = 1.3): { co2_mgPerL: number; co2High80_mgPerL: number } => ({
  co2_mgPerL,
  co2High80_mgPerL: factor * co2_mgPerL,
});

/** One estimate a minute, from the first minute on; the band after each. */
function bandsOver(
  values: readonly (number | undefined)[],
  limits: Co2Limits = defaultCo2Limits,
): readonly Co2Band[] {
  let state: Co2BandState | undefined;
  return values.map((value, minute) => {
    const step = stepCo2Band(
      state,
      {
        estimate: value === undefined ? undefined : estimateOf(value),
        rise: undefined,
        now_monotonicMs: minute * minute_ms,
      },
      limits,
    );
    state = step.state;
    return step.band;
  });
}
const repeated = (value: number, minutes: number): readonly number[] =>
  Array.from({ length: minutes }, () => value);

describe("the band of a first estimate", () => {
  it.each<[number, number, Co2Band, string]>([
    [8, 1.3, "below target", "plants are short of it"],
    [22, 1.3, "in target", "where it should be"],
    [30, 1.43, "in target", "30 mg/L at a KH of 2: the upper end of 43 raises nothing"],
    [33, 1.3, "caution", "above the target"],
    [43, 1.2, "alarm", "by the central value"],
    [39, 1.5, "caution", "an upper end of 58 neither alarms nor closes"],
    [41, 1.5, "close", "by the upper end, 61"],
    [25, 2.6, "close", "so uncertain that it may be 65: unknown means closed"],
  ])("%d mg/L with an upper end %d times it is %s (%s)", (co2_mgPerL, factor, band) => {
    const step = stepCo2Band(undefined, {
      estimate: estimateOf(co2_mgPerL, factor),
      rise: undefined,
      now_monotonicMs: 0,
    });
    expect(step.band).toBe(band);
    expect(step.reasons.length > 0).toBe(["caution", "alarm", "close"].includes(band));
  });

  it("is that of the highest methods where they disagree, and says so", () => {
    const estimate = { co2_mgPerL: 20, co2High80_mgPerL: 55, highestCentre_mgPerL: 47 };
    const step = stepCo2Band(undefined, { estimate, rise: undefined, now_monotonicMs: 0 });
    expect(step.band).toBe("alarm");
    expect(step.reasons.join(" ")).toContain("by those that read highest CO2 is about 47 mg/L");
  });

  it("is not known without an estimate, and remembers nothing", () => {
    const step = stepCo2Band(undefined, { estimate: undefined, rise: undefined, now_monotonicMs: 0 });
    expect(step).toEqual({ state: undefined, band: "not known", reasons: [] });
  });

  it("says its numbers with two digits", () => {
    const { reasons } = stepCo2Band(undefined, {
      estimate: { co2_mgPerL: 43.278, co2High80_mgPerL: 51.9 },
      rise: undefined,
      now_monotonicMs: 0,
    });
    expect(reasons.join(" ")).toContain("about 43 mg/L");
  });
});

describe("a band over time", () => {
  it("is entered after its delay: 5 minutes for caution, 2 for the alarm, half a minute for closing", () => {
    expect(bandsOver([22, ...repeated(33, 7)]).indexOf("caution")).toBe(6);
    expect(bandsOver([22, ...repeated(45, 7)]).indexOf("alarm")).toBe(3);
    expect(bandsOver([22, ...repeated(50, 7)]).indexOf("close")).toBe(2);
  });

  it("is left after ten minutes below the deadband, not before", () => {
    const bands = bandsOver([45, ...repeated(37, 30)]);
    expect(bands.every((band) => band === "alarm")).toBe(true);
    const left = bandsOver([45, ...repeated(35, 30)]);
    expect(left.indexOf("caution")).toBe(11);
  });

  it("is left after a minute where CO2 is far below: a tank that was re-armed is not called closed any more", () => {
    const bands = bandsOver([60, ...repeated(5, 5)]);
    expect(bands.slice(0, 3)).toEqual(["close", "close", "below target"]);
  });

  it("does not count a delay that is broken off", () => {
    expect(bandsOver([22, 45, 45, 22, 45, 45, 22, 45, 45]).every((band) => band === "in target")).toBe(true);
  });

  it("is not known while the estimate is, and goes on where it was, its delays begun anew", () => {
    const bands = bandsOver([45, undefined, 45, 35, undefined, ...repeated(35, 12)]);
    expect(bands.slice(0, 5)).toEqual(["alarm", "not known", "alarm", "alarm", "not known"]);
    expect(bands.indexOf("caution")).toBe(15);
  });

  it.each([
    [30, "the upper end of the target"],
    [40, "the alarm limit"],
  ])("does not flicker at %d mg/L under a probe's noise (%s)", (co2_mgPerL) => {
    const random = createRandomSource(20_260_330);
    const day = Array.from({ length: 1440 }, () => co2_mgPerL * 10 ** (0.02 * drawNormal(random)));
    const bands = bandsOver(day);
    expect(bands.filter((band, index) => index > 0 && band !== bands[index - 1]).length).toBeLessThanOrEqual(
      1,
    );
  });

  it("of a slow rise and fall passes through every band in order, and back", () => {
    const up = Array.from({ length: 240 }, (_, minute) => 5 + minute / 4);
    const passed = bandsOver([...up, ...[...up].reverse(), ...repeated(5, 30)]);
    expect(passed.filter((band, index) => band !== passed[index - 1])).toEqual([
      "below target",
      "in target",
      "caution",
      "alarm",
      "close",
      "alarm",
      "caution",
      "in target",
      "below target",
    ]);
  });
});

describe("a fast rise", () => {
  const closing = (co2_mgPerL: number, rise: RateOfRise | undefined): Co2Band =>
    stepCo2Band(undefined, { estimate: estimateOf(co2_mgPerL), rise, now_monotonicMs: 0 }).band;

  it.each<[number, RateOfRise | undefined, Co2Band, string]>([
    [33, rising(12, 16), "close", "surely above 10 in half an hour, above the target"],
    [33, rising(7, 14), "caution", "perhaps above: a probe's noise may not trip it"],
    [22, rising(15, 20), "in target", "the rise of the morning, below the target's end"],
    [33, undefined, "caution", "no rate known"],
    [33, rising(-20, -15), "caution", "a fall"],
  ])("at %d mg/L by %j makes it %s (%s)", (co2_mgPerL, rise, band) => {
    expect(closing(co2_mgPerL, rise)).toBe(band);
  });

  it("is named as the reason", () => {
    const { reasons } = stepCo2Band(undefined, {
      estimate: estimateOf(33),
      rise: rising(12, 16),
      now_monotonicMs: 0,
    });
    expect(reasons[0]).toContain("rises by 16 mg/L in 30 minutes");
  });
});

describe("a jump", () => {
  it.each([
    [33, 11, "close"],
    [33, 9, "caution"],
    [29, 20, "in target"],
  ])("at %d mg/L by surely %d makes it %s", (co2_mgPerL, risenLow80_mgPerL, band) => {
    const jump = { risen_mgPerL: 14.2, risenLow80_mgPerL, within_min: 10 };
    const input = { estimate: estimateOf(co2_mgPerL), rise: rising(0, 2), jump, now_monotonicMs: 0 };
    const step = stepCo2Band(undefined, input);
    expect(step.band).toBe(band);
    expect(step.reasons[0]?.startsWith("CO2 went up by 14 mg/L within 10 minutes") ?? false).toBe(
      band === "close",
    );
  });
});

describe("a person's own limits", () => {
  it.each<[Partial<Co2Limits>, number, string]>([
    [{}, 0, "the defaults"],
    [
      { co2TargetLow_mgPerL: 10, co2TargetHigh_mgPerL: 20, co2Alarm_mgPerL: 25, co2Close_mgPerL: 35 },
      0,
      "gentler",
    ],
    [{ co2Alarm_mgPerL: 30 }, 1, "an alarm at the target's end"],
    [{ co2Close_mgPerL: 35 }, 1, "closing below the alarm"],
    [{ co2TargetLow_mgPerL: 35 }, 1, "a target upside down"],
    [{ co2Close_mgPerL: 150 }, 1, "closing where trout die"],
    [{ co2TargetLow_mgPerL: 0 }, 1, "no target"],
    [{ co2Alarm_mgPerL: Number.NaN }, 3, "no number: outside, and in no order with its neighbours"],
    [{ co2Rise_mgPerLPer30Min: 0 }, 1, "no rise allowed at all"],
    [{ co2Rise_mgPerLPer30Min: Number.NaN }, 1, "a rise that is no number"],
  ])("%j have %d problems (%s)", (own, count) => {
    expect(co2LimitProblems({ ...defaultCo2Limits, ...own })).toHaveLength(count);
  });

  // Treanor et al. (2020), J. Fish Wildl. Manage. 11, 463-475: first deaths in 24 hours at 150 (trout) and 225 mg/L (carp, catfish).
  it("by default close at less than half of what killed the first trout, and say that they are judgement", () => {
    expect(defaultCo2Limits.co2Close_mgPerL).toBeLessThan(150 / 2);
    expect(co2LimitsProvenance.join(" ")).toContain("judgement, not published");
    expect(co2LimitsProvenance.join(" ")).toContain("no published limit for dwarf shrimp");
  });
});

describe("the band that is shown", () => {
  /** A value a second from the second on; the shown band after each. */
  function shownOver(values: readonly number[]): readonly Co2Band[] {
    let state: ShownBandState | undefined;
    return values.map((value, second) => {
      const now_monotonicMs = second * 1000;
      const step = stepShownBand(state, { estimate: estimateOf(value), rise: undefined, now_monotonicMs });
      state = step.state;
      expect(step.reasons.length > 0).toBe(["caution", "alarm", "close"].includes(step.band));
      return step.band;
    });
  }

  it("never stands below that of the present value, whatever the alarm still waits for", () => {
    expect(shownOver([22, 170])).toEqual(["in target", "close"]);
    expect(shownOver([22, 33])).toEqual(["in target", "caution"]);
    expect(shownOver([22, 43])[1]).toBe("alarm");
  });

  it("leaves the alarm its delay", () => {
    let state: ShownBandState | undefined;
    [22, 43, 43].forEach((value, second) => {
      const input = { estimate: estimateOf(value), rise: undefined, now_monotonicMs: second * 1000 };
      state = stepShownBand(state, input).state;
    });
    expect(state?.held?.alarm.isAbove).toBe(false);
    expect(state?.present?.alarm.isAbove).toBe(true);
  });

  it("goes down with a value that only leapt up for a moment", () => {
    const bands = shownOver([22, 50, ...repeated(22, 70)]);
    expect(bands[1]).toBe("close");
    expect(bands.at(-1)).toBe("in target");
  });

  it("is as high as what the alarm stands by", () => {
    const bands = shownOver([45, ...repeated(35, 120)]);
    expect(bands.at(-1)).toBe("alarm");
  });

  it("does not flicker at the end of the target under a probe's noise", () => {
    const random = createRandomSource(20_261_201);
    let state: ShownBandState | undefined;
    const bands = Array.from({ length: 1440 }, (_, minute) => {
      const estimate = estimateOf(30 * 10 ** (0.02 * drawNormal(random)));
      const step = stepShownBand(state, { estimate, rise: undefined, now_monotonicMs: minute * minute_ms });
      state = step.state;
      return step.band;
    });
    const changes = bands.filter((band, index) => index > 0 && band !== bands[index - 1]);
    expect(changes.length).toBeLessThanOrEqual(4);
  });
});
