import type { TrackedAlarm } from "../lib/alarm/alarm-step.js";
import type { ValveDecision } from "../lib/control/control-step.js";
import type { Override, WindowState } from "../lib/control/decide.js";
import type { Hold } from "../lib/control/hold.js";
import type { StandingCause } from "../lib/control/interlock.js";
import type { Trip } from "../lib/control/trip.js";
import type { ClockVerdict } from "../lib/schedule/clock-plausibility.js";
import type { EndedCharge } from "./charge-log/charge-log.js";
import type { LeakTestView } from "./leak-tests/leak-test-keeper.js";
import type { SensorView } from "./sensor-inbox.js";
import type { EndOfVessel } from "./supply/vessel-ends.js";
import type { VesselSupply } from "./supply/vessel-supply.js";
import type { TankEstimate } from "./tank/estimated-tank.js";
import type { LearntTankStatus } from "./tank/learnt-tank-status.js";

export interface ValveStatus {
  readonly valveId: string;
  readonly decision: ValveDecision;
  readonly reported: "open" | "closed" | "unknown";
  readonly window: WindowState;
  readonly openSince_monotonicMs: number | undefined;
  readonly override: Override | undefined;
  /** What persons have set on it, on its vessel, or on what is not in the config any more. */
  readonly holds: readonly Hold[];
}

export interface SiteStatus {
  readonly at_epochMs: number;
  readonly at_monotonicMs: number;
  readonly clock: ClockVerdict;
  readonly valves: readonly ValveStatus[];
  readonly tanks: readonly TankEstimate[];
  /** What the nights and mornings of each tank with a pH sensor have taught. */
  readonly learnt: readonly LearntTankStatus[];
  /** What is left in each vessel whose charge is known. */
  readonly supplies: readonly VesselSupply[];
  /** Of each vessel the running leak test, or the last one. */
  readonly leakTests: readonly LeakTestView[];
  /** Where the charge of every vessel stands against its end. */
  readonly ends: readonly EndOfVessel[];
  /** Of each vessel the last charge that has ended. */
  readonly endedCharges: readonly EndedCharge[];
  readonly sensors: readonly SensorView[];
  readonly alarms: readonly TrackedAlarm[];
  readonly trips: readonly Trip[];
  /** What persons have set on valves and vessels. */
  readonly holds: readonly Hold[];
  /** Causes of trips that hold at this instant. */
  readonly standing: readonly StandingCause[];
}
