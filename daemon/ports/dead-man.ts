import type { OutgoingMessage } from "./message-bus.js";

/** A relay whose closing command is left with the broker as a Last Will. */
export interface GuardedRelay {
  readonly relayId: string;
  readonly commandTopic: string;
  readonly payloadOff: string;
}

/** A message to a relay over its own dead-man connection. */
export type RelayMessage = Pick<OutgoingMessage, "topic" | "qos" | "expiry_s"> & { readonly payload: string };

/** The dead-man connections: they break, and the broker closes the relays, when `beat` stops coming. */
export interface DeadMan {
  start(): Promise<void>;
  /**
   * Ends all dead-man connections. Unless the relays have confirmed that they are off, the connections are broken,
   * so that the broker publishes the closing commands.
   */
  stop(relaysAre: "confirmed off" | "not confirmed off"): Promise<void>;
  /** Call after each completed tick, and only then. */
  beat(): void;
  /**
   * Sends on the connection that holds the relay's will: the broker works off what came on a connection before the will
   * that it leaves. Nothing is sent, now or later, where that connection is not there.
   */
  send(relayId: string, message: RelayMessage): void;
  /** True while the broker holds the relay's will and the holder has confirmed it lately. */
  isArmed(relayId: string): boolean;
}
