import { withBandTime } from "../../lib/digest/band-time.js";
import { composeDigest, type Digest } from "../../lib/digest/digest.js";
import { dueDigestDay } from "../../lib/digest/digest-day.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import type { UpkeepItem } from "../../lib/upkeep/upkeep-items.js";
import type { AlertDelivery } from "../alerts/alert-delivery.js";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { SiteStore } from "../ports/site-store.js";
import type { SiteModel } from "../site-model.js";
import type { SiteStatus } from "../site-status.js";
import { gatherDigest, type DigestConfig } from "./digest-facts.js";
import { digestSnapshotName, readDigestMemory, type DigestMemory } from "./digest-memory.js";

export interface DigestWatch {
  /** Goes on from what an earlier run left, then looks each second. */
  start(): Promise<void>;
  stop(): Promise<void>;
  /** The digest as it would be sent now; undefined where the config has none, or nothing is watched yet. */
  preview(): Promise<Digest | undefined>;
}

const look_ms = 1000;
/** A kill loses so much of the hours in each band; they are then told as not watched. */
const savedEach_ms = 5 * 60_000;

/**
 * Counts how long each tank is in which band of CO2, and sends it with what else a keeper wants to know, once for each day. A
 * day's message has a key of its own and reaches the disk together with the day: however often the daemon dies, a receiver gets
 * it once. Beside the control path: nothing waits for it.
 */
export function createDigestWatch(
  ports: {
    /** Time of the site. */
    readonly clock: Clock;
    /** Time of this machine: looks and saves. */
    readonly machineClock: Clock;
    readonly store: Pick<SiteStore, "events" | "readings" | "loadSnapshot" | "saveSnapshot">;
    readonly logger: Logger;
    readonly status: () => SiteStatus | undefined;
    readonly model: () => SiteModel;
    readonly upkeep: () => readonly UpkeepItem[];
    readonly send: AlertDelivery["send"];
  },
  config: () => DigestConfig | undefined,
): DigestWatch {
  const { clock, machineClock, store, logger, model } = ports;
  const ending = new AbortController();
  let memory: DigestMemory | undefined;
  let counted_monotonicMs: number | undefined;
  let saved_monotonicMs = 0;
  let running: Promise<void> = Promise.resolve();
  let failure: string | undefined;

  return {
    async start() {
      try {
        memory = readDigestMemory(await store.loadSnapshot(digestSnapshotName));
      } catch (error) {
        logger.error({ reason: reasonOf(error) }, "what the last digest has told is not known");
      }
      saved_monotonicMs = machineClock.monotonic_ms();
      running = lookUntilEnd();
    },
    async stop() {
      ending.abort();
      await running;
      await save();
    },
    async preview() {
      const wanted = config();
      const status = ports.status();
      if (wanted === undefined || status === undefined || memory === undefined) return undefined;
      const now_epochMs = clock.now_epochMs();
      const day = wallClockAt(now_epochMs, model().timeZone).date;
      return composed(wanted, memory, status, day, now_epochMs);
    },
  };

  async function lookUntilEnd(): Promise<void> {
    while (!ending.signal.aborted) {
      try {
        await look();
        failure = undefined;
      } catch (error) {
        const reason = reasonOf(error);
        if (failure !== reason) logger.error({ reason }, "the digest could not be looked after");
        failure = reason;
      }
      await machineClock.sleep(look_ms, ending.signal);
    }
  }

  async function look(): Promise<void> {
    const wanted = config();
    const status = ports.status();
    // A wrong clock would send the digest of a day that is not.
    if (wanted === undefined || status?.clock.kind !== "plausible") {
      counted_monotonicMs = status?.at_monotonicMs;
      return;
    }
    const now_epochMs = clock.now_epochMs();
    const counted = withBands(memory ?? { since_epochMs: now_epochMs, tanks: {} }, status);
    memory = counted;
    const day = dueDigestDay(
      { at: wanted.at, weekday: wanted.weekday },
      {
        watchedSince_epochMs: counted.since_epochMs,
        ...(counted.lastDay === undefined ? {} : { lastDay: counted.lastDay }),
      },
      now_epochMs,
      model().timeZone,
    );
    if (day !== undefined) await sendDay(wanted, counted, status, day, now_epochMs);
    else if (machineClock.monotonic_ms() - saved_monotonicMs >= savedEach_ms) await save();
  }

  async function sendDay(
    wanted: DigestConfig,
    told: DigestMemory,
    status: SiteStatus,
    day: string,
    now_epochMs: number,
  ): Promise<void> {
    const digest = await composed(wanted, told, status, day, now_epochMs);
    const next: DigestMemory = { since_epochMs: now_epochMs, lastDay: day, tanks: {} };
    memory = next;
    ports.send(
      [...new Set(wanted.to)].map((channel) => ({
        messageKey: `${model().siteId}.digest.${day}.${channel}`,
        message: { channel, at_epochMs: now_epochMs, notices: [], digest },
      })),
      { name: digestSnapshotName, state: next },
    );
    saved_monotonicMs = machineClock.monotonic_ms();
    logger.info({ day, channels: wanted.to }, "a digest is on its way");
  }

  /** The time since the last control pass that was counted goes to the band of this one. */
  function withBands(before: DigestMemory, { at_monotonicMs, tanks }: SiteStatus): DigestMemory {
    const span_ms = counted_monotonicMs === undefined ? 0 : at_monotonicMs - counted_monotonicMs;
    counted_monotonicMs = at_monotonicMs;
    if (span_ms <= 0) return before;
    return {
      ...before,
      tanks: {
        ...before.tanks,
        ...Object.fromEntries(
          tanks.map(({ tankId, band }) => [tankId, withBandTime(before.tanks[tankId] ?? {}, band, span_ms)]),
        ),
      },
    };
  }

  async function composed(
    wanted: DigestConfig,
    told: DigestMemory,
    status: SiteStatus,
    day: string,
    now_epochMs: number,
  ): Promise<Digest> {
    const site = {
      config: wanted,
      day,
      memory: told,
      model: model(),
      status,
      upkeep: ports.upkeep(),
    };
    return composeDigest(await gatherDigest({ store, logger }, site, now_epochMs));
  }

  async function save(): Promise<void> {
    saved_monotonicMs = machineClock.monotonic_ms();
    if (memory !== undefined && config() !== undefined) await store.saveSnapshot(digestSnapshotName, memory);
  }
}

function reasonOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
