import { absoluteFromGauge_bar } from "../quantities/units.js";

/** Single-stage regulator: what it was set to, and at which inlet. */
export interface RegulatorSpec {
  readonly setGauge_bar: number;
  readonly setAtInletGauge_bar: number;
  /** Supply-pressure effect: rise of the outlet for each bar that the inlet falls. */
  readonly supplyPressureEffect_ratio: number;
  /** Least drop over the wide-open seat. */
  readonly wideOpenDrop_bar: number;
}

/**
 * Outlet pressure of a single-stage regulator, bar gauge: it creeps up as the inlet falls, until the inlet no
 * longer carries it and the seat stands wide open. Zero or more.
 * Definition of the supply-pressure effect: common practice, no source.
 */
export function regulatorOutletGauge_bar(spec: RegulatorSpec, inletGauge_bar: number): number {
  const regulated_bar =
    spec.setGauge_bar + spec.supplyPressureEffect_ratio * (spec.setAtInletGauge_bar - inletGauge_bar);
  return Math.max(0, Math.min(regulated_bar, inletGauge_bar - spec.wideOpenDrop_bar));
}

/** Ratio of specific heats of dilute CO2 at room temperature. From memory: 1.29 to 1.30. */
const heatCapacity_ratio = 1.3;

function nozzleFunction(pressure_ratio: number): number {
  const gamma = heatCapacity_ratio;
  return Math.sqrt(pressure_ratio ** (2 / gamma) - pressure_ratio ** ((gamma + 1) / gamma));
}

/** Below this ratio of outlet to inlet pressure the flow no longer depends on the outlet. @see [Shapiro1953] */
export const chokedPressure_ratio =
  (2 / (heatCapacity_ratio + 1)) ** (heatCapacity_ratio / (heatCapacity_ratio - 1));

/**
 * Flow through a needle valve, mol/h: in proportion to the absolute inlet pressure while choked, falling to zero
 * along the isentropic nozzle curve as the outlet pressure comes up to it.
 * @param needle.conductance_molPerHBar choked flow for each bar of absolute inlet pressure
 * @see [Shapiro1953] chapter 4, isentropic flow through a nozzle
 */
export function needleFlow_molPerH(needle: {
  readonly conductance_molPerHBar: number;
  readonly inletGauge_bar: number;
  readonly outletGauge_bar: number;
}): number {
  const inlet_bar = absoluteFromGauge_bar(needle.inletGauge_bar);
  const pressure_ratio = absoluteFromGauge_bar(needle.outletGauge_bar) / inlet_bar;
  if (pressure_ratio >= 1) return 0;
  const choked_molPerH = needle.conductance_molPerHBar * inlet_bar;
  if (pressure_ratio <= chokedPressure_ratio) return choked_molPerH;
  return (choked_molPerH * nozzleFunction(pressure_ratio)) / nozzleFunction(chokedPressure_ratio);
}
