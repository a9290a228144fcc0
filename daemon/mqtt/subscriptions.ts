import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { BusMessage, SubscribeOptions } from "../ports/message-bus.js";
import { LARGEST_PAYLOAD_BYTES } from "./payload-codec.js";
import { faultOfTopicFilter, InvalidTopicError, LONGEST_TOPIC_BYTES, topicMatches } from "./topics.js";

export interface SubscriptionCounters {
  readonly received: number;
  /** Dropped unread, because payload or topic were too long. */
  readonly oversize: number;
  readonly listenerFaults: number;
}

export interface FilterInUse {
  readonly filter: string;
  readonly qos: 0 | 1;
  readonly retainAsPublished: boolean;
}

/** Who listens to what; it outlives the connections. */
export interface Subscriptions {
  /** @throws InvalidTopicError when the filter is none. */
  add(filter: string, qos: 0 | 1, listener: (message: BusMessage) => void, options?: SubscribeOptions): void;
  filters(): readonly FilterInUse[];
  /** Hands a message to every listener whose filter matches; never throws. */
  dispatch(topic: string, payload: Uint8Array, retained: boolean): void;
  counters(): SubscriptionCounters;
}

interface Entry {
  readonly filter: string;
  qos: 0 | 1;
  readonly retainAsPublished: boolean;
  readonly listeners: ((message: BusMessage) => void)[];
}

/** So many topics get a log line for each kind of fault; the rest is only counted. */
const mostTopicsLogged = 100;

export function createSubscriptions(ports: {
  readonly clock: Clock;
  readonly logger: Logger;
}): Subscriptions {
  const { clock, logger } = ports;
  const entries = new Map<string, Entry>();
  const logged = new Set<string>();
  let received = 0;
  let oversize = 0;
  let listenerFaults = 0;

  const logOnce = (kind: string, topic: string, fields: Readonly<Record<string, unknown>>): void => {
    const shown = topic.slice(0, 200);
    const key = `${kind} ${shown}`;
    if (logged.has(key) || logged.size >= mostTopicsLogged) return;
    logged.add(key);
    logger.warn({ topic: shown, ...fields }, `${kind}; counted from now on, logged once`);
  };

  return {
    add(filter, qos, listener, options) {
      const fault = faultOfTopicFilter(filter);
      if (fault !== undefined) throw new InvalidTopicError(filter, fault);
      const entry = entries.get(filter);
      if (entry === undefined) {
        entries.set(filter, {
          filter,
          qos,
          retainAsPublished: options?.retainAsPublished === true,
          listeners: [listener],
        });
      } else {
        if (qos > entry.qos) entry.qos = qos;
        entry.listeners.push(listener);
      }
    },
    filters: () =>
      [...entries.values()].map(({ filter, qos, retainAsPublished }) => ({ filter, qos, retainAsPublished })),
    dispatch(topic, payload, retained) {
      received += 1;
      const length_bytes = payload.byteLength;
      if (length_bytes > LARGEST_PAYLOAD_BYTES || Buffer.byteLength(topic) > LONGEST_TOPIC_BYTES) {
        oversize += 1;
        logOnce("a message that is too large was dropped", topic, { length_bytes });
        return;
      }
      const monotonic = clock.monotonic_ms();
      const message: BusMessage = {
        topic,
        payload,
        retained,
        at_epochMs: clock.now_epochMs(),
        at_monotonicMs: monotonic,
      };
      for (const { filter, listeners } of entries.values()) {
        if (!topicMatches(filter, topic)) continue;
        for (const listener of listeners) {
          try {
            listener(message);
          } catch (error) {
            listenerFaults += 1;
            const why = error instanceof Error ? error.message : String(error);
            logOnce("a listener failed on a message", topic, { error: why });
          }
        }
      }
    },
    counters: () => ({ received, oversize, listenerFaults }),
  };
}
