import type { Co2Jump } from "./co2-jump.js";
import type { RateOfRise } from "./rate-of-rise.js";

/** Limits of a tank's free CO2 and of its rise. */
export interface Co2Limits {
  readonly co2TargetLow_mgPerL: number;
  /** Above it: caution. */
  readonly co2TargetHigh_mgPerL: number;
  /** Held against the central value. */
  readonly co2Alarm_mgPerL: number;
  /** Held against the upper end of the 80 % interval. */
  readonly co2Close_mgPerL: number;
  /** Counts above the target only: the rise of the morning is wanted. */
  readonly co2Rise_mgPerLPer30Min: number;
}

export const defaultCo2Limits: Co2Limits = {
  co2TargetLow_mgPerL: 15,
  co2TargetHigh_mgPerL: 30,
  co2Alarm_mgPerL: 40,
  co2Close_mgPerL: 60,
  co2Rise_mgPerLPer30Min: 10,
};

/** Where the default limits are from, for the person who sets their own. Deaths: [Treanor2020]; the half of growth from memory. */
export const co2LimitsProvenance: readonly string[] = [
  "These limits are judgement, not published figures. Your animals come first: lower them for any that breathe fast or gasp.",
  "Plants: growth is near its most at about 30 mg/L; half of it is reached at 4 to 9 mg/L.",
  "Fish: the lowest CO2 with deaths within 24 hours was 150 mg/L for trout and 225 mg/L for carp and catfish (a study of four species, 2020); young sea bream grew a little less at about 20 mg/L and died at 56.",
  "Shrimp: no published limit for dwarf shrimp was found.",
  "Low oxygen makes every CO2 harder to bear: hence the alarm far below these figures.",
];

const range_mgPerL = { minimum: 1, maximum: 100 };
const rangeOfRise_mgPerLPer30Min = { minimum: 2, maximum: 60 };

/** What is wrong with a person's own limits, a sentence each; none where they can be used. */
export function co2LimitProblems(limits: Co2Limits): readonly string[] {
  const { co2TargetLow_mgPerL: targetLow_mgPerL, co2TargetHigh_mgPerL: targetHigh_mgPerL } = limits;
  const { co2Alarm_mgPerL: alarm_mgPerL, co2Close_mgPerL: close_mgPerL } = limits;
  const named = [
    ["lower end of the target", targetLow_mgPerL],
    ["upper end of the target", targetHigh_mgPerL],
    ["alarm limit", alarm_mgPerL],
    ["closing limit", close_mgPerL],
  ] as const;
  const outside = named.flatMap(([name, value_mgPerL]) =>
    value_mgPerL >= range_mgPerL.minimum && value_mgPerL <= range_mgPerL.maximum
      ? []
      : [
          `The ${name} is ${String(value_mgPerL)} mg/L; allowed is ${String(range_mgPerL.minimum)} to ${String(range_mgPerL.maximum)}.`,
        ],
  );
  const disordered = named.flatMap(([name, value_mgPerL], index) => {
    const below = named[index - 1];
    return below === undefined || value_mgPerL > below[1]
      ? []
      : [
          `The ${name} (${String(value_mgPerL)} mg/L) must be above the ${below[0]} (${String(below[1])} mg/L).`,
        ];
  });
  const rise = limits.co2Rise_mgPerLPer30Min;
  const { minimum, maximum } = rangeOfRise_mgPerLPer30Min;
  return [
    ...outside,
    ...disordered,
    ...(rise >= minimum && rise <= maximum
      ? []
      : [
          `The limit of the rise is ${String(rise)} mg/L in 30 minutes; allowed is ${String(minimum)} to ${String(maximum)}.`,
        ]),
  ];
}

export type Co2Band = "below target" | "in target" | "caution" | "alarm" | "close" | "not known";

/** The steps between the bands, from below. */
const steps = ["target", "caution", "alarm", "close"] as const;
type Co2Step = (typeof steps)[number];
const bandAbove: Record<Co2Step, Co2Band> = {
  target: "in target",
  caution: "caution",
  alarm: "alarm",
  close: "close",
};

export interface BandTiming {
  /** A step is left again when the value is this share below its limit. */
  readonly deadband_ratio: number;
  readonly onDelay_s: Readonly<Record<Co2Step, number>>;
  readonly offDelay_s: number;
}

/** A tenth of CO2 is 0.04 pH, twice a probe's noise; a stir at the surface passes in minutes. Judgement. */
export const defaultBandTiming: BandTiming = {
  deadband_ratio: 0.1,
  onDelay_s: { target: 300, caution: 300, alarm: 120, close: 30 },
  offDelay_s: 600,
};

/** Less than half of a limit is no stir at the surface: its step is left after a minute. Judgement. */
const farUnder_ratio = 0.5;
const farUnderDelay_s = 60;

