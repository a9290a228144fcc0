import { saturatedLiquidDensity_kgPerL } from "../chemistry/carbon-dioxide-saturation.js";
import { OutOfValidRangeError } from "../errors.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { absoluteFromGauge_bar, gaugeFromAbsolute_bar } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import type { DepletionCurve } from "./depletion.js";
import {
  cylinderGas_kg,
  liquidCylinderState,
  liquidCylinderTemperatureRange,
  type LiquidCylinder,
} from "./liquid-cylinder.js";
import { flowMultiplier_ratio, type NeedlePressures } from "./needle-valve.js";
import { regulatorBreaksGauge_bar, regulatorOutlet, type RegulatorDesign } from "./regulator.js";

/** A supply of CO2 as the regulator sees it: how much has gone when its pressure has fallen so far. */
export interface GasSupply {
  readonly fullGauge_bar: number;
  /** CO2 gone since full, mol, when the pressure falls below this. From 0 gauge to full. */
  deliveredAt_mol(inletGauge_bar: number): number;
}

/** Regulator and needle, to be set once on whatever supply stands before them. */
export interface GasTrain {
  readonly regulator: RegulatorDesign;
  /** Diffuser, bubble counter and depth of water together. */
  readonly behindNeedleGauge_bar: number;
  /** The least inlet pressure that the user still works with: the course ends there. Above what is behind the needle. */
  readonly leastInletGauge_bar: number;
  /** Inlet pressure at which the working pressure was set. Left out: that of the full supply. */
  readonly setAtInletGauge_bar?: number;
  /** CO2 use on the day on which the needle was set, supply full. */
  readonly use_molPerDay: number;
}

/** Flow over the flow that was set: through a sharp opening, and through a long narrow gap. A real needle lies between. */
export interface FlowRise {
  readonly nozzle_ratio: number;
  readonly viscous_ratio: number;
}

export interface SurgePoint {
  readonly inletGauge_bar: number;
  readonly outletGauge_bar: number;
  readonly delivered_mol: number;
  /** Share of all that is delivered down to the least inlet pressure. */
  readonly delivered_ratio: number;
  /** Since the supply was full, needle untouched, by the nozzle's flow. */
  readonly elapsed_days: number;
  readonly flow: FlowRise;
}

/**
 * - steady: nobody would notice
 * - creeps: seen at the bubble counter; turn the needle back when it shows
 * - surges: enough to carry a tank from its target over its alarm
 */
export type SurgeVerdict = "steady" | "creeps" | "surges";

export interface SurgeCourse {
  readonly points: readonly SurgePoint[];
  readonly largest: SurgePoint;
  /** The first point at which the viscous flow is up by a tenth; undefined when it never is. */
  readonly noticed: SurgePoint | undefined;
  /** Share that was delivered when half of the largest rise had come. Undefined when there is no rise. */
  readonly halfOfRiseAt_ratio: number | undefined;
  readonly lasts_days: number;
  /** By the viscous flow, the cautious side. */
  readonly verdict: SurgeVerdict;
}

export type CylinderComparison =
  | {
      readonly kind: "compared";
      readonly course: SurgeCourse;
      /** Largest rise of the charge over the cylinder's, both by the nozzle. Undefined when the cylinder's does not rise. */
      readonly chargeOverCylinder_ratio: number | undefined;
    }
  /** At this temperature CO2 has no liquid, and a bought cylinder is no subject of this model. */
  | { readonly kind: "no-liquid"; readonly temperature_degC: number }
  /** At this temperature the liquid would fill the cylinder, and its pressure is no subject of this model. */
  | { readonly kind: "liquid-full"; readonly temperature_degC: number };

export interface SurgeForecast {
  readonly charge: SurgeCourse;
  readonly cylinder: CylinderComparison;
}

/**
 * Flow over what was set at which a rise is called noticed, and at which a surge. Our judgement: a tenth is what a count of
 * bubbles shows; four thirds takes a tank held at 30 mg/L to 40 mg/L, where an alarm is due.
 */
export const surgeLimits = { noticed_ratio: 1.1, surge_ratio: 4 / 3 } as const;

/** Days are integrated over so many steps of pressure; twice as many move them by less than 0.1 %. */
const steps = 12;

/**
 * A charge as a supply.
 * @see depletionCurve for ranges and errors
 */
export function supplyOfCharge(curve: DepletionCurve): GasSupply {
  return {
    fullGauge_bar: gaugeFromAbsolute_bar(curve.fullPressureAbsolute_bar),
    deliveredAt_mol: (inletGauge_bar) => {
      const answer = curve.remainingAt(absoluteFromGauge_bar(inletGauge_bar));
      if (answer.kind === "above-full") return 0;
      return curve.co2Available_mol - (answer.kind === "spent" ? 0 : answer.co2Remaining_mol);
    },
  };
}

