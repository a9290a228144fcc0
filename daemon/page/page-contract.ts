import type { Caution } from "../../lib/charge-plan/cautions.js";
import type { ChargePlan, RefusedPlan } from "../../lib/charge-plan/plan-charge.js";
import type { ChargeReport } from "../../lib/charge-log/charge-report.js";
import type { FollowedCharge } from "../../lib/charge-log/followed-charge.js";
import type { ServedComparison } from "../../lib/charge-log/compare-charges.js";
import type { Hold } from "../../lib/control/hold.js";
import type { Trip } from "../../lib/control/trip.js";
import type { FanPoint } from "../../lib/estimation/forecast-fan.js";
import type { RunOut } from "../../lib/estimation/run-out.js";
import type { JournalEntry, PressureAsRead } from "../../lib/journal/journal-entry.js";
import type { ClockVerdict } from "../../lib/schedule/clock-plausibility.js";
import type { DosingWindow } from "../../lib/schedule/dosing-windows.js";
import type { GasDay } from "../../lib/tank/gas-day.js";
import type { Co2Direction } from "../../lib/tank/rate-of-rise.js";
import type { LearntNight } from "../../lib/tank/tank-learning-state.js";
import type { Said } from "../../lib/told/said.js";
import type { UpkeepItem } from "../../lib/upkeep/upkeep-items.js";
import type { AlarmDocument } from "../alarms/alarm-document.js";
import type { EndedCharge } from "../charge-log/charge-log.js";
import type { EntryAnswer } from "../journal/entry-answer.js";
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

/** What is left of a charge, as shares of the whole charge, for a picture of it. */
export interface SupplyLeft {
  readonly remaining_ratio: number;
  readonly remainingLow80_ratio: number;
  readonly remainingHigh80_ratio: number;
  /** Of what remains, the part that can still be dosed. */
  readonly dosable_ratio: number;
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
  /** Undefined while its day is not known. */
  readonly runOut: RunOut | undefined;
  /** The gauge of a fresh charge once all has reacted and is warm; undefined: none reacts. */
  readonly restsAt:
    { readonly value_bar: number; readonly low95_bar: number; readonly high95_bar: number } | undefined;
  /** Undefined until there is an estimate. */
  readonly left: SupplyLeft | undefined;
  /** What its gauge should show now; undefined where nothing says so. */
  readonly expectedGauge_bar: number | undefined;
  /** Its gauge as a person read it last, of the charge that is in it; undefined: not yet. */
  readonly readByEye:
    | { readonly at_epochMs: number; readonly pressureGauge_bar: number; readonly asRead: PressureAsRead }
    | undefined;
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
  /** Undefined while it cannot be told. */
  readonly direction: Co2Direction | undefined;
  /** When its lights are on, from a day ago until two days ahead. */
  readonly lights: readonly DosingWindow[];
  /** Undefined where nothing is learnt of this tank. */
  readonly gasDay: GasDay | undefined;
}

/** An alarm as programs get it, and its cause with quantities and dates as such, where it has any. */
export interface AlarmPicture extends AlarmDocument {
  readonly causeSaid?: Said;
}

/** What comes next by the clock or the forecast. */
export interface NextEvent {
  readonly kind: "valve opens" | "valve closes" | "charge runs out" | "refill";
  /** Of the valve or the vessel. */
  readonly subjectId: string;
  readonly at_epochMs: number;
}

