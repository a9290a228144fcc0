import { advanceDropChecker, dropCheckerDefaults, type DropChecker } from "./drop-checker.js";

/**
 * The virtual drop checker beside a tank, in a form that no new hardness test unsettles: the liquid's CO2 as a multiple of
 * the tank's, at a pH of the tank.
 */
export interface FollowedChecker {
  readonly at_epochMs: number;
  readonly pH: number;
  readonly lag_ratio: number;
  /** Since when the tank has been followed without a long gap. */
  readonly since_epochMs: number;
}

export interface TankInstant {
  readonly at_epochMs: number;
  readonly pH: number;
  readonly co2_mgPerL: number;
}

/** For so long a tank goes on as it is while nobody looks; after more, what the liquid did is a guess. Judgement. */
const longestGap_h = 0.5;
/** The liquid has forgotten where it began. */
const settledAfter = 3;
const leastCo2_mgPerL = 0.1;
const largestCo2_mgPerL = 1000;
const hour_ms = 3_600_000;

const bounded = (co2_mgPerL: number): number =>
  Math.min(Math.max(co2_mgPerL, leastCo2_mgPerL), largestCo2_mgPerL);

/**
 * The liquid after the time since it was followed last, under a tank that went evenly from its old CO2 to its new one. Without
 * a past the liquid counts as settled with the tank, and as not known to be.
 * @throws OutOfValidRangeError for a time constant outside 0.5 to 6 h
 * @see [Crank1975] for the lag
 */
export function followChecker(
  before: FollowedChecker | undefined,
  checker: DropChecker,
  now: TankInstant,
): FollowedChecker {
  const { at_epochMs, pH } = now;
  const duration_h = before === undefined ? 0 : (at_epochMs - before.at_epochMs) / hour_ms;
  // A clock that was set back makes the past unknown.
  if (before === undefined || duration_h < 0)
    return { at_epochMs, pH, lag_ratio: 1, since_epochMs: at_epochMs };
  const tank_mgPerL = bounded(now.co2_mgPerL);
  // At one alkalinity CO2 goes with the hydrogen ion.
  const tankBefore_mgPerL = bounded(now.co2_mgPerL * 10 ** (pH - before.pH));
  const { liquidCo2_mgPerL } = advanceDropChecker(
    checker,
    { liquidCo2_mgPerL: bounded(tankBefore_mgPerL * before.lag_ratio) },
    { tankCo2_mgPerL: (tankBefore_mgPerL + tank_mgPerL) / 2, duration_h },
  );
  return {
    at_epochMs,
    pH,
    lag_ratio: liquidCo2_mgPerL / tank_mgPerL,
    since_epochMs: duration_h > longestGap_h ? at_epochMs : before.since_epochMs,
  };
}

/** Whether the liquid's colour is known, or still depends on what it was when it began to be followed. */
export function isSettledChecker(followed: FollowedChecker, checker: DropChecker): boolean {
  const timeConstant_h = checker.timeConstant_h ?? dropCheckerDefaults.timeConstant_h;
  return followed.at_epochMs - followed.since_epochMs >= settledAfter * timeConstant_h * hour_ms;
}
