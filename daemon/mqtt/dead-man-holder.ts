import { setTimeout as sleep } from "node:timers/promises";
import type { RelayMessage } from "../ports/dead-man.js";
import type { PublishOutcome } from "../ports/message-bus.js";
import type { BrokerAccess } from "./broker-connection-options.js";
import type { BrokerConnection } from "./broker-connection.js";
import { createBrokerConnector } from "./broker-connector.js";
import type { HeldRelay } from "./dead-man-messages.js";
import { errorInWords } from "./fault-in-words.js";
import { createPublisher, type Publisher } from "./publisher.js";
import { createReconnectBackoff } from "./reconnect-backoff.js";

/** Of a connection that is only being made. */
export const noBeatYet = "no beat yet";

/** Holds one connection whose Last Will is the closing command of one relay. */
export interface DeadManHolder {
  readonly relayId: string;
  /**
   * Connects, and reconnects when the broker breaks the connection. A will is of use only at the broker where the
   * relay listens: with an address, a connection to another one is given up for it.
   */
  arm(address: string | undefined): void;
  /** Sends on the connection that holds the will, or not at all. */
  send(message: RelayMessage): Promise<PublishOutcome>;
  /** Breaks the connection without DISCONNECT. */
  trip(): void;
  /** Ends the connection with DISCONNECT: no will. */
  release(): Promise<void>;
  /** The address of the broker that holds the will. */
  armedAt(): string | undefined;
  /** Why it is not armed. */
  fault(): string | undefined;
}

const stableAfter_ms = 60_000;
const answerWithin_ms = 5_000;

export function createDeadManHolder(options: {
  readonly access: BrokerAccess;
  readonly keepalive_s: number;
  readonly relay: HeldRelay;
  readonly onChange: () => void;
}): DeadManHolder {
  const { access, keepalive_s, relay, onChange } = options;
  const connector = createBrokerConnector(access, {
    clientId: relay.clientId,
    keepalive_s,
    timeout_ms: answerWithin_ms,
    will: { topic: relay.commandTopic, payload: relay.payloadOff, qos: 1, retain: false },
  });
  const backoff = createReconnectBackoff({ random: Math.random, ceiling_ms: 10_000 });
  let connection: BrokerConnection | undefined;
  let publisher: Publisher | undefined;
  let fault: string | undefined = noBeatYet;
  let ending: AbortController | undefined;
  let wanted: string | undefined;

  const change = (next: BrokerConnection | undefined, reason: string | undefined): void => {
    connection = next;
    publisher = next === undefined ? undefined : createPublisher(next);
    fault = reason;
    onChange();
  };

  const hold = async (signal: AbortSignal): Promise<void> => {
    while (!isAborted(signal)) {
      const round = await connector.connect(signal, wanted);
      let reason: string;
      if (round.kind === "open") {
        if (isAborted(signal)) round.connection.cut("tripped");
        else change(round.connection, undefined);
        const opened_ms = performance.now();
        reason = await round.connection.closed;
        if (performance.now() - opened_ms >= stableAfter_ms) backoff.reset();
      } else {
        reason = round.reason;
      }
      if (isAborted(signal)) return;
      change(undefined, reason);
      await sleep(backoff.next_ms(), undefined, { signal }).catch(() => undefined);
    }
  };

  return {
    relayId: relay.relayId,
    arm(address) {
      wanted = address;
      const held = connection;
      if (held !== undefined && address !== undefined && held.address.text !== address) {
        change(undefined, `moves to ${address}, the broker that the daemon uses`);
        void held.disconnect();
      }
      if (ending !== undefined) return;
      ending = new AbortController();
      hold(ending.signal).catch((error: unknown) => change(undefined, errorInWords(error)));
    },
    send: (message) =>
      publisher?.publish({ ...message, retain: false }) ?? Promise.resolve({ kind: "offline" }),
    trip() {
      if (ending === undefined) return;
      ending.abort();
      ending = undefined;
      connection?.cut("tripped");
      change(undefined, "the daemon's beat is late");
    },
    async release() {
      ending?.abort();
      ending = undefined;
      const held = connection;
      change(undefined, "released");
      await held?.disconnect();
    },
    armedAt: () => connection?.address.text,
    fault: () => fault,
  };
}

/** A function, since the compiler would hold the first look at the flag for the last word. */
function isAborted(signal: AbortSignal): boolean {
  return signal.aborted;
}
