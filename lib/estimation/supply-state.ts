/** What the filter believes of one vessel between two readings: plain data that a store can keep as JSON. */

/**
 * The components of every hypothesis, in order. The errors of the model that last as long as the charge stand among them:
 * they outweigh the noise of any gauge, and only as components do they stay in the intervals however long the gauge is read.
 */
export const component = {
  /** CO2 that has left the vessel since it was closed, g. */
  removed: 0,
  /** Flow while open at the reference inlet pressure, g/h. */
  flow: 1,
  /** Loss that does not ask the valve, g/h. */
  leak: 2,
  /** Gauge reading less true gauge pressure, bar. */
  gaugeBias: 3,
  /** True absolute pressure over the model's. */
  pressureFactor: 4,
  /** Bicarbonate kept back over the model's. */
  retained: 5,
  /** CO2 that escaped before the vessel was closed, g. */
  lost: 6,
  /** Air that was shut in over dry air at 1 atm. */
  air: 7,
  /** Temperature that the contents tend to, less the sensor's, K. */
  temperatureOffset: 8,
  /** Rise of the flow for each bar by which the inlet falls, over the flow at the reference. */
  supplyEffect: 9,
  /** Temperature of the contents, degC. */
  contents: 10,
  /** CO2 in crystals and ice that have not met yet, g. */
  pending: 11,
  /** What the scale would show with nothing removed, g. */
  fullMass: 12,
  /** Error of the gauge that comes and goes within a day: friction, hysteresis, the step in which it is read; bar. */
  gaugeWander: 13,
  /** Share of air in the gas that leaves over that in the gas space. */
  airHaste: 14,
} as const;

export const componentCount = 15;

/** One belief about how fast the contents follow the sensor and whether gas is lost, with all the rest conditional on it. */
export interface SupplyHypothesis {
  readonly lag_h: number;
  /** Without a leak its component is zero and stays so. */
  readonly leaks: boolean;
  /** Natural logarithm of its odds before anything was read, and now; up to a constant. */
  readonly priorOdds_ln: number;
  readonly logWeight: number;
  readonly mean: readonly number[];
  /** Rows one after the other. */
  readonly covariance: readonly number[];
}

/** Readings since the filter last moved, waiting to be taken together. */
export interface GatheredReadings {
  readonly last_epochMs: number;
  readonly lastOpen: boolean;
  /** How sure it is, 0 to 1, that there is a row for every change of the valve. */
  readonly changesLogged: number;
  readonly open_h: number;
  /** Of the open hours, those that the calendar had to tell because nothing was read. */
  readonly guessedOpen_h: number;
  readonly lastPressure_bar: number | undefined;
  /** Smallest difference between two readings in a row: the step in which the gauge is read. */
  readonly pressureStep_bar: number;
  readonly pressureSum_bar: number;
  readonly pressureCount: number;
  readonly temperatureSum_degC: number;
  readonly temperatureCount: number;
  readonly massSum_g: number;
  readonly massCount: number;
  readonly byEye: boolean;
}

/** How much of the windows the valve was really open: days of it, the newest counting most. */
export interface WindowUse {
  readonly since_epochMs: number;
  readonly open_h: number;
  readonly scheduled_h: number;
  readonly mean_ratio: number;
  /** Of one day against another. */
  readonly variance: number;
  readonly days: number;
}

export interface SupplyState {
  readonly version: 1;
  readonly at_epochMs: number;
  readonly hypotheses: readonly SupplyHypothesis[];
  readonly gathered: GatheredReadings;
  readonly use: WindowUse;
  readonly sensor_degC: number;
  readonly temperatureRead_epochMs: number | undefined;
  readonly pressureRead_epochMs: number | undefined;
  readonly hasScale: boolean;
  readonly hasDosed: boolean;
  /** Contents while open, the last days counting most. */
  readonly dosing_degC: number;
  /** Readings in a row that the filter could not believe. */
  readonly refused: {
    readonly count: number;
    readonly since_epochMs: number;
    readonly innovation_bar: number;
  };
  /** First reading against what the charge should have shown, in standard deviations. */
  readonly firstSurprise: number;
  readonly spentSince_epochMs: number | undefined;
}
