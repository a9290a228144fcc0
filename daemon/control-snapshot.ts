import { z } from "zod";
import type { Override } from "../lib/control/decide.js";
import { holdKinds, type Hold } from "../lib/control/hold.js";
import type { Trip } from "../lib/control/trip.js";
import { leakTestSchema, type LeakTest } from "./leak-tests/leak-test.js";

/** What a restart goes on from. */
export interface ControlSnapshot {
  readonly trips: readonly Trip[];
  readonly overrides: readonly Override[];
  readonly holds: readonly Hold[];
  /** Relays whose auto-off and power-on state a person has tried, by the fingerprint of what was tried. */
  readonly commissioned: Readonly<Record<string, string>>;
  readonly acceptedClock_epochMs: number | undefined;
  /** Of each vessel the running leak test, or the last one. */
  readonly leakTests: readonly LeakTest[];
}

export const emptySnapshot: ControlSnapshot = {
  trips: [],
  overrides: [],
  holds: [],
  commissioned: {},
  acceptedClock_epochMs: undefined,
  leakTests: [],
};

const snapshotSchema = z.object({
  trips: z.array(
    z.object({
      subject: z.object({ kind: z.enum(["tank", "valve"]), id: z.string() }),
      cause: z.enum([
        "CO2 above the close limit",
        "CO2 rises too fast",
        "pH below the floor",
        "open for too long",
        "gas did not stop",
        "pressure above the rating",
        "CO2 in the room from 15000 ppm",
        "CO2 in the room from 30000 ppm",
        "what was known before is lost",
      ]),
      reason: z.string(),
      at_epochMs: z.number(),
    }),
  ),
  overrides: z.array(
    z.object({
      valveId: z.string(),
      action: z.enum(["open", "closed"]),
      until_epochMs: z.number(),
      source: z.enum(["local", "remote"]),
    }),
  ),
  // An earlier version kept none.
  holds: z
    .array(
      z.object({
        kind: z.enum(holdKinds),
        subject: z.object({ kind: z.enum(["vessel", "valve"]), id: z.string() }),
        since_epochMs: z.number(),
        note: z.string(),
      }),
    )
    .default([]),
  commissioned: z.record(z.string(), z.string()),
  acceptedClock_epochMs: z.number().optional(),
  leakTests: z.array(leakTestSchema).default([]),
});

/** What an earlier run left; nothing where there is nothing that can be read. */
export function readSnapshot(stored: unknown): ControlSnapshot {
  const parsed = snapshotSchema.safeParse(stored);
  return parsed.success
    ? { ...parsed.data, acceptedClock_epochMs: parsed.data.acceptedClock_epochMs }
    : emptySnapshot;
}

/**
 * What a run goes on from. Where an earlier one left something that is gone or cannot be read, its trips are unknown: every
 * valve counts as tripped until a person has looked.
 * @param damage  what the store says of a damaged file that it has set aside.
 */
export function restoreSnapshot(
  stored: unknown,
  damage: string | undefined,
  site: {
    readonly valveIds: readonly string[];
    readonly now_epochMs: number;
    /** What is stored may be of earlier: a trip that was written last is not in it. */
    readonly lostTheLatest?: boolean;
  },
): ControlSnapshot {
  const isLost = stored === undefined ? damage !== undefined : !snapshotSchema.safeParse(stored).success;
  if (!isLost && site.lostTheLatest !== true) return readSnapshot(stored);
  const known = isLost ? emptySnapshot : readSnapshot(stored);
  const trips = site.valveIds.map((id) => ({
    subject: { kind: "valve" as const, id },
    cause: "what was known before is lost" as const,
    reason: damage ?? "the stored state cannot be read",
    at_epochMs: site.now_epochMs,
  }));
  return { ...known, trips: [...known.trips, ...trips] };
}
