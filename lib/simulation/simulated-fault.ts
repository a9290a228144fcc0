/** From the onset on, until the end where there is one. */
interface FaultSpan {
  readonly onset_epochMs: number;
  readonly until_epochMs?: number;
}

/**
 * - sensor-silent: sends nothing any more
 * - sensor-stuck: repeats the last value from before the onset
 * - sensor-spikes: `spike_ratio` of all values are off by `size`, up or down, in the sensor's own unit
 * - sensor-implausible: sends one and the same absurd value, in the sensor's own unit
 * - sensor-drifts: its zero point creeps by so much more a day, in the sensor's own unit; gone at the end
 */
export type SensorFault = FaultSpan & { readonly sensorId: string } & (
    | { readonly kind: "sensor-silent" }
    | { readonly kind: "sensor-stuck" }
    | { readonly kind: "sensor-spikes"; readonly size: number; readonly spike_ratio: number }
    | { readonly kind: "sensor-implausible"; readonly value: number }
    | { readonly kind: "sensor-drifts"; readonly driftPerDay: number }
  );

/**
 * - relay-mute: obeys and tells nobody
 * - relay-lies: confirms every command; the contact stays as it was at the onset
 * - relay-welded: the contact stays closed; most relays can only report their coil
 * - relay-flaps: switches over by itself, once a period
 * - relay-ignores-commands: answers each command with the state that it keeps
 * - relay-without-power: dead from the onset; comes up in its power-on state at the end
 */
export type RelayFault = FaultSpan & { readonly relayId: string } & (
    | { readonly kind: "relay-mute" }
    | { readonly kind: "relay-lies" }
    | { readonly kind: "relay-welded"; readonly reports: "coil" | "contact" }
    | { readonly kind: "relay-flaps"; readonly period_s: number }
    | { readonly kind: "relay-ignores-commands" }
    | { readonly kind: "relay-without-power" }
  );

/**
 * - valve-seat-leaks: the closed valve passes this share of its open flow; no relay shows it
 * - vessel-leaks: a hole that passes this much for each bar of absolute pressure
 * - needle-moved: somebody turned the needle valve to this share of its former opening
 */
export type GasFault = FaultSpan &
  (
    | { readonly kind: "valve-seat-leaks"; readonly valveId: string; readonly leak_ratio: number }
    | { readonly kind: "vessel-leaks"; readonly vesselId: string; readonly leak_molPerHBar: number }
    | { readonly kind: "needle-moved"; readonly valveId: string; readonly opening_ratio: number }
  );

/** What can go wrong in a simulated site: data, so that a scenario is a list of them. */
export type SimulatedFault = SensorFault | RelayFault | GasFault;

/** The faults that hold at an instant; the onset belongs to the span, the end does not. */
export function faultsAt<F extends SimulatedFault>(faults: readonly F[], at_epochMs: number): readonly F[] {
  return faults.filter(
    (fault) => at_epochMs >= fault.onset_epochMs && at_epochMs < (fault.until_epochMs ?? Infinity),
  );
}

export function isSensorFault(fault: SimulatedFault): fault is SensorFault {
  return "sensorId" in fault;
}

export function isRelayFault(fault: SimulatedFault): fault is RelayFault {
  return "relayId" in fault;
}

export function isGasFault(fault: SimulatedFault): fault is GasFault {
  return !isSensorFault(fault) && !isRelayFault(fault);
}
