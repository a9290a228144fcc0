import { OutOfValidRangeError } from "../errors.js";
import { absoluteFromGauge_bar } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import { vesselInventory, type Charge, type VesselInventory } from "./charge.js";
import {
  equilibriumAt,
  equilibriumTemperatureRange,
  fullPoint,
  modelPressureError_ratio,
  pointWithCarbon,
  type ChargeEquilibrium,
} from "./charge-equilibrium.js";
import { findRoot } from "./find-root.js";
import {
  createVesselSolver,
  type HeadspaceAir,
  type VesselPoint,
  type VesselSolver,
} from "./vessel-solver.js";

/**
 * What leaves through the outlet: `co2-only` keeps all the air in the vessel (the cautious textbook case); `headspace` lets
 * gas out as it is, so that the air goes early.
 */
export type Withdrawal = "co2-only" | "headspace";

export interface DepletedVessel extends ChargeEquilibrium {
  readonly co2Removed_mol: number;
  /** CO2 that can still be set free: what the acid reaches, less what was removed. */
  readonly co2Remaining_mol: number;
  readonly remaining_ratio: number;
}

/** What a pressure says about the contents. */
export type RemainingCo2 =
  | { readonly kind: "on-the-curve"; readonly co2Remaining_mol: number; readonly remaining_ratio: number }
  /** Above the pressure of the untouched charge: the charge, the temperature or the gauge is not what was stated. */
  | { readonly kind: "above-full"; readonly fullPressureAbsolute_bar: number }
  /** Below the pressure at which all that can be set free is gone. */
  | { readonly kind: "spent" };

export interface DepletionCurve {
  readonly temperature_degC: number;
  readonly withdrawal: Withdrawal;
  readonly co2Available_mol: number;
  readonly fullPressureAbsolute_bar: number;
  /** State after so much CO2 was taken, 0 to all that is available, rounding apart. @throws OutOfValidRangeError outside that span */
  afterRemoving(co2Removed_mol: number): DepletedVessel;
  /** CO2 that is left at a pressure. @throws OutOfValidRangeError for a negative pressure */
  remainingAt(pressureAbsolute_bar: number): RemainingCo2;
}

/** Densities of the points from which swept air is carried on, as shares of the full one. */
const sweepShares = [0.86, 0.7, 0.54, 0.4, 0.28, 0.18, 0.1, 0.05, 0.02] as const;

/** The point above was closed to about 1e-11, so that its own density may miss what is asked by as much. */
const roundingRoom = 1 + 1e-8;
/** An amount this little above what is available is all of it. */
const sameAmount_ratio = 1e-9;
/** A reading this little above the full charge is the full charge. */
const samePressure_ratio = 1e-9;

const pressureTolerance_ratio = 2e-12;

/**
 * The vessel as CO2 is drawn off at one temperature, 0 to 45 degC, in equilibrium all the way. Air leaves with the CO2 in
 * the ratio of the headspace; the vapour that leaves, below 0.1 g in a charge, is not counted. A charge so large that CO2
 * is liquid in it has no such curve.
 * @throws OutOfValidRangeError as chargeEquilibrium, and for a charge with liquid CO2
 * @see [Grenthe1997], [SpanWagner1996]; the sweep is a mass balance
 */
