import { z } from "zod";
import { emptySnapshot, type ControlSnapshot } from "./control-cycle.js";

const snapshotSchema = z.object({
  trips: z.array(
    z.object({
      subject: z.object({ kind: z.enum(["tank", "valve"]), id: z.string() }),
      cause: z.enum(["CO2 above the close limit", "pH below the floor", "open for too long"]),
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
  commissioned: z.record(z.string(), z.string()),
  acceptedClock_epochMs: z.number().optional(),
});

/**
 * What an earlier run left. A snapshot that cannot be read is treated as none: relays then count as not commissioned, so
 * that gas stays off until a person has looked.
 */
export function readSnapshot(stored: unknown): ControlSnapshot {
  const parsed = snapshotSchema.safeParse(stored);
  if (!parsed.success) return emptySnapshot;
  return { ...parsed.data, acceptedClock_epochMs: parsed.data.acceptedClock_epochMs };
}