export interface StepState {
  readonly isAbove: boolean;
  /** Since when the value has asked for the other side, without a break. */
  readonly asksSince_monotonicMs: number | undefined;
}

export type Co2BandState = Readonly<Record<Co2Step, StepState>>;

export interface Co2BandInput {
  /** Undefined while nothing is known of the tank. */
  readonly estimate:
    | {
        readonly co2_mgPerL: number;
        readonly co2High80_mgPerL: number;
        /** Where the methods disagree, that of those which read highest; what the bands are held against. */
        readonly highestCentre_mgPerL?: number;
      }
    | undefined;
  readonly rise: RateOfRise | undefined;
  readonly jump?: Co2Jump | undefined;
  readonly now_monotonicMs: number;
}

export interface Co2BandStep {
  readonly state: Co2BandState | undefined;
  readonly band: Co2Band;
  /** Why it is above the target, a sentence each. */
  readonly reasons: readonly string[];
}

/** Two significant digits: no more is ever known of a tank's CO2. */
const twoDigits = (value: number): string => String(Number(value.toPrecision(2)));

/**
 * The rise of CO2 above the target that is faster than its limit, mg/L in 30 minutes; undefined where there is none. A rise counts
 * only where it is surely above, by the lower end of its 80 % interval, so that a probe's noise does not trip it; a jump where
 * within less than 30 minutes it has surely gone up by more than the limit.
 */
export function fastRise(
  { estimate, rise, jump }: Pick<Co2BandInput, "estimate" | "rise" | "jump">,
  limits: Co2Limits,
): RateOfRise | Co2Jump | undefined {
  if (estimate === undefined || estimate.co2_mgPerL <= limits.co2TargetHigh_mgPerL) return undefined;
  const limit = limits.co2Rise_mgPerLPer30Min;
  if (rise !== undefined && rise.rateLow80_mgPerLPer30Min > limit) return rise;
  return jump !== undefined && jump.risenLow80_mgPerL > limit ? jump : undefined;
}

function stepOne(
  before: StepState | undefined,
  isOver: boolean,
  isUnder: boolean,
  isFarUnder: boolean,
  onDelay_s: number,
  timing: BandTiming,
  now_monotonicMs: number,
): StepState {
  if (before === undefined) return { isAbove: isOver, asksSince_monotonicMs: undefined };
  const asks = before.isAbove ? isUnder : isOver;
  if (!asks) return { isAbove: before.isAbove, asksSince_monotonicMs: undefined };
  const since_monotonicMs = before.asksSince_monotonicMs ?? now_monotonicMs;
  const offDelay_s = isFarUnder ? farUnderDelay_s : timing.offDelay_s;
  const delay_s = before.isAbove ? offDelay_s : onDelay_s;
  return now_monotonicMs - since_monotonicMs >= delay_s * 1000
    ? { isAbove: !before.isAbove, asksSince_monotonicMs: undefined }
    : { isAbove: before.isAbove, asksSince_monotonicMs: since_monotonicMs };
}

/**
 * In which band a tank's CO2 is, without flicker: each step between bands has its own deadband, and its delays either way. The
 * alarm is held against the central value (where methods disagree, of those that read highest), closing against the upper end of the 80 % interval: 30 mg/L at a KH of 2 has
 * an upper end of 43, and an alarm on that would never rest. A first estimate counts at once.
 */
export function stepCo2Band(
  before: Co2BandState | undefined,
  input: Co2BandInput,
  limits: Co2Limits = defaultCo2Limits,
  timing: BandTiming = defaultBandTiming,
): Co2BandStep {
  const { estimate, now_monotonicMs } = input;
  if (estimate === undefined) {
    return {
      state: before === undefined ? undefined : withoutAsking(before),
      band: "not known",
      reasons: [],
    };
  }
  const tooFast = fastRise(input, limits);
  const held_mgPerL = heldCo2_mgPerL(estimate);
  const stepped = (step: Co2Step, value_mgPerL: number, limit_mgPerL: number, isForced = false): StepState =>
    stepOne(
      before?.[step],
      isForced || value_mgPerL > limit_mgPerL,
      !isForced && value_mgPerL < limit_mgPerL * (1 - timing.deadband_ratio),
      !isForced && value_mgPerL < limit_mgPerL * farUnder_ratio,
      timing.onDelay_s[step],
      timing,
      now_monotonicMs,
    );
  const state: Co2BandState = {
    target: stepped("target", held_mgPerL, limits.co2TargetLow_mgPerL),
    caution: stepped("caution", held_mgPerL, limits.co2TargetHigh_mgPerL),
    alarm: stepped("alarm", held_mgPerL, limits.co2Alarm_mgPerL),
    close: stepped("close", estimate.co2High80_mgPerL, limits.co2Close_mgPerL, tooFast !== undefined),
  };
  const highest = [...steps].reverse().find((step) => state[step].isAbove);
  const band = highest === undefined ? "below target" : bandAbove[highest];
  return { state, band, reasons: reasonsFor(band, input, { limits, timing, tooFast }) };
}