export interface TripPicture extends Trip {
  readonly whatToDo: string;
  /** Whether the cause holds still, or is not known to be gone. */
  readonly stands: boolean;
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
  readonly alarms: readonly AlarmPicture[];
  /** What stands before what is over, danger to people before danger to animals. */
  readonly trips: readonly TripPicture[];
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

/** Readings over a span, few enough to draw: of each place the mean, and between which values it lay. Columns of one length. */
export interface Series {
  readonly at_epochMs: readonly number[];
  readonly mean: readonly number[];
  readonly minimum: readonly number[];
  readonly maximum: readonly number[];
}

export interface SpanOfTime {
  readonly from_epochMs: number;
  readonly until_epochMs: number;
}

/** Something that happened, for a line in a chart. */
export interface EventPicture {
  readonly at_epochMs: number;
  readonly area: string;
  readonly subject: string;
  readonly what: string;
  readonly reason: string;
  /** What and reason with their quantities as such; absent where they have none, or an older version recorded it. */
  readonly said?: Said;
}

/** `GET /api/vessels/ID/history?from=MS&to=MS`; left out, the span is that of the charge. */
export interface VesselHistory extends SpanOfTime {
  readonly pressureGauge_bar: Series;
  readonly temperature_degC: Series;
  /** The gauge as at one temperature, since the charge was closed; absent where no charge is followed. */
  readonly corrected:
    | {
        readonly reference_degC: number;
        readonly at_epochMs: readonly number[];
        readonly gauge_bar: readonly number[];
      }
    | undefined;
  /** Where the corrected gauge will be; absent while the charge reacts, and after its end. */
  readonly fan: readonly FanPoint[] | undefined;
  /** Gauges read by eye. */
  readonly readByEye: readonly { readonly at_epochMs: number; readonly pressureGauge_bar: number }[];
  /** When gas flowed, by what the relays reported. */
  readonly open: readonly SpanOfTime[];
  /** When it might, past and to come, up to the end of the fan. */
  readonly windows: readonly DosingWindow[];
  readonly events: readonly EventPicture[];
}

/** CO2 that was worked out from readings of the past with the tests and calibrations of that time. */
export interface Co2Series {
  readonly at_epochMs: readonly number[];
  readonly co2_mgPerL: readonly number[];
  readonly co2Low80_mgPerL: readonly number[];
  readonly co2High80_mgPerL: readonly number[];
}

/** A night's fall, as it was fitted. */
export interface NightPicture extends SpanOfTime {
  readonly fit: LearntNight["fit"];
  /** The fitted curve; empty where there is none. On the scale of pH and hardness. */
  readonly curve: readonly NightPoint[];
  /** What was measured in it, with the hardness of that night; on the same scale. */
  readonly measured: readonly NightPoint[];
}

export interface NightPoint {
  readonly at_epochMs: number;
  readonly co2_mgPerL: number;
}

/** `GET /api/tanks/ID/history?from=MS&to=MS`; left out, the last two days. */
export interface TankHistory extends SpanOfTime {
  readonly pH: Series;
  readonly temperature_degC: Series;
  readonly co2: Co2Series;
  readonly nights: readonly NightPicture[];
  /** Gas to the tank, by what the relays reported. */
  readonly open: readonly SpanOfTime[];
  readonly lights: readonly DosingWindow[];
  readonly events: readonly EventPicture[];
}

/** A charge with what was weighed, and planned where the keeper entered that. */
export type ChargePicture = ChargeReport &
  Pick<FollowedCharge, "acid" | "sodiumBicarbonate_g" | "water_kg" | "planned">;

/** `GET /api/charges`: every charge that is kept, oldest first, and what served best. */
export interface ChargesPicture {
  readonly charges: readonly ChargePicture[];
  readonly comparisons: readonly ServedComparison[];
  readonly sentences: readonly string[];
}

/** `GET /api/journal?newest=N`: the newest entries, newest first. */
export interface JournalPicture {
  readonly entries: readonly (JournalEntry & { readonly said: Said })[];
}

/** `GET /api/upkeep`: with how each is done. */
export interface UpkeepPicture {
  readonly items: readonly (UpkeepItem & {
    readonly isDue: boolean;
    readonly line: string;
    readonly consequence: string;
    readonly whatToDo: string;
  })[];
}

/** `GET /api/session`. */
export interface SessionPicture {
  readonly needsToken: boolean;
  readonly isLoggedIn: boolean;
  /** Goes with each write, as the header X-Fizzward-Word; absent before the login. */
  readonly word: string | undefined;
}

/** The answer to a write. The page counts as afar: what a message from afar may not do, it may not either. */
export type WriteAnswer =
  | {
      readonly accepted: true;
      readonly text: string;
      /** Of an entry in the journal. */
      readonly entry?: Extract<EntryAnswer, { readonly accepted: true }>;
      /** What it says, with its quantities as such. */
      readonly said?: Said;
    }
  | {
      readonly accepted: false;
      readonly reason: string;
      /** Sent again with `sure: true` it is kept. */
      readonly needsSecondWord?: boolean;
    };

/** The answer to `POST /api/plan`. */
export type PlanAnswer =
  | {
      readonly kind: "answer";
      readonly vesselId: string;
      readonly plan: ChargePlan | RefusedPlan;
      /** Those about the vessel's plates first. */
      readonly cautions: readonly Caution[];
      /** As the command line says it. */
      readonly lines: readonly string[];
    }
  | { readonly kind: "not understood"; readonly reason: string };

/** What `POST /api/plan` takes: either the days or the bicarbonate, and what differs from the usual. */
export interface PlanWish {
  readonly vessel?: string;
  readonly days?: number;
  readonly sodiumBicarbonate_g?: number;
  readonly acidForm?: "anhydrous" | "monohydrate";
  readonly acidExcess_ratio?: number;
  readonly water_kg?: number;
  readonly ice_kg?: number;
  readonly icePiece_mm?: number;
  readonly residualLiquor_L?: number;
  readonly room_degC?: number;
  readonly hottest_degC?: number;
  readonly use_gPerDay?: number;
  readonly useError_gPerDay?: number;
}
