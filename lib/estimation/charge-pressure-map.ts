import { NoConvergenceError, OutOfValidRangeError } from "../errors.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { vesselInventory, type Charge } from "../vessel/charge.js";
import { equilibriumTemperatureRange } from "../vessel/charge-equilibrium.js";
import {
  createVesselSolver,
  type HeadspaceAir,
  type VesselPoint,
  type VesselSolver,
} from "../vessel/vessel-solver.js";

/** What of the contents a pressure depends on, the model's own errors among it. */
export interface PressureCause {
  /** CO2 that has met the acid and is still in the vessel, in every form, g. */
  readonly reacted_g: number;
  /** The same when nothing had been drawn off yet: the air was whole then. */
  readonly atFirst_g: number;
  readonly temperature_degC: number;
  /** Bicarbonate that the acid has not turned into CO2, over what the model says. */
  readonly retained_ratio: number;
  /** Air that was shut in, over dry air at 1 atm. */
  readonly air_ratio: number;
  /** Share of air in the gas that leaves over that in the gas space: 1 where they are mixed. */
  readonly airHaste_ratio: number;
}

export interface CausedPressure {
  readonly pressureAbsolute_bar: number;
  readonly air_g: number;
  /** Change of the pressure with each cause, bar for each of its units. */
  readonly slopes: {
    readonly reacted: number;
    readonly atFirst: number;
    readonly temperature: number;
    readonly retained: number;
    readonly air: number;
    readonly airHaste: number;
  };
}

/** Mean molar mass of dry air. From memory. */
const dryAir_gPerMol = 28.964;

export interface ChargePressureMap {
  readonly co2Available_g: number;
  pressureOf(cause: PressureCause): CausedPressure;
}

const temperatureStep_degC = 3;
const temperatureRows =
  1 + (equilibriumTemperatureRange.maximum - equilibriumTemperatureRange.minimum) / temperatureStep_degC;
/** The air is swept as at 21 degC. */
const sweepRow = 7;
/** Straight lines between so many amounts are within 0.05 % of the solved pressure. */
const cells = 64;
const densityNodes = 48;
/** Free CO2 beyond the charge's own: a charge that keeps less back than the model says has more. */
const headroom_ratio = 1.08;
/** The air has gone to less than a millionth. */
const leastSweep = -14;

interface Row {
  readonly pressure_bar: readonly number[];
  readonly retained_mol: readonly number[];
  readonly air_bar: readonly number[];
  readonly gas_mol: readonly number[];
}

/**
 * The depletion curve as a table over free CO2 (gas and dissolved) and temperature, 0 to 45 degC, so that a filter can ask for
 * thousands of pressures with their slopes in a millisecond: absolute pressure, bar, within 0.3 % of depletionCurve with the
 * air leaving in the headspace's ratio. Outside its span of temperature and amount the nearest edge answers.
 * @throws OutOfValidRangeError as vesselInventory, and for a charge without CO2 to give
 * @throws NoConvergenceError when a balance does not close
 * @see [Grenthe1997], [SpanWagner1996]; the sweep of the air is a mass balance
 */
