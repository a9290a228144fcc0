import { createGate, jsonRequestFrom } from "../mqtt/json-request.js";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { BusMessage, MessageBus } from "../ports/message-bus.js";
import { answerTo, type EntryAnswer } from "./entry-answer.js";
import type { Journal } from "./journal.js";

/** A person at a form sends a few at once; a loop sends thousands. */
const burst = { most: 10, within_ms: 10_000 };
/** What a home writes in a day, many times over: a slow loop must not fill the disk. */
const daily = { most: 500, within_ms: 86_400_000 };
const floodLogEvery_ms = 60_000;
/** An answer that comes later than this helps nobody. */
const answerExpiry_s = 60;

/**
 * Entries by MQTT at `<base>/journal/enter`, one JSON object each: {"kind": "kh test", "tank": "loach", "kh_dKH": 4.5}. Each
 * is answered at `<base>/journal/enter/answer`, with the `id` that the sender gave it; accepted means on disk. A retained
 * one is history and is ignored.
 */
export function listenForEntries(
  ports: {
    readonly bus: Pick<MessageBus, "subscribe" | "publish">;
    readonly clock: Pick<Clock, "monotonic_ms">;
    readonly logger: Logger;
  },
  site: { readonly baseTopic: string; readonly timeZone: () => string },
  journal: Pick<Journal, "enter">,
): void {
  const { bus, clock, logger } = ports;
  const topic = `${site.baseTopic}/journal/enter`;
  const burstGate = createGate(burst);
  const dailyGate = createGate(daily);
  /** Refusals are answered as sparingly as entries are taken. */
  const refusalGate = createGate(burst);
  let flood = { logged_monotonicMs: Number.NEGATIVE_INFINITY, dropped: 0 };

  const hear = (message: BusMessage): void => {
    if (message.payload.byteLength === 0) return;
    if (message.retained) {
      logger.warn({ topic }, "a retained journal entry was ignored; clear it at the broker");
      if (refusalGate(clock.monotonic_ms())) {
        const reason =
          "it was sent retained and is not kept: send it not retained, and clear this one at the broker";
        answer(jsonRequestFrom(message.payload).id, { accepted: false, reason });
      }
      return;
    }
    const now_monotonicMs = clock.monotonic_ms();
    if (!burstGate(now_monotonicMs) || !dailyGate(now_monotonicMs)) {
      tooMany(message, now_monotonicMs);
      return;
    }
    take(message).catch((error: unknown) => {
      logger.error(
        { reason: error instanceof Error ? error.message : String(error) },
        "a journal entry failed",
      );
    });
  };
  bus.subscribe(topic, 1, hear, { retainAsPublished: true });

  async function take(message: BusMessage): Promise<void> {
    const { id, content, fault } = jsonRequestFrom(message.payload);
    if (content === undefined) {
      logger.info({ topic }, "a journal entry by MQTT was not understood");
      answer(id, { accepted: false, reason: `not understood: ${fault}` });
      return;
    }
    const outcome = await journal.enter(content, "remote");
    if (outcome.kind === "refused") {
      // Without details of what was sent: the log folds what is alike.
      const reason = outcome.refusal?.kind ?? "not understood, or no time or subject";
      logger.info({ topic, reason }, "a journal entry by MQTT was refused");
    }
    answer(id, answerTo(outcome, site.timeZone()));
  }

  function tooMany(message: BusMessage, now_monotonicMs: number): void {
    flood.dropped += 1;
    if (now_monotonicMs - flood.logged_monotonicMs >= floodLogEvery_ms) {
      logger.warn({ topic, dropped: flood.dropped }, "too many journal entries by MQTT; some were refused");
      flood = { logged_monotonicMs: now_monotonicMs, dropped: 0 };
    }
    if (!refusalGate(now_monotonicMs)) return;
    answer(jsonRequestFrom(message.payload).id, {
      accepted: false,
      reason:
        `too many: ${burst.most} entries in ${burst.within_ms / 1000} s are taken, and ${daily.most} in a day; ` +
        "it is not kept, send it again later",
    });
  }

  function answer(id: string | number | undefined, told: EntryAnswer): void {
    void bus.publish({
      topic: `${topic}/answer`,
      payload: JSON.stringify(id === undefined ? told : { id, ...told }),
      qos: 1,
      retain: false,
      expiry_s: answerExpiry_s,
    });
  }
}
