/** What arrived on a subscribed topic. */
export interface BusMessage {
  readonly topic: string;
  readonly payload: Uint8Array;
  /** True when the broker held it: such a message is history, it neither actuates nor counts as fresh. */
  readonly retained: boolean;
  readonly at_epochMs: number;
  readonly at_monotonicMs: number;
}

export interface OutgoingMessage {
  readonly topic: string;
  readonly payload: string | Uint8Array;
  readonly qos: 0 | 1;
  readonly retain: boolean;
  /** A broker that speaks MQTT 5 drops the message after this time instead of delivering it late. */
  readonly expiry_s?: number;
}

/** "sent": handed to the network (QoS 1: acknowledged). Nothing is ever queued for a later connection. */
export type PublishOutcome =
  | { readonly kind: "sent" }
  | { readonly kind: "offline" }
  | { readonly kind: "failed"; readonly reason: string };

export type BusState =
  | { readonly kind: "connected"; readonly address: string; readonly protocolVersion: 4 | 5 }
  | { readonly kind: "disconnected"; readonly reason: string; readonly since_monotonicMs: number };

export interface SubscribeOptions {
  /**
   * A message that is sent to be held counts as retained already when it comes live; for commands, which must not act again from
   * the broker's memory. Only MQTT 5 can tell; by an older protocol it comes as a live one.
   */
  readonly retainAsPublished?: boolean;
}

export interface MessageBus {
  /** Starts connecting and returns; never rejects because a broker is away. */
  start(): Promise<void>;
  /** Ends the connection cleanly; resolves when the socket is closed. */
  stop(): Promise<void>;
  state(): BusState;
  /** May be called before start; every filter is subscribed again on every connection. */
  subscribe(
    filter: string,
    qos: 0 | 1,
    listener: (message: BusMessage) => void,
    options?: SubscribeOptions,
  ): void;
  publish(message: OutgoingMessage): Promise<PublishOutcome>;
  /** Called on every change, after the subscriptions of a new connection are acknowledged. */
  onStateChange(listener: (state: BusState) => void): void;
}
