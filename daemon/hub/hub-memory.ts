import { z } from "zod";
import type { PublishedVersion } from "../../lib/hub/homie-description.js";

export const hubSnapshotName = "hub";

/** What may be left with the broker, so that it can be cleared by a later run with another config. */
export interface HubMemory {
  /** Of each device id, what its description was published as. */
  readonly versions: Readonly<Record<string, PublishedVersion>>;
  /** Every topic that may hold a retained message of ours. */
  readonly retained: readonly string[];
}

const schema = z.object({
  versions: z.record(z.string(), z.object({ checksum: z.string(), version: z.int() })),
  retained: z.array(z.string()),
});

/** What an earlier run left; nothing where there is nothing that can be read. */
export function readHubMemory(stored: unknown): HubMemory {
  const parsed = schema.safeParse(stored);
  return parsed.success ? parsed.data : { versions: {}, retained: [] };
}