/**
 * A bought cylinder as a supply: all of its liquid goes before its pressure falls. It is taken as warm as the room: the
 * liquid that evaporates for a tank draws less than 0.1 W.
 * @throws OutOfValidRangeError as liquidCylinderState
 * @see [SpanWagner1996]
 */
export function supplyOfCylinder(cylinder: LiquidCylinder): GasSupply {
  const { pressureAbsolute_bar, pressureGauge_bar } = liquidCylinderState(cylinder);
  const gas_kg = cylinderGas_kg(cylinder);
  return {
    fullGauge_bar: pressureGauge_bar,
    deliveredAt_mol: (inletGauge_bar) => {
      const left_kg = gas_kg(Math.min(absoluteFromGauge_bar(inletGauge_bar), pressureAbsolute_bar));
      return (1000 * Math.max(0, cylinder.co2_kg - left_kg)) / molarMass_gPerMol.co2;
    },
  };
}

/**
 * Outlet and flow over the life of a supply, from full to the least inlet pressure, after the needle was set on the
 * full supply, and the regulator there or at the inlet pressure stated, and neither was touched again. The flow is largest where a seat comes to stand wide open, or at the end.
 * @throws OutOfValidRangeError when the supply's full pressure is not above the least inlet pressure and the working
 *   pressure, when these are not above the pressure behind the needle, for a use of 0 or less, and as regulatorOutlet
 * @see [Shapiro1953] nozzle, [Bird2002] viscous flow; the supply-pressure effect is common practice
 */
export function surgeCourse(supply: GasSupply, train: GasTrain): SurgeCourse {
  const { fullGauge_bar } = supply;
  const { leastInletGauge_bar, behindNeedleGauge_bar, use_molPerDay } = train;
  assertInRange(behindNeedleGauge_bar, {
    quantity: "pressure behind the needle",
    unit: "bar",
    minimum: 0,
    maximum: 10,
  });
  if (!(leastInletGauge_bar > behindNeedleGauge_bar && leastInletGauge_bar < fullGauge_bar)) {
    throw new OutOfValidRangeError(
      "least inlet pressure",
      leastInletGauge_bar,
      "bar",
      behindNeedleGauge_bar,
      fullGauge_bar,
    );
  }
  if (!(use_molPerDay > 0 && use_molPerDay <= 1000)) {
    throw new OutOfValidRangeError("daily use of CO2", use_molPerDay, "mol/day", Number.MIN_VALUE, 1000);
  }
  const regulator = {
    ...train.regulator,
    setAtInletGauge_bar: train.setAtInletGauge_bar ?? fullGauge_bar,
  };
  const behindAbsolute_bar = absoluteFromGauge_bar(behindNeedleGauge_bar);
  const pressuresAt = (inletGauge_bar: number): NeedlePressures => ({
    inletAbsolute_bar: absoluteFromGauge_bar(regulatorOutlet(regulator, inletGauge_bar).outletGauge_bar),
    outletAbsolute_bar: behindAbsolute_bar,
  });
  const first = pressuresAt(fullGauge_bar);
  const flowAt = (inletGauge_bar: number): FlowRise => {
    const now = pressuresAt(inletGauge_bar);
    return {
      nozzle_ratio: flowMultiplier_ratio({ kind: "nozzle" }, first, now),
      viscous_ratio: flowMultiplier_ratio({ kind: "viscous" }, first, now),
    };
  };
  const breaks_bar = regulatorBreaksGauge_bar(regulator).filter(
    (at) => at > leastInletGauge_bar && at < fullGauge_bar,
  );
  const corners_bar = [fullGauge_bar, ...breaks_bar, leastInletGauge_bar];
  const largest_ratio = Math.max(...corners_bar.map((at) => flowAt(at).nozzle_ratio));
  const half_ratio = 1 + (largest_ratio - 1) / 2;
  const crossings_bar = [
    fallingTo(corners_bar, (at) => flowAt(at).nozzle_ratio - half_ratio),
    fallingTo(corners_bar, (at) => flowAt(at).viscous_ratio - surgeLimits.noticed_ratio),
  ].filter((at) => at !== undefined);
  const inlets_bar = [
    ...corners_bar,
    ...crossings_bar,
    ...Array.from(
      { length: steps - 1 },
      (_, k) => fullGauge_bar + ((k + 1) / steps) * (leastInletGauge_bar - fullGauge_bar),
    ),
  ].sort((one, other) => other - one);

  const total_mol = supply.deliveredAt_mol(leastInletGauge_bar);
  const points: SurgePoint[] = [];
  let elapsed_days = 0;
  const add = (inletGauge_bar: number, delivered_mol: number): void => {
    const flow = flowAt(inletGauge_bar);
    const before = points.at(-1);
    if (before !== undefined) {
      const slowness = (1 / before.flow.nozzle_ratio + 1 / flow.nozzle_ratio) / 2;
      elapsed_days += ((delivered_mol - before.delivered_mol) * slowness) / use_molPerDay;
    }
    points.push({
      inletGauge_bar,
      outletGauge_bar: regulatorOutlet(regulator, inletGauge_bar).outletGauge_bar,
      delivered_mol,
      delivered_ratio: delivered_mol / total_mol,
      elapsed_days,
      flow,
    });
  };
  add(fullGauge_bar, 0);
  for (const inlet_bar of inlets_bar) add(inlet_bar, supply.deliveredAt_mol(inlet_bar));
  return summary(points, elapsed_days);
}

