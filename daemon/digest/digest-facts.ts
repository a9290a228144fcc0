import { alarmPriorities, isMoreUrgent, type AlarmPriority } from "../../lib/alarm/alarm-condition.js";
import type { DigestAlarm, DigestFacts, DigestSupply } from "../../lib/digest/digest.js";
import { pressurePicture, type PressurePicture } from "../../lib/digest/pressure-picture.js";
import { toldRunOut } from "../../lib/estimation/run-out.js";
import { isDue, type UpkeepItem } from "../../lib/upkeep/upkeep-items.js";
import type { AlertConfig } from "../config/config-schema.js";
import type { Logger } from "../ports/logger.js";
import type { SiteEvent, SiteStore } from "../ports/site-store.js";
import type { SiteModel } from "../site-model.js";
import type { SiteStatus } from "../site-status.js";
import type { VesselSupply } from "../supply/vessel-supply.js";
import { upkeepLine } from "../upkeep/upkeep-text.js";
import type { DigestMemory } from "./digest-memory.js";

export type DigestConfig = NonNullable<AlertConfig["digest"]>;

/** Of so many events of the time at most the alarms are counted. */
const mostEvents = 20_000;
const day_ms = 86_400_000;

/** Everything that a digest tells. What the store cannot answer is left out, and the digest says so. */
export async function gatherDigest(
  ports: { readonly store: Pick<SiteStore, "events" | "readings">; readonly logger: Logger },
  site: {
    readonly config: DigestConfig;
    readonly day: string;
    readonly memory: DigestMemory;
    readonly model: SiteModel;
    readonly status: Pick<SiteStatus, "supplies">;
    readonly upkeep: readonly UpkeepItem[];
  },
  now_epochMs: number,
): Promise<DigestFacts> {
  const { config, day, memory, model, status } = site;
  const { timeZone } = model;
  const noteUnanswered = (error: unknown): void => {
    ports.logger.warn(
      { reason: error instanceof Error ? error.message : String(error) },
      "a digest is made without what the store did not answer",
    );
  };
  // A clock that was put back must not turn the time round.
  const from_epochMs = Math.min(memory.since_epochMs, now_epochMs);
  const alarms = await ports.store
    .events({ from_epochMs, to_epochMs: now_epochMs, limit: mostEvents })
    .then(raisedAlarms, (error: unknown) => {
      noteUnanswered(error);
      return undefined;
    });
  const pictures: PressurePicture[] = [];
  for (const [vesselId, { pressureSensor }] of model.vessels) {
    if (pressureSensor === undefined) continue;
    const span = {
      from_epochMs: now_epochMs - config.picture_days * day_ms,
      to_epochMs: now_epochMs,
      timeZone,
    };
    const readings = await ports.store
      .readings({ sensorId: pressureSensor, ...span })
      .catch((error: unknown) => {
        noteUnanswered(error);
        return [];
      });
    const points = readings
      .filter(({ quantity }) => quantity === "pressureGauge_bar")
      .map(({ from_epochMs: at_epochMs, mean }) => ({ at_epochMs, pressureGauge_bar: mean }));
    const picture = pressurePicture(vesselId, points, span);
    if (picture !== undefined) pictures.push(picture);
  }
  return {
    rhythm: config.weekday === undefined ? "daily" : "weekly",
    day,
    from_epochMs,
    to_epochMs: now_epochMs,
    timeZone,
    tanks: [...model.tanks.keys()].map((tankId) => ({ tankId, bandTime: memory.tanks[tankId] ?? {} })),
    vessels: [...model.vessels.keys()].map((vesselId) => ({
      vesselId,
      supply: supplyOf(status.supplies.find((supply) => supply.vesselId === vesselId)),
    })),
    due: site.upkeep.filter(isDue).map((item) => upkeepLine(item, timeZone)),
    alarms,
    pictures,
  };
}

function supplyOf(supply: VesselSupply | undefined): DigestSupply | undefined {
  const told = supply?.told;
  if (told === undefined) return undefined;
  const { remaining, deliverable, runOut, phase, leak_gPerDay, at_epochMs } = told.estimate;
  return {
    remaining_g: remaining.value_g,
    low80_g: remaining.low80_g,
    high80_g: remaining.high80_g,
    deliverable_g: deliverable.value_g,
    isSpent: phase === "spent",
    runOut: phase === "spent" ? undefined : toldRunOut(runOut, at_epochMs),
    use_gPerDay: told.use.total_gPerDay,
    leak_gPerDay: leak_gPerDay.value,
  };
}

/** Each alarm that was raised, once, by its most urgent priority and its last cause. */
function raisedAlarms(events: readonly SiteEvent[]): readonly DigestAlarm[] {
  const raised = new Map<string, DigestAlarm>();
  for (const { area, what, subject, reason, details, at_epochMs } of events) {
    if (area !== "alarm" || (what !== "raised" && what !== "raised again")) continue;
    const priority = priorityIn(details);
    const before = raised.get(subject);
    raised.set(subject, {
      alarmId: subject,
      priority: before !== undefined && isMoreUrgent(before.priority, priority) ? before.priority : priority,
      count: (before?.count ?? 0) + 1,
      last_epochMs: at_epochMs,
      cause: reason,
    });
  }
  return [...raised.values()];
}

function priorityIn({ priority }: SiteEvent["details"]): AlarmPriority {
  return alarmPriorities.find((known) => known === priority) ?? "low";
}