export function createChargePressureMap(charge: Charge): ChargePressureMap {
  const inventory = vesselInventory(charge);
  const { co2Available_mol } = inventory;
  if (!(co2Available_mol > 0)) {
    throw new OutOfValidRangeError("CO2 that the acid can set free", co2Available_mol, "mol", 1e-3, 1000);
  }
  const excess_mol = inventory.carbon_mol - co2Available_mol;
  const top_mol = co2Available_mol * headroom_ratio;
  const step_mol = top_mol / cells;
  const rows = Array.from({ length: temperatureRows }, (_, row) =>
    tabulate(
      createVesselSolver(inventory, equilibriumTemperatureRange.minimum + row * temperatureStep_degC),
      { top_mol, excess_mol, air_mol: inventory.air_mol },
    ),
  );
  const pressures = rows.flatMap((row) => row.pressure_bar);
  const retained = rows.flatMap((row) => row.retained_mol);
  const airs = rows.flatMap((row) => row.air_bar);
  const sweep = sweepByReacted(rows[sweepRow], co2Available_mol);
  const width = cells + 1;

  const pressureOf = (cause: PressureCause): CausedPressure => {
    const temperature_degC = Math.min(44.999, Math.max(0, cause.temperature_degC));
    const reacted_mol = Math.min(top_mol, Math.max(0, cause.reacted_g / molarMass_gPerMol.co2));
    const row = Math.floor(temperature_degC / temperatureStep_degC);
    const up = temperature_degC / temperatureStep_degC - row;
    const cold = row * width;
    const warm = cold + width;

    // Free CO2 and what is kept back for it make up what has reacted: solved cell by cell, where both are straight.
    let free_mol = reacted_mol;
    let cell = 0;
    let kept_mol = 0;
    let keptSlope = 0;
    for (let pass = 0; pass < 6; pass += 1) {
      const next = Math.min(cells - 1, Math.floor(free_mol / step_mol));
      if (pass > 0 && next === cell) break;
      cell = next;
      const low = (1 - up) * at(retained, cold + cell) + up * at(retained, warm + cell);
      const high = (1 - up) * at(retained, cold + cell + 1) + up * at(retained, warm + cell + 1);
      keptSlope = (high - low) / step_mol;
      kept_mol = low + keptSlope * (free_mol - cell * step_mol);
      const miss_mol = free_mol + cause.retained_ratio * kept_mol - reacted_mol;
      const moved_mol = Math.max(0, free_mol - miss_mol / (1 + cause.retained_ratio * keptSlope));
      kept_mol += keptSlope * (moved_mol - free_mol);
      free_mol = moved_mol;
    }
    const along = Math.min(1, free_mol / step_mol - cell);
    const coldLow = at(pressures, cold + cell);
    const coldHigh = at(pressures, cold + cell + 1);
    const warmLow = at(pressures, warm + cell);
    const warmHigh = at(pressures, warm + cell + 1);
    const coldPressure = coldLow + along * (coldHigh - coldLow);
    const warmPressure = warmLow + along * (warmHigh - warmLow);
    const byFree = ((1 - up) * (coldHigh - coldLow) + up * (warmHigh - warmLow)) / step_mol;
    const coldKept = at(retained, cold + cell) * (1 - along) + at(retained, cold + cell + 1) * along;
    const warmKept = at(retained, warm + cell) * (1 - along) + at(retained, warm + cell + 1) * along;
    const give = 1 / (1 + cause.retained_ratio * keptSlope);

    const coldAir = at(airs, cold + cell) * (1 - along) + at(airs, cold + cell + 1) * along;
    const warmAir = at(airs, warm + cell) * (1 - along) + at(airs, warm + cell + 1) * along;
    const fullAir_bar = (1 - up) * coldAir + up * warmAir;
    const now = sweep(reacted_mol);
    const first = sweep(cause.atFirst_g / molarMass_gPerMol.co2);
    const haste = cause.airHaste_ratio;
    const swept_ln = Math.min(0, now.ln - first.ln);
    const airLeft_ratio = Math.exp(haste * swept_ln);
    const air_bar = cause.air_ratio * airLeft_ratio * fullAir_bar;
    const swept = swept_ln < 0 ? haste : 0;

    return {
      pressureAbsolute_bar: coldPressure + up * (warmPressure - coldPressure) + air_bar,
      air_g: cause.air_ratio * airLeft_ratio * inventory.air_mol * dryAir_gPerMol,
      slopes: {
        reacted: (byFree * give + swept * air_bar * now.slope) / molarMass_gPerMol.co2,
        atFirst: (-swept * air_bar * first.slope) / molarMass_gPerMol.co2,
        temperature:
          (warmPressure -
            coldPressure -
            byFree * give * cause.retained_ratio * (warmKept - coldKept) +
            cause.air_ratio * airLeft_ratio * (warmAir - coldAir)) /
          temperatureStep_degC,
        retained: -byFree * give * kept_mol,
        air: airLeft_ratio * fullAir_bar,
        airHaste: air_bar * swept_ln,
      },
    };
  };
  return { co2Available_g: co2Available_mol * molarMass_gPerMol.co2, pressureOf };
}

