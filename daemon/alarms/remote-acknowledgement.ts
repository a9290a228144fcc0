import { z } from "zod";
import { createGate, jsonRequestFrom } from "../mqtt/json-request.js";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { BusMessage, MessageBus } from "../ports/message-bus.js";
import { readRequest } from "../read-request.js";
import type { SiteAlarms } from "./site-alarms.js";

const requestSchema = z.strictObject({ alarm: z.string().min(1).max(200) });
/** A person at a form sends a few at once; a loop sends thousands. */
const burst = { most: 20, within_ms: 10_000 };
const floodLogEvery_ms = 60_000;
/** An answer that comes later than this helps nobody. */
const answerExpiry_s = 60;

/**
 * Acknowledgement by MQTT at `<base>/alarms/acknowledge`: {"alarm": "guard-silent/loach-ph"}, answered at
 * `<base>/alarms/acknowledge/answer` with the `id` that the sender gave. A retained one is history and is ignored. From afar
 * an alarm is acknowledged and nothing else: shelving and removing from service are for the person at the machine.
 */
export function listenForAcknowledgements(
  ports: {
    readonly bus: Pick<MessageBus, "subscribe" | "publish">;
    readonly clock: Pick<Clock, "monotonic_ms">;
    readonly logger: Logger;
  },
  baseTopic: string,
  alarms: Pick<SiteAlarms, "act">,
): void {
  const { bus, clock, logger } = ports;
  const topic = `${baseTopic}/alarms/acknowledge`;
  const gate = createGate(burst);
  const refusalGate = createGate(burst);
  let flood = { logged_monotonicMs: Number.NEGATIVE_INFINITY, dropped: 0 };

  const hear = (message: BusMessage): void => {
    if (message.payload.byteLength === 0) return;
    if (message.retained) {
      logger.warn({ topic }, "a retained acknowledgement was ignored; clear it at the broker");
      return;
    }
    const now_monotonicMs = clock.monotonic_ms();
    if (gate(now_monotonicMs)) take(message);
    else tooMany(message, now_monotonicMs);
  };
  bus.subscribe(topic, 1, hear, { retainAsPublished: true });

  function take(message: BusMessage): void {
    const { id, content, fault } = jsonRequestFrom(message.payload);
    const read =
      content === undefined
        ? { kind: "not understood" as const, reason: fault }
        : readRequest(requestSchema, content);
    if (read.kind === "not understood") {
      logger.info({ topic }, "an acknowledgement by MQTT was not understood");
      answer(id, `not understood: ${read.reason}; send {"alarm": "..."} with the id of one alarm`);
      return;
    }
    const { alarm } = read.request;
    answer(id, alarms.act(alarm, { kind: "acknowledge" }, "remote"), alarm);
  }

  function tooMany(message: BusMessage, now_monotonicMs: number): void {
    flood.dropped += 1;
    if (now_monotonicMs - flood.logged_monotonicMs >= floodLogEvery_ms) {
      logger.warn({ topic, dropped: flood.dropped }, "too many acknowledgements by MQTT; some were dropped");
      flood = { logged_monotonicMs: now_monotonicMs, dropped: 0 };
    }
    if (!refusalGate(now_monotonicMs)) return;
    answer(
      jsonRequestFrom(message.payload).id,
      `too many: ${burst.most} in ${burst.within_ms / 1000} s are taken; send it again later`,
    );
  }

  function answer(id: string | number | undefined, refusal: string | undefined, alarm?: string): void {
    const told = {
      ...(id === undefined ? {} : { id }),
      accepted: refusal === undefined,
      ...(alarm === undefined ? {} : { alarm }),
      ...(refusal === undefined ? {} : { reason: refusal }),
    };
    void bus.publish({
      topic: `${topic}/answer`,
      payload: JSON.stringify(told),
      qos: 1,
      retain: false,
      expiry_s: answerExpiry_s,
    });
  }
}
