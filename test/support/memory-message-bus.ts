import { createSubscriptions, type Subscriptions } from "../../daemon/mqtt/subscriptions.js";
import { faultOfMessage } from "../../daemon/mqtt/publisher.js";
import { topicMatches } from "../../daemon/mqtt/topics.js";
import type { Clock } from "../../daemon/ports/clock.js";
import type { Logger } from "../../daemon/ports/logger.js";
import type {
  BusMessage,
  BusState,
  MessageBus,
  OutgoingMessage,
  PublishOutcome,
} from "../../daemon/ports/message-bus.js";

/** A message that went through the broker, for a test to look at. */
interface PassedMessage {
  readonly topic: string;
  readonly payload: string;
  readonly retain: boolean;
  readonly at_monotonicMs: number;
}

export interface MemoryMessageBus extends MessageBus {
  /** Breaks the connection without DISCONNECT (the will is published) and keeps it broken. */
  dropConnection(reason: string): void;
  /** Lets the bus connect again, which it does at once. */
  restoreConnection(): void;
}

export interface MemoryBroker {
  /** Everything that was published, in order. */
  readonly passed: readonly PassedMessage[];
  /** A device speaks. */
  publish(
    topic: string,
    payload: string | Uint8Array,
    options?: { readonly retain?: boolean; readonly expiry_s?: number },
  ): void;
  /** A device listens; it is always connected and gets no retained messages. */
  listen(filter: string, listener: (message: BusMessage) => void): void;
  /** Everything delivered from now on arrives so much later, on the given clock. */
  delayDeliveries(delay_ms: number): void;
  createBus(options: {
    readonly logger: Logger;
    readonly will?: { readonly topic: string; readonly payload: string; readonly retain: boolean };
  }): MemoryMessageBus;
}

interface Receiver {
  isConnected(): boolean;
  /** Changes with every connection: what was on its way to an earlier one is lost. */
  connectionNumber(): number;
  readonly subscriptions: Subscriptions;
}

const textOf = (payload: string | Uint8Array): string =>
  typeof payload === "string" ? payload : new TextDecoder().decode(payload);

/** A small real broker in memory: retained messages, wills, delivery in order, on the clock it is given. */
export function createMemoryBroker(ports: { readonly clock: Clock; readonly logger: Logger }): MemoryBroker {
  const { clock } = ports;
  const retained = new Map<string, Uint8Array>();
  const passed: PassedMessage[] = [];
  const receivers: Receiver[] = [];
  const waiting: (() => void)[] = [];
  let draining = false;
  let delay_ms = 0;

  // A listener that publishes is answered after the message at hand, as over a network.
  const inTurn = (deliver: () => void): void => {
    waiting.push(deliver);
    if (draining) return;
    draining = true;
    for (let next = waiting.shift(); next !== undefined; next = waiting.shift()) next();
    draining = false;
  };

  const deliverTo = (
    receiver: Receiver,
    topic: string,
    payload: Uint8Array,
    options: { readonly retained: boolean; readonly expiry_s: number },
  ): void => {
    const connection = receiver.connectionNumber();
    const filters = receiver.subscriptions.filters();
    if (!filters.some(({ filter }) => topicMatches(filter, topic))) return;
    const deliver = (): void => {
      if (!receiver.isConnected() || receiver.connectionNumber() !== connection) return;
      receiver.subscriptions.dispatch(topic, payload, options.retained);
    };
    if (delay_ms === 0) inTurn(deliver);
    else if (delay_ms < options.expiry_s * 1000) void clock.sleep(delay_ms).then(() => inTurn(deliver));
  };

  const pass = (message: Pick<OutgoingMessage, "topic" | "payload" | "retain" | "expiry_s">): void => {
    const { topic, retain } = message;
    const now = clock.monotonic_ms();
    passed.push({ topic, payload: textOf(message.payload), retain, at_monotonicMs: now });
    const payload = new Uint8Array(Buffer.from(message.payload as string));
    if (retain && payload.byteLength === 0) retained.delete(topic);
    else if (retain) retained.set(topic, payload);
    const options = { retained: false, expiry_s: message.expiry_s ?? Number.POSITIVE_INFINITY };
    for (const receiver of receivers)
      if (receiver.isConnected()) deliverTo(receiver, topic, payload, options);
  };

  const deliverRetained = (receiver: Receiver, filter: string): void => {
    for (const [topic, payload] of retained) {
      if (!topicMatches(filter, topic)) continue;
      deliverTo(receiver, topic, payload, { retained: true, expiry_s: Number.POSITIVE_INFINITY });
    }
  };

  return {
    passed,
    publish: (topic, payload, options) => pass({ topic, payload, retain: false, ...options }),
    listen(filter, listener) {
      const subscriptions = createSubscriptions(ports);
      subscriptions.add(filter, 0, listener);
      receivers.push({ subscriptions, isConnected: () => true, connectionNumber: () => 0 });
    },
    delayDeliveries(next_ms) {
      delay_ms = next_ms;
    },
    createBus({ logger, will }) {
      const subscriptions = createSubscriptions({ clock, logger });
      const listeners: ((state: BusState) => void)[] = [];
      let connections = 0;
      let started = false;
      let broken: string | undefined;
      const disconnectedNow = (reason: string): BusState => {
        const now = clock.monotonic_ms();
        return { kind: "disconnected", reason, since_monotonicMs: now };
      };
      let state: BusState = disconnectedNow("not started");
      const isConnected = (): boolean => state.kind === "connected";
      const receiver: Receiver = { subscriptions, isConnected, connectionNumber: () => connections };
      receivers.push(receiver);

      const setState = (next: BusState): void => {
        state = next;
        for (const listener of listeners) {
          try {
            listener(next);
          } catch (error) {
            logger.error({ reason: String(error) }, "a listener of the bus state failed");
          }
        }
      };
      const connectIfPossible = (): void => {
        if (!started || isConnected()) return;
        if (broken !== undefined) {
          setState(disconnectedNow(broken));
          return;
        }
        connections += 1;
        setState({ kind: "connected", address: "memory", protocolVersion: 5 });
        for (const { filter } of subscriptions.filters()) deliverRetained(receiver, filter);
      };

      return {
        start() {
          started = true;
          connectIfPossible();
          return Promise.resolve();
        },
        stop() {
          started = false;
          setState(disconnectedNow("stopped"));
          return Promise.resolve();
        },
        state: () => state,
        subscribe(filter, qos, listener) {
          subscriptions.add(filter, qos, listener);
          if (isConnected()) deliverRetained(receiver, filter);
        },
        publish(message): Promise<PublishOutcome> {
          const reason = faultOfMessage(message);
          if (reason !== undefined) return Promise.resolve({ kind: "failed", reason });
          if (!isConnected()) return Promise.resolve({ kind: "offline" });
          pass(message);
          return Promise.resolve({ kind: "sent" });
        },
        onStateChange(listener) {
          listeners.push(listener);
        },
        dropConnection(reason) {
          const wasConnected = isConnected();
          broken = reason;
          if (!wasConnected) return;
          setState(disconnectedNow(reason));
          if (will !== undefined) pass(will);
        },
        restoreConnection() {
          broken = undefined;
          connectIfPossible();
        },
      };
    },
  };
}