/** No delay on the way up, so that no figure stands beside a band that it has long left; a minute below before it goes. Judgement. */
const shownTiming: BandTiming = {
  deadband_ratio: defaultBandTiming.deadband_ratio,
  onDelay_s: { target: 0, caution: 0, alarm: 0, close: 0 },
  offDelay_s: 60,
};

export interface ShownBandState {
  /** What the alarms go by. */
  readonly held: Co2BandState | undefined;
  readonly present: Co2BandState | undefined;
}

export interface ShownBandStep extends Omit<Co2BandStep, "state"> {
  readonly state: ShownBandState;
}

/**
 * The band to be shown beside the CO2: never below that of the present value, since the delays on the way up are the alarm's;
 * and not below the one that the alarm still stands by.
 */
export function stepShownBand(
  before: ShownBandState | undefined,
  input: Co2BandInput,
  limits: Co2Limits = defaultCo2Limits,
): ShownBandStep {
  const held = stepCo2Band(before?.held, input, limits);
  const present = stepCo2Band(before?.present, input, limits, shownTiming);
  const isAhead = bandRank(present.band) > bandRank(held.band);
  const band = isAhead ? present.band : held.band;
  const said = { limits, timing: defaultBandTiming, tooFast: fastRise(input, limits) };
  const reasons = isAhead ? reasonsFor(band, input, said) : held.reasons;
  return { state: { held: held.state, present: present.state }, band, reasons };
}

const bandsFromBelow: readonly Co2Band[] = [
  "not known",
  "below target",
  "in target",
  "caution",
  "alarm",
  "close",
];

const bandRank = (band: Co2Band): number => bandsFromBelow.indexOf(band);

function fastText(fast: RateOfRise | Co2Jump, { co2Rise_mgPerLPer30Min: limit }: Co2Limits): string {
  return "risen_mgPerL" in fast
    ? `CO2 went up by ${twoDigits(fast.risen_mgPerL)} mg/L within ${fast.within_min} minutes; the limit is ${limit} in 30.`
    : `CO2 rises by ${twoDigits(fast.rate_mgPerLPer30Min)} mg/L in 30 minutes; the limit is ${limit}.`;
}

function heldCo2_mgPerL(estimate: NonNullable<Co2BandInput["estimate"]>): number {
  return Math.max(estimate.co2_mgPerL, estimate.highestCentre_mgPerL ?? 0);
}

function withoutAsking(state: Co2BandState): Co2BandState {
  const quiet = ({ isAbove }: StepState): StepState => ({ isAbove, asksSince_monotonicMs: undefined });
  return {
    target: quiet(state.target),
    caution: quiet(state.caution),
    alarm: quiet(state.alarm),
    close: quiet(state.close),
  };
}

function reasonsFor(
  band: Co2Band,
  { estimate }: Co2BandInput,
  {
    limits,
    timing,
    tooFast,
  }: {
    readonly limits: Co2Limits;
    readonly timing: BandTiming;
    readonly tooFast: RateOfRise | Co2Jump | undefined;
  },
): readonly string[] {
  if (estimate === undefined) return [];
  const held_mgPerL = heldCo2_mgPerL(estimate);
  const central =
    held_mgPerL > 1.05 * estimate.co2_mgPerL
      ? `The methods disagree; by those that read highest CO2 is about ${twoDigits(held_mgPerL)} mg/L`
      : `CO2 is about ${twoDigits(estimate.co2_mgPerL)} mg/L`;
  switch (band) {
    case "caution":
      return [`${central}; the target ends at ${String(limits.co2TargetHigh_mgPerL)}.`];
    case "alarm":
      return [
        `${central}; the alarm limit is ${String(limits.co2Alarm_mgPerL)}. Watch the fish, and aerate if they breathe fast.`,
      ];
    case "close": {
      const fast = tooFast === undefined ? [] : [fastText(tooFast, limits)];
      const left_mgPerL = limits.co2Close_mgPerL * (1 - timing.deadband_ratio);
      return [
        ...fast,
        `${central} and may be ${twoDigits(estimate.co2High80_mgPerL)}; the closing limit is ${String(limits.co2Close_mgPerL)}, left again once it has been below ${twoDigits(left_mgPerL)} for ${String(timing.offDelay_s / 60)} min.`,
      ];
    }
    case "not known":
    case "below target":
    case "in target":
      return [];
  }
}