export function depletionCurve(
  charge: Charge,
  state: { readonly temperature_degC: number; readonly withdrawal: Withdrawal },
): DepletionCurve {
  const { temperature_degC, withdrawal } = state;
  assertInRange(temperature_degC, equilibriumTemperatureRange);
  const inventory = vesselInventory(charge);
  const solver = createVesselSolver(inventory, temperature_degC);
  const full = fullPoint(solver, inventory);
  if (full.liquidCo2_mol > 0) {
    throw new OutOfValidRangeError(
      "carbon in the vessel",
      full.carbon_mol,
      "mol",
      0,
      full.carbon_mol - full.liquidCo2_mol,
    );
  }
  const points = withdrawal === "headspace" ? sweep(solver, full) : ([full] as const);
  const { co2Available_mol } = inventory;

  const afterRemoving = (asked_mol: number): DepletedVessel => {
    const isAll = Math.abs(asked_mol - co2Available_mol) <= sameAmount_ratio * co2Available_mol;
    const co2Removed_mol = isAll ? co2Available_mol : asked_mol;
    assertInRange(co2Removed_mol, {
      quantity: "removed CO2",
      unit: "mol",
      minimum: 0,
      maximum: co2Available_mol,
    });
    const carbon_mol = inventory.carbon_mol - co2Removed_mol;
    const span = spanOf(points, (point) => point.carbon_mol >= carbon_mol);
    const point =
      co2Removed_mol === 0
        ? full
        : pointWithCarbon(solver, carbon_mol, airFrom(span.from, inventory, withdrawal), {
            low_molPerL: 0,
            high_molPerL: span.from.co2Density_molPerL * roundingRoom,
            start_molPerL: interpolate(span, carbon_mol, (at) => at.carbon_mol),
          });
    const co2Remaining_mol = co2Available_mol - co2Removed_mol;
    return {
      ...equilibriumAt(inventory, temperature_degC, point),
      co2Removed_mol,
      co2Remaining_mol,
      remaining_ratio: co2Available_mol > 0 ? co2Remaining_mol / co2Available_mol : 0,
    };
  };

  const remainingAt = (pressureAbsolute_bar: number): RemainingCo2 => {
    assertInRange(pressureAbsolute_bar, {
      quantity: "absolute pressure",
      unit: "bar",
      minimum: 0,
      maximum: 1000,
    });
    if (pressureAbsolute_bar > full.pressureAbsolute_bar * (1 + samePressure_ratio)) {
      return { kind: "above-full", fullPressureAbsolute_bar: full.pressureAbsolute_bar };
    }
    const span = spanOf(points, (point) => point.pressureAbsolute_bar >= pressureAbsolute_bar);
    const air = airFrom(span.from, inventory, withdrawal);
    let point = span.from;
    const outcome = findRoot(
      {
        quantity: "density of the CO2 gas",
        low: 0,
        high: span.from.co2Density_molPerL * roundingRoom,
        start: interpolate(span, pressureAbsolute_bar, (at) => at.pressureAbsolute_bar),
        slope: full.pressureAbsolute_bar / Math.max(full.co2Density_molPerL, 1e-9),
        tolerance: pressureTolerance_ratio * full.pressureAbsolute_bar,
      },
      (density_molPerL) => {
        point = solver.settle(density_molPerL, air);
        return point.pressureAbsolute_bar - pressureAbsolute_bar;
      },
    );
    const co2Remaining_mol = Math.min(
      co2Available_mol,
      point.carbon_mol - (inventory.carbon_mol - co2Available_mol),
    );
    if (outcome.kind === "below-low" || co2Remaining_mol < 0) return { kind: "spent" };
    return {
      kind: "on-the-curve",
      co2Remaining_mol,
      remaining_ratio: co2Available_mol > 0 ? co2Remaining_mol / co2Available_mol : 0,
    };
  };

  return {
    temperature_degC,
    withdrawal,
    co2Available_mol,
    fullPressureAbsolute_bar: full.pressureAbsolute_bar,
    afterRemoving,
    remainingAt,
  };
}

function sweep(solver: VesselSolver, full: VesselPoint): readonly [VesselPoint, ...(readonly VesselPoint[])] {
  const points: [VesselPoint, ...VesselPoint[]] = [full];
  let from = full;
  for (const share of sweepShares) {
    from = solver.settle(full.co2Density_molPerL * share, { kind: "swept", from });
    points.push(from);
  }
  return points;
}

interface Span {
  readonly from: VesselPoint;
  readonly to: VesselPoint | undefined;
}

/** The last point that still reaches what is asked, and the one below it; the first point counts as reaching it. */
function spanOf(
  points: readonly [VesselPoint, ...(readonly VesselPoint[])],
  reaches: (point: VesselPoint) => boolean,
): Span {
  let [from] = points;
  for (const point of points.slice(1)) {
    if (!reaches(point)) return { from, to: point };
    from = point;
  }
  return { from, to: undefined };
}

/** Density at which a quantity would have a value if it were linear over the span. */
function interpolate(span: Span, value: number, quantity: (point: VesselPoint) => number): number {
  const upper = quantity(span.from);
  const lower = span.to === undefined ? 0 : quantity(span.to);
  const lowerDensity_molPerL = span.to?.co2Density_molPerL ?? 0;
  const share = (value - lower) / (upper - lower);
  return lowerDensity_molPerL + share * (span.from.co2Density_molPerL - lowerDensity_molPerL);
}