/** Logarithm of the share of the air that is left, up to a constant, and its slope, per mol of CO2 that has reacted. */
function sweepByReacted(
  row: Row | undefined,
  co2Available_mol: number,
): (reacted_mol: number) => { readonly ln: number; readonly slope: number } {
  const step_mol = (co2Available_mol * headroom_ratio) / cells;
  const reacted_mol = Array.from({ length: cells + 1 }, (_, k) => k * step_mol + at(row?.retained_mol, k));
  const ln = new Array<number>(cells + 1).fill(0);
  for (let k = cells - 1; k >= 0; k -= 1) {
    const here_mol = at(row?.gas_mol, k);
    const above_mol = at(row?.gas_mol, k + 1);
    const drawn_mol = at(reacted_mol, k + 1) - at(reacted_mol, k);
    // Exact for gas that is linear in what has reacted.
    const integral =
      here_mol > 1e-9 ? (drawn_mol * Math.log(above_mol / here_mol)) / (above_mol - here_mol) : Infinity;
    ln[k] = Math.max(leastSweep, at(ln, k + 1) - integral);
  }
  return (amount_mol) => {
    const target_mol = Math.max(0, amount_mol);
    let k = Math.min(cells - 1, Math.floor(target_mol / step_mol));
    while (k > 0 && at(reacted_mol, k) > target_mol) k -= 1;
    const slope = (at(ln, k + 1) - at(ln, k)) / (at(reacted_mol, k + 1) - at(reacted_mol, k));
    return { ln: at(ln, k) + slope * (target_mol - at(reacted_mol, k)), slope };
  };
}

function tabulate(
  solver: VesselSolver,
  charge: { readonly top_mol: number; readonly excess_mol: number; readonly air_mol: number },
): Row {
  const free = (point: VesselPoint): number => point.co2Gas_mol + point.co2Dissolved_mol;
  const bare = { kind: "kept", air_mol: 0 } as const;
  const aired = { kind: "kept", air_mol: charge.air_mol } as const;
  let densest_molPerL = Math.min(charge.top_mol / solver.roughCapacity_L, solver.densityLimit_molPerL);
  while (
    densest_molPerL < solver.densityLimit_molPerL &&
    free(settledNear(solver, densest_molPerL, bare)) < charge.top_mol
  ) {
    densest_molPerL = Math.min(1.1 * densest_molPerL, solver.densityLimit_molPerL);
  }
  const densities_molPerL = Array.from(
    { length: densityNodes + 1 },
    (_, k) => densest_molPerL * Math.max(1e-4, k / densityNodes),
  );
  // From dense to thin: each answer starts from the one before, and thin gas over much salt is far from the usual start.
  const pointsWith = (air: HeadspaceAir): readonly VesselPoint[] =>
    [...densities_molPerL]
      .reverse()
      .map((density) => settledNear(solver, density, air))
      .reverse();
  const points = pointsWith(bare);
  const withAir = pointsWith(aired);
  const amounts = Array.from({ length: cells + 1 }, (_, k) => (k * charge.top_mol) / cells);
  const sample = (from: readonly VesselPoint[], read: (point: VesselPoint) => number): number[] => {
    let k = 0;
    return amounts.map((amount_mol) => {
      while (k < from.length - 2 && freeAt(from, k + 1) < amount_mol) k += 1;
      const low = from[k];
      const high = from[k + 1];
      if (low === undefined || high === undefined) return 0;
      const share = (amount_mol - free(low)) / (free(high) - free(low));
      return read(low) + share * (read(high) - read(low));
    });
  };
  const freeAt = (from: readonly VesselPoint[], k: number): number => {
    const point = from[k];
    return point === undefined ? Infinity : free(point);
  };
  const pressure_bar = sample(points, (point) => point.pressureAbsolute_bar);
  const bothPressures_bar = sample(withAir, (point) => point.pressureAbsolute_bar);
  return {
    pressure_bar,
    retained_mol: sample(points, (point) => Math.max(0, point.carbon_mol - free(point) - charge.excess_mol)),
    air_bar: bothPressures_bar.map((both, k) => Math.max(0, both - at(pressure_bar, k))),
    gas_mol: sample(points, (point) => point.co2Gas_mol),
  };
}

const nudges = [1, 1.0006, 0.9994, 1.002, 0.998] as const;

/**
 * The equilibrium at a density, or at one within 0.2 % of it: a node need not lie where it was asked for, and where the first
 * crystals of bicarbonate appear a balance may fail to close at one density of many.
 */
function settledNear(solver: VesselSolver, density_molPerL: number, air: HeadspaceAir): VesselPoint {
  let failure: NoConvergenceError | undefined;
  for (const nudge of nudges) {
    try {
      return solver.settle(Math.min(nudge * density_molPerL, solver.densityLimit_molPerL), air);
    } catch (error) {
      if (!(error instanceof NoConvergenceError)) throw error;
      failure = error;
    }
  }
  throw failure ?? new NoConvergenceError("density of the CO2 gas", 0, density_molPerL, nudges.length);
}

function at(values: readonly number[] | undefined, index: number): number {
  return values?.[index] ?? 0;
}
