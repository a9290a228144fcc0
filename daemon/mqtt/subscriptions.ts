import type { Clock } from "../ports/clock.js";
import type { LogFields, Logger } from "../ports/logger.js";
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
  /** The few among them that name more than one topic: the others are found by their name. */
  const patterns: Entry[] = [];
  const logged = new Set<string>();
  let received = 0;
  let oversize = 0;
  let listenerFaults = 0;

  const logOnce = (kind: string, topic: string, fields: LogFields): void => {
    const shown = topic.slice(0, 200);
    const key = `${kind} ${shown}`;
    if (logged.has(key) || logged.size >= mostTopicsLogged) return;
    logged.add(key);
    logger.warn({ topic: shown, ...fields }, `${kind}; counted from now on, logged once`);
  };

  const handTo = ({ listeners }: Entry, message: BusMessage): void => {
    for (const listener of listeners) {
      try {
        listener(message);
      } catch (error) {
        listenerFaults += 1;
        const why = error instanceof Error ? error.message : String(error);
        logOnce("a listener failed on a message", message.topic, { reason: why });
      }
    }
  };

  return {
    add(filter, qos, listener, options) {
      const fault = faultOfTopicFilter(filter);
      if (fault !== undefined) throw new InvalidTopicError(filter, fault);
      const entry = entries.get(filter);
      if (entry === undefined) {
        const added: Entry = {
          filter,
          qos,
          retainAsPublished: options?.retainAsPublished === true,
          listeners: [listener],
        };
        entries.set(filter, added);
        if (/[+#]/.test(filter)) patterns.push(added);
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
      if (length_bytes > LARGEST_PAYLOAD_BYTES || isTooLong(topic)) {
        oversize += 1;
        logOnce("a message that is too large was dropped", topic, { size_bytes: length_bytes });
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
      const exact = entries.get(topic);
      if (exact !== undefined) handTo(exact, message);
      for (const pattern of patterns) if (topicMatches(pattern.filter, topic)) handTo(pattern, message);
    },
    counters: () => ({ received, oversize, listenerFaults }),
  };
}

/** UTF-8 takes at most three bytes for a unit of UTF-16: few topics need to be counted. */
function isTooLong(topic: string): boolean {
  return 3 * topic.length > LONGEST_TOPIC_BYTES && Buffer.byteLength(topic) > LONGEST_TOPIC_BYTES;
}
