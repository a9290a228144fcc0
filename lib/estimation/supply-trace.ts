import type { ResidualLiquor, WeighedAcid } from "../vessel/charge.js";

/** One row of what was recorded of a vessel; what was not read at that instant is left out. */
export interface SupplyReading {
  readonly at_epochMs: number;
  readonly pressureGauge_bar?: number;
  /** Of the steel or of the room: the contents lag behind it. */
  readonly temperature_degC?: number;
  readonly valveOpen: boolean;
  readonly vesselMass_g?: number;
  /** A person read the gauge by eye: its own, coarser accuracy counts. */
  readonly byEye?: boolean;
}

/** A span of every day in which the valve may be open, as civil time. */
export interface DailyWindow {
  readonly opens_min: number;
  readonly closes_min: number;
}

/** The charge in the vessel and how its pressure is read: all that a replay is told beforehand. */
export interface SuppliedCharge {
  readonly acid: WeighedAcid;
  readonly sodiumBicarbonate_g: number;
  readonly water_kg: number;
  /** Of the charge before, left in. */
  readonly residualLiquor?: ResidualLiquor;
  readonly vesselVolume_L: number;
  readonly sealedAt_degC: number;
  readonly closedAt_epochMs: number;
  readonly closedWith: "water" | "ice";
  /** The reaction has ended when the trace begins. */
  readonly settled: boolean;
  /** Inlet pressure at which dosing ends: the set pressure and a margin. */
  readonly workingPressureGauge_bar: number;
  readonly gaugeAccuracy_bar: number;
  readonly timeZone: string;
  readonly windows: readonly DailyWindow[];
}