/** The first place on the way down at which a continuous function comes up to zero, between corners where it is monotonic. */
function fallingTo(
  corners_bar: readonly number[],
  rising: (inlet_bar: number) => number,
): number | undefined {
  for (const [k, low_bar] of corners_bar.entries()) {
    const high_bar = corners_bar[k - 1];
    if (high_bar === undefined || rising(low_bar) <= 0) continue;
    let [above_bar, below_bar] = [high_bar, low_bar];
    for (let halving = 0; halving < 50; halving += 1) {
      const middle_bar = (above_bar + below_bar) / 2;
      if (rising(middle_bar) < 0) above_bar = middle_bar;
      else below_bar = middle_bar;
    }
    return below_bar;
  }
  return undefined;
}

function summary(points: readonly SurgePoint[], lasts_days: number): SurgeCourse {
  const largest = points.reduce((most, point) =>
    point.flow.nozzle_ratio > most.flow.nozzle_ratio ? point : most,
  );
  return {
    points,
    largest,
    noticed: points.find((point) => point.flow.viscous_ratio >= surgeLimits.noticed_ratio),
    halfOfRiseAt_ratio: halfOfRiseAt(points, largest.flow.nozzle_ratio),
    lasts_days,
    verdict: verdictOf(largest.flow.viscous_ratio),
  };
}

function verdictOf(flow_ratio: number): SurgeVerdict {
  if (flow_ratio >= surgeLimits.surge_ratio) return "surges";
  return flow_ratio >= surgeLimits.noticed_ratio ? "creeps" : "steady";
}

/** The course has a point of its own there. */
function halfOfRiseAt(points: readonly SurgePoint[], largest_ratio: number): number | undefined {
  if (largest_ratio <= 1) return undefined;
  const half_ratio = 1 + (largest_ratio - 1) / 2;
  return points.find((point) => point.flow.nozzle_ratio >= half_ratio)?.delivered_ratio;
}

/**
 * Will the end of this charge surge, and how does that compare with a bought cylinder at the same temperature, the same
 * regulator and needle set to the same working pressure on each when full? Model and gauge errors are not carried: the
 * regulator's supply-pressure effect, if its maker does not state it, outweighs them.
 * @throws OutOfValidRangeError as surgeCourse and, but for a temperature without liquid or without gas, as
 *   liquidCylinderState
 */
export function surgeForecast(
  curve: DepletionCurve,
  cylinder: Omit<LiquidCylinder, "temperature_degC">,
  train: GasTrain,
): SurgeForecast {
  const charge = surgeCourse(supplyOfCharge(curve), train);
  const { temperature_degC } = curve;
  if (temperature_degC > liquidCylinderTemperatureRange.maximum) {
    return { charge, cylinder: { kind: "no-liquid", temperature_degC } };
  }
  if (cylinder.co2_kg > saturatedLiquidDensity_kgPerL(temperature_degC) * cylinder.volume_L) {
    return { charge, cylinder: { kind: "liquid-full", temperature_degC } };
  }
  const course = surgeCourse(supplyOfCylinder({ ...cylinder, temperature_degC }), {
    regulator: train.regulator,
    behindNeedleGauge_bar: train.behindNeedleGauge_bar,
    leastInletGauge_bar: train.leastInletGauge_bar,
    use_molPerDay: train.use_molPerDay,
  });
  const rise = course.largest.flow.nozzle_ratio - 1;
  return {
    charge,
    cylinder: {
      kind: "compared",
      course,
      chargeOverCylinder_ratio: rise > 1e-9 ? (charge.largest.flow.nozzle_ratio - 1) / rise : undefined,
    },
  };
}
