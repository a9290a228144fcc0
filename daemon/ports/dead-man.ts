/** A relay whose closing command is left with the broker as a Last Will. */
export interface GuardedRelay {
  readonly relayId: string;
  readonly commandTopic: string;
  readonly payloadOff: string;
}

/** The dead-man connections: they break, and the broker closes the relays, when `beat` stops coming. */
export interface DeadMan {
  start(): Promise<void>;
  /** Ends all dead-man connections. Call it after the relays have confirmed that they are off. */
  stop(): Promise<void>;
  /** Call after each completed tick, and only then. */
  beat(): void;
  /** True while the broker holds the relay's will and the holder has confirmed it lately. */
  isArmed(relayId: string): boolean;
}
