/** What a relay must do and how soon. The topics and payloads are the daemon's business. */
export interface RelayRules {
  readonly relayId: string;
  /** A command that the relay has not reported back within this time is sent again. */
  readonly confirmWithin_s: number;
  /** The relay drops by itself after this time without a new ON; undefined: it does not. */
  readonly autoOff_s: number | undefined;
  /** True where the relay can be asked for its state, so that each repeated ON can be confirmed too. */
  readonly answersStatusQuery: boolean;
}

/** A valve, the tanks it feeds, and what must be known before it may open. */
export interface ValveRules {
  readonly valveId: string;
  readonly tankIds: readonly string[];
  readonly guardSensorIds: readonly string[];
  readonly longestOpen_min: number;
  /** The valve's relay first, then the second valve in series where there is one. All must be on for gas to flow. */
  readonly gasRelays: readonly RelayRules[];
  /** An air pump that runs when its relay drops: held while gas flows, running in every other case. */
  readonly airPumpRelay: RelayRules | undefined;
  /** The config accepts, in so many words, a relay that never drops by itself. */
  readonly acceptedWithoutAutoOff: boolean;
}

/** Limits beyond which a tank closes its valve. */
export interface TankLimits {
  readonly co2Close_mgPerL: number;
  readonly co2Rise_mgPerLPer30Min: number;
  readonly pHFloor: number;
  readonly temperatureHigh_degC: number;
}
