import { drawNormal } from "./random-source.js";

/** The air around a vessel. */
export interface RoomClimateSpec {
  readonly yearMean_degC: number;
  /** Half of the way from winter to summer. */
  readonly season_K: number;
  /** Highest less lowest of an ordinary day. */
  readonly dailySwing_K: number;
  /** Standard deviation of the slow wander around season and day, and the time in which it forgets. */
  readonly wander_K: number;
  readonly wanderMemory_h: number;
  readonly warmestAtUtc_h: number;
}

const millisecondsPerHour = 3_600_000;
const millisecondsPerDay = 86_400_000;
const daysPerYear = 365.2425;

/** The warmest days of the northern half come about 200 days after New Year. From memory. */
const warmestDay = 200;

/**
 * Room temperature from step to step, degC: season, day (each day's swing is 0.7 to 1.3 of the ordinary one) and an
 * Ornstein-Uhlenbeck wander. Same `random`, same row of temperatures. To be asked in order of time.
 */
export function createRoomClimate(
  spec: RoomClimateSpec,
  random: () => number,
): (at_epochMs: number) => number {
  let wander_K = spec.wander_K * drawNormal(random);
  let last_epochMs: number | undefined;
  let day = -1;
  let swing_K = spec.dailySwing_K;
  return (at_epochMs) => {
    const today = Math.floor(at_epochMs / millisecondsPerDay - spec.warmestAtUtc_h / 24 + 0.25);
    if (today !== day) {
      day = today;
      swing_K = spec.dailySwing_K * (0.7 + 0.6 * random());
    }
    if (last_epochMs !== undefined) {
      const kept = Math.exp(-(at_epochMs - last_epochMs) / millisecondsPerHour / spec.wanderMemory_h);
      wander_K = kept * wander_K + spec.wander_K * Math.sqrt(1 - kept ** 2) * drawNormal(random);
    }
    last_epochMs = at_epochMs;
    const year = (at_epochMs / millisecondsPerDay - warmestDay) / daysPerYear;
    const hour = at_epochMs / millisecondsPerHour - spec.warmestAtUtc_h;
    return (
      spec.yearMean_degC +
      spec.season_K * Math.cos(2 * Math.PI * year) +
      (swing_K / 2) * Math.cos((2 * Math.PI * hour) / 24) +
      wander_K
    );
  };
}