function airFrom(from: VesselPoint, inventory: VesselInventory, withdrawal: Withdrawal): HeadspaceAir {
  return withdrawal === "headspace" ? { kind: "swept", from } : { kind: "kept", air_mol: inventory.air_mol };
}

/** A value with its 95 % bounds. */
export interface BoundedCo2 {
  readonly value_mol: number;
  readonly low_mol: number;
  readonly high_mol: number;
}

export interface ContentsEstimate {
  readonly reading: RemainingCo2["kind"];
  readonly remaining: BoundedCo2;
  /** What can be drawn before the pressure falls to the least that the regulator works with. */
  readonly deliverable: BoundedCo2;
}

/**
 * CO2 that remains and CO2 that can still be delivered, from a gauge pressure and the curve at the vessel's temperature,
 * each with 95 % bounds. The model's 4 % on absolute pressure shifts the reading and the regulator's limit together; the
 * gauge's error shifts the reading alone; the two are combined as independent.
 * @param reading.gaugeAccuracy_bar half-width of the gauge's error, 0 or more
 * @param reading.regulatorLeastInletGauge_bar below it the regulator no longer holds its outlet pressure
 * @throws OutOfValidRangeError for a gauge pressure below -1.013 bar or a negative accuracy
 * @see [JCGM100] section 5.1, combined uncertainty
 */
export function contentsFromPressure(
  curve: DepletionCurve,
  reading: {
    readonly pressureGauge_bar: number;
    readonly gaugeAccuracy_bar: number;
    readonly regulatorLeastInletGauge_bar: number;
  },
): ContentsEstimate {
  const { gaugeAccuracy_bar } = reading;
  assertInRange(gaugeAccuracy_bar, { quantity: "gauge accuracy", unit: "bar", minimum: 0, maximum: 100 });
  const now_bar = absoluteFromGauge_bar(reading.pressureGauge_bar);
  const least_bar = absoluteFromGauge_bar(reading.regulatorLeastInletGauge_bar);
  const remaining = (pressure_bar: number): number => {
    const answer = curve.remainingAt(Math.max(0, pressure_bar));
    if (answer.kind === "above-full") return curve.co2Available_mol;
    return answer.kind === "spent" ? 0 : answer.co2Remaining_mol;
  };
  const tooLow = 1 + modelPressureError_ratio;
  const tooHigh = 1 - modelPressureError_ratio;
  const value_mol = remaining(now_bar);
  const kept_mol = remaining(least_bar);
  const modelLow = remaining(now_bar / tooLow);
  const modelHigh = remaining(now_bar / tooHigh);
  const keptLow = remaining(least_bar / tooLow);
  const keptHigh = remaining(least_bar / tooHigh);
  const gaugeLow = remaining(now_bar - gaugeAccuracy_bar);
  const gaugeHigh = remaining(now_bar + gaugeAccuracy_bar);
  const deliverable_mol = Math.max(0, value_mol - kept_mol);
  const deliverableLow = Math.max(0, modelLow - keptLow);
  const deliverableHigh = Math.max(0, modelHigh - keptHigh);
  return {
    reading: curve.remainingAt(Math.max(0, now_bar)).kind,
    remaining: bounded(
      value_mol,
      [modelLow - value_mol, modelHigh - value_mol],
      [gaugeLow - value_mol, gaugeHigh - value_mol],
      curve.co2Available_mol,
    ),
    deliverable: bounded(
      deliverable_mol,
      [deliverableLow - deliverable_mol, deliverableHigh - deliverable_mol],
      [
        Math.max(0, gaugeLow - kept_mol) - deliverable_mol,
        Math.max(0, gaugeHigh - kept_mol) - deliverable_mol,
      ],
      curve.co2Available_mol,
    ),
  };
}

/** Bounds from two independent shifts, each tried both ways. */
function bounded(
  value_mol: number,
  model: readonly [number, number],
  gauge: readonly [number, number],
  most_mol: number,
): BoundedCo2 {
  const down = Math.hypot(Math.min(0, ...model), Math.min(0, ...gauge));
  const up = Math.hypot(Math.max(0, ...model), Math.max(0, ...gauge));
  return {
    value_mol,
    low_mol: Math.max(0, value_mol - down),
    high_mol: Math.min(most_mol, value_mol + up),
  };
}
