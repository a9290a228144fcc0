import { z } from "zod";
import type { Co2BandState } from "../../lib/tank/co2-bands.js";
import type { FollowedChecker } from "../../lib/tank/followed-checker.js";

export interface TracePoint {
  readonly at_epochMs: number;
  readonly at_monotonicMs: number;
  readonly pH: number;
  /** When the probe measured it: several points of one reading are one witness. */
  readonly readAt_epochMs?: number | undefined;
}

/** The tank as it was some minutes or hours ago, for a colour that is entered later. */
export interface PastInstant {
  readonly at_epochMs: number;
  readonly pH: number;
  readonly lag_ratio: number | undefined;
}

/** What the estimate of one tank goes on from. */
export interface TankMemory {
  /** How the pH in it was corrected; by another correction it is another pH. */
  readonly correction: string;
  readonly trace: readonly TracePoint[];
  readonly checker: FollowedChecker | undefined;
  readonly past: readonly PastInstant[];
  readonly band: Co2BandState | undefined;
  /** CO2 of the room when a degassed pH was entered. */
  readonly degassedIn: { readonly entryId: number; readonly roomCo2_ppm: number } | undefined;
  /** The colour that bears the probe's calibrations from afar out, and which they were. */
  readonly witnessed?: { readonly entryId: number; readonly corrections: string } | undefined;
}

export const emptyTankMemory: TankMemory = {
  correction: "",
  trace: [],
  checker: undefined,
  past: [],
  band: undefined,
  degassedIn: undefined,
};

const number = z.number();
const step = z.object({ isAbove: z.boolean() });
const stored = z.record(
  z.string(),
  z.object({
    correction: z.string(),
    trace: z.array(z.object({ at_epochMs: number, pH: number, readAt_epochMs: number.optional() })).max(1000),
    checker: z
      .object({ at_epochMs: number, pH: number, lag_ratio: number.positive(), since_epochMs: number })
      .optional(),
    past: z.array(z.object({ at_epochMs: number, pH: number, lag_ratio: number.optional() })).max(1000),
    band: z.object({ target: step, caution: step, alarm: step, close: step }).optional(),
    degassedIn: z.object({ entryId: number, roomCo2_ppm: number }).optional(),
    witnessed: z.object({ entryId: number, corrections: z.string() }).optional(),
  }),
);

/** As plain data; the monotonic clock of one run says nothing to the next. */
export function storedMemories(memories: ReadonlyMap<string, TankMemory>): unknown {
  return Object.fromEntries(
    [...memories].map(([tankId, { band, trace, ...rest }]) => [
      tankId,
      {
        ...rest,
        trace: trace.map(({ at_epochMs, pH, readAt_epochMs }) => ({ at_epochMs, pH, readAt_epochMs })),
        ...(band === undefined ? {} : { band: withoutAsking(band) }),
      },
    ]),
  );
}

/** What an earlier run left, on the clocks of this one; nothing where it cannot be read. */
export function memoriesFrom(
  state: unknown,
  now: { readonly now_epochMs: number; readonly now_monotonicMs: number },
): Map<string, TankMemory> {
  const read = stored.safeParse(state);
  if (!read.success) return new Map();
  return new Map(
    Object.entries(read.data).map(([tankId, memory]) => [
      tankId,
      {
        correction: memory.correction,
        trace: memory.trace
          .filter(({ at_epochMs }) => at_epochMs <= now.now_epochMs)
          .map(({ at_epochMs, pH, readAt_epochMs }) => ({
            at_epochMs,
            pH,
            readAt_epochMs,
            at_monotonicMs: now.now_monotonicMs - (now.now_epochMs - at_epochMs),
          })),
        checker: memory.checker,
        past: memory.past.map(({ at_epochMs, pH, lag_ratio }) => ({ at_epochMs, pH, lag_ratio })),
        band: memory.band === undefined ? undefined : withoutAsking(memory.band),
        degassedIn: memory.degassedIn,
        witnessed: memory.witnessed,
      },
    ]),
  );
}

function withoutAsking(
  state: Readonly<Record<keyof Co2BandState, { readonly isAbove: boolean }>>,
): Co2BandState {
  const quiet = ({ isAbove }: { readonly isAbove: boolean }) => ({
    isAbove,
    asksSince_monotonicMs: undefined,
  });
  return {
    target: quiet(state.target),
    caution: quiet(state.caution),
    alarm: quiet(state.alarm),
    close: quiet(state.close),
  };
}
