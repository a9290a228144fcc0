/** What a sensor measures, named with the unit in which lib/ computes. */
export type MeasuredQuantity =
  "pH" | "temperature_degC" | "pressureGauge_bar" | "mass_g" | "co2InAir_ppm" | "bubbleRate_perMin";

/** A value that passed every gate: in its canonical unit, calibrated, plausible, fresh when it arrived. */
export interface Reading {
  readonly kind: "accepted";
  readonly sensorId: string;
  readonly quantity: MeasuredQuantity;
  readonly value: number;
  readonly at_epochMs: number;
  /** Ages are counted from this one, since the civil clock may jump; that one adds the time asleep. */
  readonly at_monotonicMs: number;
}

/** Why a value was not believed. Counted for each sensor, never thrown. */
export type RejectionReason =
  | "retained"
  | "undecodable"
  | "not a number"
  | "implausible"
  | "spike"
  | "stuck"
  | "too old"
  | "from the future";

export interface RejectedReading {
  readonly kind: "rejected";
  readonly sensorId: string;
  readonly reason: RejectionReason;
  /** What was seen and what is allowed, in words; at most 200 characters, never the whole payload. */
  readonly detail: string;
  readonly at_epochMs: number;
}
