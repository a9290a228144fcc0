/** A relay whose closing command is left with the broker as a Last Will. */
export interface GuardedRelay {
  readonly relayId: string;
  readonly commandTopic: string;
  readonly payloadOff: string;
}

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
  /** True while the broker holds the relay's will and the holder has confirmed it lately. */
  isArmed(relayId: string): boolean;
}
