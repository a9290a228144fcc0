import { performance } from "node:perf_hooks";
import { MqttClient } from "mqtt";
import type { BrokerAddress, BrokerTls, BrokerWill } from "./broker-connection-options.js";
import { openBrokerSocket } from "./broker-socket.js";
import { errorInWords, isTlsFault, reasonCodeInWords } from "./fault-in-words.js";

/** What one connection attempt needs. */
export interface ConnectionRequest {
  readonly address: BrokerAddress;
  readonly protocolVersion: 4 | 5;
  readonly clientId: string;
  readonly user?: string;
  readonly password?: string;
  readonly tls?: BrokerTls;
  readonly keepalive_s: number;
  readonly will?: BrokerWill;
  /** For TCP and TLS, and once more for the broker's answer. Real time, as everything at the socket. */
  readonly timeout_ms: number;
  readonly signal: AbortSignal;
}

/** One connection from CONNACK to its end; never used again after that. */
export interface BrokerConnection {
  readonly client: MqttClient;
  readonly address: BrokerAddress;
  readonly protocolVersion: 4 | 5;
  /** Resolves with the reason, in words, when the connection has ended. */
  readonly closed: Promise<string>;
  /** Ends it at once and without DISCONNECT: the broker publishes the will. */
  cut(reason: string): void;
  /** Ends it with DISCONNECT: the broker drops the will. Falls back to a cut after a second. */
  disconnect(): Promise<void>;
}

export type ConnectionOutcome =
  | { readonly kind: "open"; readonly connection: BrokerConnection }
  | {
      readonly kind: "failed";
      readonly reason: string;
      /** True when another protocol version may fare better. */
      readonly otherVersionMayWork: boolean;
    };

/** Above the bus's own bound on payloads, so that a message slightly too large is seen and counted. */
const largestPacket_bytes = 512 * 1024;
/** Of the keepalive, without a byte from the broker: mqtt.js asks at 1 and gives up at 1.5, this is the last word. */
const longestSilence_ratio = 1.75;
const disconnectWithin_ms = 1_000;

/**
 * Whether another version of MQTT may fare better: a reason code of MQTT 5 other than 0x84 proves that the broker
 * speaks it; a code of the 3.1.1 form, an answer that cannot be read, a reset or silence do not.
 */
function refusesVersion(error: unknown): boolean {
  if (isTlsFault(error)) return false;
  if (!(error instanceof Error) || !("code" in error) || typeof error.code !== "number") return true;
  return error.code < 0x80 || error.code === 0x84;
}

/** Calls `onSilence` when the broker has sent nothing for too long; returns the function that ends the watch. */
function watchForSilence(
  client: MqttClient,
  keepalive_s: number,
  onSilence: (reason: string) => void,
): () => void {
  let lastPacket_ms = performance.now();
  let asked = false;
  client.on("packetreceive", () => {
    lastPacket_ms = performance.now();
    asked = false;
  });
  const silence_s = (): number => (performance.now() - lastPacket_ms) / 1000;
  const limit_s = keepalive_s * longestSilence_ratio;
  const timer = setInterval(
    () => {
      // A broker may dictate a longer keepalive; the half-open link is to be found within ours.
      if (silence_s() > keepalive_s && client.keepalive > keepalive_s && !asked && client.connected) {
        asked = true;
        client.sendPing();
      }
      if (silence_s() <= limit_s) return;
      // After a stall of this process the answer may wait in the socket: look once more after reading.
      setImmediate(() => {
        if (silence_s() > limit_s) onSilence(`the broker did not answer for ${silence_s().toFixed(1)} s`);
      });
    },
    Math.min(1_000, (keepalive_s * 1_000) / 8),
  );
  return () => clearInterval(timer);
}

/**
 * One attempt with one address and one protocol version, with an MQTT client of its own: a clean session, no
 * reconnection and no queue, so that no message outlives its connection.
 */
export async function openBrokerConnection(request: ConnectionRequest): Promise<ConnectionOutcome> {
  const { address, protocolVersion, keepalive_s, timeout_ms, signal } = request;
  const opened = await openBrokerSocket(address, request.tls ?? {}, timeout_ms, signal);
  if (opened.kind === "failed") return { ...opened, otherVersionMayWork: false };
  const { socket } = opened;
  const client = new MqttClient(() => socket.stream, {
    protocolVersion,
    clientId: request.clientId,
    clean: true,
    reconnectPeriod: 0,
    queueQoSZero: false,
    resubscribe: false,
    keepalive: Math.max(1, Math.round(keepalive_s)),
    connectTimeout: timeout_ms,
    ...(request.user === undefined ? {} : { username: request.user }),
    ...(request.password === undefined ? {} : { password: request.password }),
    ...(request.will === undefined
      ? {}
      : { will: { ...request.will, payload: Buffer.from(request.will.payload) } }),
    ...(protocolVersion === 5
      ? { properties: { sessionExpiryInterval: 0, maximumPacketSize: largestPacket_bytes } }
      : {}),
  });

  let fault: { readonly reason: string; readonly otherVersionMayWork: boolean } | undefined;
  const cut = (reason: string, otherVersionMayWork = false): void => {
    fault ??= { reason, otherVersionMayWork };
    socket.reset();
  };
  client.on("error", (error) => cut(errorInWords(error), refusesVersion(error)));
  client.on("disconnect", (packet) => cut(reasonCodeInWords(packet.reasonCode ?? 0)));
  const onAbort = (): void => cut("stopped");
  signal.addEventListener("abort", onAbort, { once: true });
  const closed = new Promise<string>((resolve) => {
    client.once("close", () => resolve(fault?.reason ?? "the broker closed the connection"));
  });
  const isOpen = await new Promise<boolean>((resolve) => {
    client.once("connect", () => resolve(true));
    client.once("close", () => resolve(false));
  });
  signal.removeEventListener("abort", onAbort);
  if (!isOpen) {
    const silent = {
      reason: "the broker closed the connection without an answer",
      otherVersionMayWork: true,
    };
    return { kind: "failed", ...(fault ?? silent) };
  }

  const endWatch = watchForSilence(client, keepalive_s, cut);
  void closed.then(endWatch);
  return {
    kind: "open",
    connection: {
      client,
      address,
      protocolVersion,
      closed,
      cut: (reason) => cut(reason),
      async disconnect() {
        fault ??= { reason: "stopped", otherVersionMayWork: false };
        const timer = setTimeout(() => socket.reset(), disconnectWithin_ms);
        client.end(false);
        await closed;
        clearTimeout(timer);
      },
    },
  };
}
