import { z } from "zod";
import type { BandTime } from "../../lib/digest/band-time.js";

/** What a digest gathers between two of them, and what was sent; survives a restart. */
export interface DigestMemory {
  /** Since when there is something to tell. */
  readonly since_epochMs: number;
  /** The last day whose digest was sent. */
  readonly lastDay?: string;
  readonly tanks: Readonly<Record<string, BandTime>>;
}

export const digestSnapshotName = "digest";

const span_ms = z.number().min(0).exactOptional();
const memorySchema = z.object({
  since_epochMs: z.number(),
  lastDay: z.iso.date().exactOptional(),
  tanks: z.record(
    z.string(),
    z.object({
      "in target": span_ms,
      "below target": span_ms,
      caution: span_ms,
      alarm: span_ms,
      close: span_ms,
      "not known": span_ms,
    }),
  ),
});

/** What an earlier run has left; undefined where that cannot be read, and watching begins anew. */
export function readDigestMemory(stored: unknown): DigestMemory | undefined {
  const parsed = memorySchema.safeParse(stored);
  return parsed.success ? parsed.data : undefined;
}
