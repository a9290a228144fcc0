import { z } from "zod";
import { alarmPriorities } from "../../lib/alarm/alarm-condition.js";
import type { AlertMessage } from "../../lib/alerts/alert-message.js";
import { emptyAlertMemory, type AlertMemory } from "../../lib/alerts/plan-alerts.js";
import { seenStages } from "../../lib/alerts/seen-alarm.js";

const priority = z.enum(alarmPriorities);
const noticeSchema = z.object({
  notice: z.enum(["raised", "repeated", "escalated", "returned", "overtaken"]),
  alarmId: z.string(),
  priority,
  state: z.string(),
  subjects: z.array(z.string()),
  cause: z.string(),
  consequence: z.string(),
  whatToDo: z.string(),
  allowableResponse_min: z.number(),
  raised_epochMs: z.number(),
});
const messageSchema = z.object({
  channel: z.string(),
  at_epochMs: z.number(),
  notices: z.array(noticeSchema),
  digest: z
    .object({
      heading: z.string(),
      text: z.string(),
      pictures: z.array(z.object({ vesselId: z.string(), alt: z.string(), svg: z.string() })),
    })
    .exactOptional(),
});
const memorySchema = z.object({
  told: z.array(
    z.object({
      alarmId: z.string(),
      raised_epochMs: z.number(),
      waitsSince_epochMs: z.number(),
      told_epochMs: z.number().optional(),
      toldPriority: priority,
      escalated: z.boolean(),
      channels: z.array(z.string()),
      last: noticeSchema,
      acknowledged: z.boolean(),
      overtakenBy: z.string().optional(),
      returned_epochMs: z.number().optional(),
      returnTold: z.boolean(),
    }),
  ),
  sent_epochMs: z.record(z.string(), z.number()),
  seen: z
    .array(
      z.object({
        alarmId: z.string(),
        stage: z.enum(seenStages).optional(),
        over_epochMs: z.number().optional(),
        silenced: z.boolean(),
      }),
    )
    .default([]),
});

/** A message as the outbox keeps it, or undefined where another program wrote it. */
export function readMessage(contentJson: string): AlertMessage | undefined {
  try {
    const parsed = messageSchema.safeParse(JSON.parse(contentJson));
    return parsed.success ? parsed.data : undefined;
  } catch {
    return undefined;
  }
}

/** What was told before a restart. Where that cannot be read, everything that still stands is told anew. */
export function readAlertMemory(stored: unknown): AlertMemory {
  const parsed = memorySchema.safeParse(stored);
  if (!parsed.success) return emptyAlertMemory;
  return {
    ...parsed.data,
    told: parsed.data.told.map((entry) => ({
      ...entry,
      told_epochMs: entry.told_epochMs,
      returned_epochMs: entry.returned_epochMs,
    })),
  };
}

/** What of the memory is worth a write: the words of an alarm may change each second. */
export function essenceOf({ told, sent_epochMs, seen }: AlertMemory): string {
  return JSON.stringify([told.map((entry) => ({ ...entry, last: entry.last.priority })), sent_epochMs, seen]);
}
