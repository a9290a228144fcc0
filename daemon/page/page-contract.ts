import type { Hold } from "../../lib/control/hold.js";
import type { Trip } from "../../lib/control/trip.js";
import type { ClockVerdict } from "../../lib/schedule/clock-plausibility.js";
import type { DosingWindow } from "../../lib/schedule/dosing-windows.js";
import type { UpkeepItem } from "../../lib/upkeep/upkeep-items.js";
import type { AlarmDocument } from "../alarms/alarm-document.js";
import type { EndedCharge } from "../charge-log/charge-log.js";
import type { LeakTestView } from "../leak-tests/leak-test-keeper.js";
import type { TankModel } from "../site-model.js";
import type { ValveStatus } from "../site-status.js";
import type { EndOfVessel } from "../supply/vessel-ends.js";
import type { VesselSupply } from "../supply/vessel-supply.js";
import type { TankEstimate } from "../tank/estimated-tank.js";
import type { LearntTankStatus } from "../tank/learnt-tank-status.js";

/**
 * What the page is told, as JSON. Types alone: the page computes nothing but how a value is written. What is undefined here is
 * absent in JSON, and a number that is not finite arrives as null.
 */

/** The last value that was believed, with its age's beginning. */
export interface SensorPicture {
  readonly sensorId: string;
  readonly value: number;
  readonly at_epochMs: number;
  /** No older than its config allows. */
  readonly isFresh: boolean;
}

export interface VesselPicture {
  readonly vesselId: string;
  readonly kind: "generator" | "liquid";
  readonly volume_L: number;
  readonly workingPressureGauge_bar: number;
  readonly ratedPressureGauge_bar: number | undefined;
  readonly reliefOpeningGauge_bar: number | undefined;
  readonly pressureGauge_bar: SensorPicture | undefined;
  readonly temperature_degC: SensorPicture | undefined;
  readonly vesselMass_g: SensorPicture | undefined;
  readonly outletPressureGauge_bar: SensorPicture | undefined;
  readonly supply: VesselSupply | undefined;
  readonly end: EndOfVessel | undefined;
  readonly leakTest: LeakTestView | undefined;
  /** The last charge that has ended. */
  readonly endedCharge: EndedCharge["report"] | undefined;
}

export interface ValvePicture extends Omit<ValveStatus, "openSince_monotonicMs"> {
  readonly vesselId: string;
  readonly tankIds: readonly string[];
  /** From a day ago until two days ahead. */
  readonly windows: readonly DosingWindow[];
}

export interface TankPicture extends TankEstimate {
  readonly volume_L: number;
  readonly limits: TankModel["limits"];
  readonly pHReading: SensorPicture | undefined;
  readonly temperatureReading: SensorPicture | undefined;
  readonly learnt: LearntTankStatus | undefined;
  /** When its lights are on, from a day ago until two days ahead. */
  readonly lights: readonly DosingWindow[];
}

/** What comes next by the clock or the forecast. */
export interface NextEvent {
  readonly kind: "valve opens" | "valve closes" | "charge runs out" | "refill";
  /** Of the valve or the vessel. */
  readonly subjectId: string;
  readonly at_epochMs: number;
}

export interface SitePicture {
  readonly site: { readonly siteId: string; readonly timeZone: string; readonly version: string };
  /** The site's time when this was told. */
  readonly now_epochMs: number;
  /** When the last control pass was made that this tells of. */
  readonly passed_epochMs: number;
  readonly clock: ClockVerdict;
  readonly vessels: readonly VesselPicture[];
  readonly valves: readonly ValvePicture[];
  readonly tanks: readonly TankPicture[];
  /** Every alarm that is not simply normal, most urgent first. */
  readonly alarms: readonly AlarmDocument[];
  readonly trips: readonly Trip[];
  readonly holds: readonly Hold[];
  readonly upkeep: readonly UpkeepItem[];
  /** Soonest first, the nearest few. */
  readonly next: readonly NextEvent[];
}

/** Told while nothing changes, so that the page knows that it still hears. */
export interface Beat {
  readonly now_epochMs: number;
  /** The daemon answers, but no control pass has been made for a while. */
  readonly isPassLate: boolean;
}
