import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { BusState, MessageBus } from "../ports/message-bus.js";
import type { BrokerAccess, BrokerWill } from "./broker-connection-options.js";
import type { BrokerConnection } from "./broker-connection.js";
import { createBrokerConnector } from "./broker-connector.js";
import { errorInWords, reasonCodeInWords } from "./fault-in-words.js";
import { createPublisher, faultOfMessage, type Publisher } from "./publisher.js";
import { createReconnectBackoff } from "./reconnect-backoff.js";
import { type FilterInUse, createSubscriptions, type SubscriptionCounters } from "./subscriptions.js";

export interface MqttMessageBusOptions extends BrokerAccess {
  readonly clientId: string;
  readonly keepalive_s: number;
  readonly clock: Clock;
  readonly logger: Logger;
  readonly random: () => number;
  /** What the broker publishes when this connection breaks. */
  readonly will?: BrokerWill;
}

export interface MqttMessageBus extends MessageBus {
  /** For status and metrics. */
  counters(): SubscriptionCounters & { readonly connections: number };
}

const subscribeWithin_ms = 10_000;
/** A connection that held this long was a good one: the back-off starts over. */
const stableAfter_ms = 60_000;

function disconnectedNow(clock: Clock, reason: string): BusState {
  const now = clock.monotonic_ms();
  return { kind: "disconnected", reason, since_monotonicMs: now };
}

/**
 * Subscribes one filter. False when the connection is of no use without it: it is then cut, with the reason, since
 * a daemon that cannot hear a sensor or a relay must not look connected.
 */
async function subscribeOn(
  connection: BrokerConnection,
  { filter, qos, retainAsPublished }: FilterInUse,
): Promise<boolean> {
  const refused = new Promise<string | undefined>((resolve) => {
    const timer = setTimeout(() => resolve("the broker does not acknowledge it"), subscribeWithin_ms);
    connection.client.subscribe(filter, { qos, rap: retainAsPublished }, (error, _granted, packet) => {
      clearTimeout(timer);
      const code = packet?.granted.map(Number).find((granted) => granted >= 0x80);
      if (code !== undefined) resolve(reasonCodeInWords(code));
      else resolve(error instanceof Error ? errorInWords(error) : undefined);
    });
  });
  const ended = connection.closed.then(() => "the connection ended");
  const refusal = await Promise.race([ended, refused]);
  if (refusal === undefined) return true;
  connection.cut(`the broker refuses the subscription to "${filter}": ${refusal}`);
  return false;
}

/**
 * The site's message bus on an MQTT broker. It connects, subscribes and reconnects by itself; nothing that was
 * published while offline, or was unacknowledged at a break, is sent on a later connection.
 * @throws InvalidBrokerAddressError when an address cannot be read.
 */
export function createMqttMessageBus(options: MqttMessageBusOptions): MqttMessageBus {
  const { clock, logger, clientId, keepalive_s, will } = options;
  const connector = createBrokerConnector(options, {
    clientId,
    keepalive_s,
    ...(will === undefined ? {} : { will }),
  });
  const backoff = createReconnectBackoff({ random: options.random });
  const subscriptions = createSubscriptions({ clock, logger });
  const stateListeners: ((state: BusState) => void)[] = [];
  const ending = new AbortController();
  const isStopping = (): boolean => ending.signal.aborted;
  let state: BusState = disconnectedNow(clock, "not started");
  let current: { readonly connection: BrokerConnection; readonly publisher: Publisher } | undefined;
  let connections = 0;
  let running: Promise<void> | undefined;

  const setState = (next: BusState): void => {
    if (state.kind === "disconnected" && next.kind === "disconnected" && state.reason === next.reason) return;
    state = next;
    if (next.kind === "connected") {
      const { address, protocolVersion } = next;
      logger.info({ address, protocolVersion, clientId }, "connected to the broker");
    } else if (isStopping()) {
      logger.info({ reason: next.reason, clientId }, "disconnected from the broker");
    } else {
      logger.warn({ reason: next.reason, clientId }, "no connection to the broker");
    }
    for (const listener of stateListeners) {
      try {
        listener(next);
      } catch (error) {
        logger.error({ reason: errorInWords(error) }, "a listener of the bus state failed");
      }
    }
  };
  const disconnected = (reason: string): void => {
    // Several failed attempts are one outage.
    if (state.kind === "disconnected") setState({ ...state, reason });
    else setState(disconnectedNow(clock, reason));
  };

  const subscribeAll = async (connection: BrokerConnection): Promise<boolean> => {
    const done = new Set<string>();
    // A filter may be added while the others are being acknowledged.
    for (;;) {
      const open = subscriptions.filters().filter(({ filter }) => !done.has(filter));
      if (open.length === 0) return true;
      for (const { filter } of open) done.add(filter);
      const accepted = await Promise.all(open.map((used) => subscribeOn(connection, used)));
      if (accepted.includes(false)) return false;
    }
  };

  /** Lives through one connection; returns why it ended. */
  const useConnection = async (connection: BrokerConnection): Promise<string> => {
    connections += 1;
    const disconnect = (): void => void connection.disconnect();
    ending.signal.addEventListener("abort", disconnect, { once: true });
    if (isStopping()) disconnect();
    connection.client.on("message", (topic, payload, packet) => {
      subscriptions.dispatch(topic, payload, packet.retain);
    });
    try {
      if (await subscribeAll(connection)) {
        current = { connection, publisher: createPublisher(connection) };
        const { address, protocolVersion } = connection;
        setState({ kind: "connected", address: address.text, protocolVersion });
      }
      const reason = await connection.closed;
      return `${connection.address.text}: ${reason}`;
    } finally {
      current = undefined;
      connection.cut("given up");
      ending.signal.removeEventListener("abort", disconnect);
    }
  };

  /** Connects and stays connected as long as it lasts; returns why it ended or never began. */
  const connectAndStay = async (): Promise<string> => {
    try {
      const round = await connector.connect(ending.signal);
      if (round.kind === "failed") return round.reason;
      const opened_ms = clock.monotonic_ms();
      const reason = await useConnection(round.connection);
      if (clock.monotonic_ms() - opened_ms >= stableAfter_ms) backoff.reset();
      return reason;
    } catch (error) {
      logger.error({ reason: errorInWords(error) }, "the connection to the broker failed unexpectedly");
      return errorInWords(error);
    }
  };

  const run = async (): Promise<void> => {
    while (!isStopping()) {
      const reason = await connectAndStay();
      disconnected(isStopping() ? "stopped" : reason);
      await clock.sleep(backoff.next_ms(), ending.signal);
    }
    disconnected("stopped");
  };

  return {
    start() {
      running ??= run();
      return Promise.resolve();
    },
    async stop() {
      ending.abort();
      await running;
      disconnected("stopped");
    },
    state: () => state,
    subscribe(filter, qos, listener, options) {
      subscriptions.add(filter, qos, listener, options);
      const retainAsPublished = options?.retainAsPublished === true;
      if (current !== undefined) void subscribeOn(current.connection, { filter, qos, retainAsPublished });
    },
    publish(message) {
      const reason = faultOfMessage(message);
      if (reason !== undefined) return Promise.resolve({ kind: "failed", reason });
      return current === undefined
        ? Promise.resolve({ kind: "offline" })
        : current.publisher.publish(message);
    },
    onStateChange(listener) {
      stateListeners.push(listener);
    },
    counters: () => ({ ...subscriptions.counters(), connections }),
  };
}
