import { dropCheckerDefaults, dropCheckerView } from "../../lib/tank/drop-checker.js";
import { followChecker, isSettledChecker } from "../../lib/tank/followed-checker.js";
import type { TankModel } from "../site-model.js";
import type { DropCheckerStatus } from "./estimated-tank.js";
import { seenColour, type TankJournal } from "./tank-facts.js";
import type { TankMemory } from "./tank-memory.js";

const checkerEvery_ms = 50_000;
const past = { every_ms: 300_000, kept_ms: 7 * 3_600_000 } as const;

/** The liquid of a tank's drop checker after what the water is now. */
export function withFollowedLiquid(
  memory: TankMemory,
  tank: TankModel,
  now: { readonly pH: number; readonly byProbe_mgPerL: number },
  now_epochMs: number,
): TankMemory {
  const { checker: before, past: points } = memory;
  const sinceStep_ms = before === undefined ? Infinity : Math.abs(now_epochMs - before.at_epochMs);
  if (sinceStep_ms < checkerEvery_ms) return memory;
  const liquid = tank.dropChecker ?? {};
  const checker = followChecker(before, liquid, {
    at_epochMs: now_epochMs,
    pH: now.pH,
    co2_mgPerL: now.byProbe_mgPerL,
  });
  const last = points.at(-1);
  const isDue = last === undefined || Math.abs(now_epochMs - last.at_epochMs) >= past.every_ms;
  return {
    ...memory,
    checker,
    past: isDue
      ? [
          ...points.filter(({ at_epochMs }) => Math.abs(now_epochMs - at_epochMs) <= past.kept_ms),
          { at_epochMs: now_epochMs, pH: now.pH, lag_ratio: settledLag(checker, tank) },
        ]
      : points,
  };
}

/** The tank as it was, up to this instant, for a colour that was seen earlier. */
export function pastOf(
  { checker, past: points }: TankMemory,
  tank: TankModel,
  pH: number,
  now_epochMs: number,
): TankMemory["past"] {
  return [...points, { at_epochMs: now_epochMs, pH, lag_ratio: settledLag(checker, tank) }];
}

/** @param water  undefined while the tank's CO2 is not known */
export function dropCheckerStatus(
  { checker: followed }: TankMemory,
  tank: TankModel,
  journal: TankJournal,
  water: { readonly pH: number; readonly co2_mgPerL: number; readonly temperature_degC: number } | undefined,
  now_epochMs: number,
): DropCheckerStatus | undefined {
  const seen = seenColour(tank, journal, [], now_epochMs);
  if (tank.dropChecker === undefined && seen === undefined) return undefined;
  const checker = tank.dropChecker ?? {};
  const liquid = {
    referenceKh_dKH: checker.referenceKh_dKH ?? dropCheckerDefaults.referenceKh_dKH,
    referenceIsAssumed: checker.referenceKh_dKH === undefined,
    timeConstant_h: checker.timeConstant_h ?? dropCheckerDefaults.timeConstant_h,
    seen: seen === undefined ? undefined : { colour: seen.colour, at_epochMs: seen.at_epochMs },
  };
  if (water === undefined || followed === undefined)
    return { ...liquid, expected: undefined, isSettled: false };
  const tankCo2_mgPerL = water.co2_mgPerL * 10 ** (water.pH - followed.pH);
  const liquidCo2_mgPerL = Math.min(tankCo2_mgPerL * followed.lag_ratio, 1000);
  return {
    expected: dropCheckerView(checker, { liquidCo2_mgPerL, temperature_degC: water.temperature_degC }),
    isSettled: isSettledChecker(followed, checker),
    ...liquid,
  };
}

function settledLag(checker: TankMemory["checker"], tank: TankModel): number | undefined {
  if (checker === undefined || !isSettledChecker(checker, tank.dropChecker ?? {})) return undefined;
  return checker.lag_ratio;
}
