import type { IClientPublishOptions } from "mqtt";
import type { OutgoingMessage, PublishOutcome } from "../ports/message-bus.js";
import type { BrokerConnection } from "./broker-connection.js";
import { errorInWords } from "./fault-in-words.js";
import { LARGEST_PAYLOAD_BYTES } from "./payload-codec.js";
import { faultOfTopicName } from "./topics.js";

/** Sends on one connection and forgets everything when that connection ends. */
export interface Publisher {
  /** Resolves within `acknowledgeWithin_ms`; never rejects. */
  publish(message: OutgoingMessage): Promise<PublishOutcome>;
}

/** A broker that acknowledges later than this is as good as one that does not. */
const acknowledgeWithin_ms = 5_000;
/** More than this unsent in the socket: the link is dead or hopelessly slow. */
const largestBacklog_bytes = 1024 * 1024;

/** What is wrong with a message before it meets the network; undefined when nothing is. */
export function faultOfMessage(message: OutgoingMessage): string | undefined {
  const length_bytes = Buffer.byteLength(message.payload);
  return length_bytes > LARGEST_PAYLOAD_BYTES
    ? `the payload has ${length_bytes} bytes; at most ${LARGEST_PAYLOAD_BYTES} are sent`
    : faultOfTopicName(message.topic);
}

export function createPublisher(connection: BrokerConnection): Publisher {
  const { client, protocolVersion } = connection;
  const limits = client.serverProperties;
  // MQTT 5, 3.2.2.3.3: more unacknowledged messages than this end the connection.
  let freeSlots = limits?.receiveMaximum ?? 65_535;
  const waitingForSlot = new Set<() => void>();
  const pending = new Set<(outcome: PublishOutcome) => void>();
  let closedBecause: string | undefined;

  void connection.closed.then((reason) => {
    closedBecause = reason;
    waitingForSlot.clear();
    for (const settle of pending) settle({ kind: "failed", reason });
  });

  const freeSlot = (): void => {
    freeSlots += 1;
    const [next] = waitingForSlot;
    if (next !== undefined) {
      waitingForSlot.delete(next);
      next();
    }
  };

  const hand = (message: OutgoingMessage, settle: (outcome: PublishOutcome) => void): void => {
    const { topic, payload, qos, retain, expiry_s } = message;
    const options: IClientPublishOptions = {
      qos,
      retain,
      ...(protocolVersion === 5 && expiry_s !== undefined
        ? { properties: { messageExpiryInterval: Math.max(1, Math.round(expiry_s)) } }
        : {}),
    };
    if (qos === 1) freeSlots -= 1;
    try {
      client.publish(
        topic,
        typeof payload === "string" ? payload : Buffer.from(payload),
        options,
        (error) => {
          if (qos === 1) freeSlot();
          // At runtime the client passes null as well as undefined.
          settle(error instanceof Error ? { kind: "failed", reason: errorInWords(error) } : { kind: "sent" });
        },
      );
    } catch (error) {
      settle({ kind: "failed", reason: errorInWords(error) });
    }
  };

  return {
    publish(message) {
      if (closedBecause !== undefined) return Promise.resolve({ kind: "offline" });
      if (message.retain && limits?.retainAvailable === false) {
        return Promise.resolve({ kind: "failed", reason: "the broker does not keep retained messages" });
      }
      if (message.qos > (limits?.maximumQoS ?? 1)) {
        return Promise.resolve({ kind: "failed", reason: "the broker takes QoS 0 only" });
      }
      const { stream } = client;
      if ("writableLength" in stream && stream.writableLength > largestBacklog_bytes) {
        return Promise.resolve({ kind: "failed", reason: "the network does not take the data" });
      }
      return new Promise((resolve) => {
        const start = (): void => hand(message, settle);
        const settle = (outcome: PublishOutcome): void => {
          clearTimeout(timer);
          pending.delete(settle);
          // Given up before it was handed over: it must not be sent later.
          waitingForSlot.delete(start);
          resolve(outcome);
        };
        const timer = setTimeout(() => {
          const who =
            message.qos === 1 ? "the broker does not acknowledge it" : "the network does not take it";
          settle({ kind: "failed", reason: `${who} within ${acknowledgeWithin_ms / 1000} s` });
        }, acknowledgeWithin_ms);
        pending.add(settle);
        if (message.qos === 0 || freeSlots > 0) start();
        else waitingForSlot.add(start);
      });
    },
  };
}
