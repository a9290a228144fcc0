import type { FreshnessInstant } from "../../lib/readings/sensor-freshness.js";
import { co2Jump, settling_ms, type Co2Jump, type JumpPoint } from "../../lib/tank/co2-jump.js";
import { co2TraceFromPh, rateOfRise, type RateOfRise } from "../../lib/tank/rate-of-rise.js";
import type { TankModel } from "../site-model.js";
import type { TankJournal } from "./tank-facts.js";
import type { TankMemory } from "./tank-memory.js";

/** The rise is only told below the target; above it, where it can close the valve, it is worked out with each estimate. */
const riseEvery_ms = 300_000;
const trace = { every_ms: 50_000, kept_ms: 35 * 60_000 } as const;

/** The CO2 of now, which the trace of the pH is held against. */
export interface PresentCo2 {
  readonly co2_mgPerL: number;
  readonly pH: number;
  readonly waterChanged_monotonicMs: number | undefined;
}

/** A rate of rise, and when it was worked out. */
export interface TimedRise {
  readonly at_monotonicMs: number;
  readonly rise: RateOfRise | undefined;
}

/** By another correction the same water shows another pH: a step in the trace that is no rise. */
export function withCorrection(memory: TankMemory, correction: string, pH: number): TankMemory {
  if (memory.correction === correction) return memory;
  const checker = memory.checker === undefined ? undefined : { ...memory.checker, pH };
  return { ...memory, correction, trace: [], past: [], checker };
}

export function withTracePoint(
  memory: TankMemory,
  pH: number,
  readAt_epochMs: number | undefined,
  { now_epochMs, now_monotonicMs }: FreshnessInstant,
): TankMemory {
  const last = memory.trace.at(-1);
  if (last !== undefined && now_monotonicMs - last.at_monotonicMs < trace.every_ms) return memory;
  const kept = memory.trace.filter(({ at_monotonicMs }) => now_monotonicMs - at_monotonicMs <= trace.kept_ms);
  const point = { at_epochMs: now_epochMs, at_monotonicMs: now_monotonicMs, pH, readAt_epochMs };
  return { ...memory, trace: [...kept, point] };
}

/** The last one that can still be seen in the course of the pH. */
export function waterChangeOf(
  tank: TankModel,
  journal: Pick<TankJournal, "entriesOf">,
  { now_epochMs, now_monotonicMs }: FreshnessInstant,
): number | undefined {
  const since_epochMs = now_epochMs - trace.kept_ms - settling_ms;
  const change = journal.entriesOf("water change", tank.tankId, since_epochMs).at(-1);
  return change === undefined ? undefined : now_monotonicMs - (now_epochMs - change.at_epochMs);
}

/** Below the target no jump closes anything, and none is looked for. */
export function jumpOf(
  memory: TankMemory,
  tank: TankModel,
  { waterChanged_monotonicMs, ...present }: PresentCo2,
  now: FreshnessInstant,
): Co2Jump | undefined {
  if (present.co2_mgPerL <= tank.limits.co2TargetHigh_mgPerL) return undefined;
  const { now_monotonicMs } = now;
  return co2Jump(jumpPoints(memory, now), { now_monotonicMs, present, waterChanged_monotonicMs });
}

/** The rise of now, or the last one where that is young enough. */
export function riseOf(
  memory: TankMemory,
  last: TimedRise | undefined,
  tank: TankModel,
  { waterChanged_monotonicMs, ...present }: PresentCo2,
  { now_monotonicMs }: FreshnessInstant,
): TimedRise {
  const isWatched = present.co2_mgPerL > tank.limits.co2TargetHigh_mgPerL;
  if (!isWatched && last !== undefined && now_monotonicMs - last.at_monotonicMs < riseEvery_ms) return last;
  const from_monotonicMs =
    waterChanged_monotonicMs === undefined
      ? Number.NEGATIVE_INFINITY
      : waterChanged_monotonicMs + settling_ms;
  const settled = memory.trace.filter(({ at_monotonicMs }) => at_monotonicMs >= from_monotonicMs);
  const rise = rateOfRise(co2TraceFromPh(settled, present), { now_monotonicMs });
  return { at_monotonicMs: now_monotonicMs, rise };
}

/** The close trace of the last half hour, and before it the hours that are kept more widely spaced. */
function jumpPoints(
  { past: points, trace: close }: TankMemory,
  { now_epochMs, now_monotonicMs }: FreshnessInstant,
): readonly JumpPoint[] {
  const from_epochMs = close[0]?.at_epochMs ?? now_epochMs;
  const wide = points
    .filter(({ at_epochMs }) => at_epochMs < from_epochMs)
    .map(({ at_epochMs, pH }) => ({ pH, at_monotonicMs: now_monotonicMs - (now_epochMs - at_epochMs) }));
  return [...wide, ...close];
}
