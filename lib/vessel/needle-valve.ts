import { carbonDioxideDensity_molPerL } from "../chemistry/carbon-dioxide-gas.js";
import { gasConstant_LBarPerMolK } from "../chemistry/gas-mixture.js";
import { OutOfValidRangeError } from "../errors.js";
import { gasConstant_JPerMolK, molarMass_gPerMol } from "../quantities/physical-constants.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";

/** Absolute pressures before and behind the needle. */
export interface NeedlePressures {
  readonly inletAbsolute_bar: number;
  readonly outletAbsolute_bar: number;
}

/** A gas as it arrives at a valve. */
export interface ValveGas {
  readonly molarMass_gPerMol: number;
  /** Ratio of the specific heats of the dilute gas. */
  readonly heatCapacity_ratio: number;
  readonly temperature_K: number;
  /** p / (density R T) at the inlet. */
  readonly compressibility: number;
}

/**
 * How a needle lets gas through.
 * - nozzle: an ideal nozzle of this area, discharge coefficient counted in
 * - rated: a maker's Kv at this opening, and xT, the drop over the inlet pressure at which flow chokes in air
 */
export type NeedleValve =
  | { readonly kind: "nozzle"; readonly area_mm2: number }
  | { readonly kind: "rated"; readonly kv: number; readonly xT: number };

/**
 * How flow follows pressure, whatever the opening.
 * - nozzle: in proportion to the absolute inlet pressure while choked: a short, sharp opening
 * - rated: by the valve standard
 * - viscous: with the difference of the squares of the pressures: a long and narrow gap, as of a fine needle nearly shut.
 *   The steepest of the three
 */
export type NeedleLaw =
  | { readonly kind: "nozzle" }
  | { readonly kind: "rated"; readonly xT: number }
  | { readonly kind: "viscous" };

/** CO2 near room temperature and a few bar. From memory: 1.29 to 1.30. */
export const carbonDioxideHeatCapacity_ratio = 1.3;

/** xT of a small tapered needle. [IEC60534] example of a small-flow trim, seen at second hand. */
export const usualNeedleXT = 0.8;

const ranges = {
  inlet: { quantity: "needle inlet pressure", unit: "bar absolute", minimum: 0.5, maximum: 60 },
  heatCapacity: { quantity: "ratio of specific heats", unit: "", minimum: 1.01, maximum: 5 / 3 + 0.01 },
  area: { quantity: "nozzle area", unit: "mm2", minimum: 0, maximum: 1000 },
  kv: { quantity: "flow coefficient Kv", unit: "m3/h", minimum: 0, maximum: 1000 },
  xT: { quantity: "pressure differential ratio factor xT", unit: "", minimum: 0.1, maximum: 1 },
} as const satisfies Record<string, ValidRange>;

/** N6 of the standard for Kv, bar, kg/m3 and kg/h. */
const standardN6 = 31.6;
/** Ratio of specific heats of air, to which xT refers. */
const airHeatCapacity_ratio = 1.4;

function assertPressures(pressures: NeedlePressures): void {
  assertInRange(pressures.inletAbsolute_bar, ranges.inlet);
  assertInRange(pressures.outletAbsolute_bar, {
    quantity: "pressure behind the needle",
    unit: "bar absolute",
    minimum: 0,
    maximum: ranges.inlet.maximum,
  });
}

/**
 * Ratio of outlet to inlet pressure at and below which an ideal gas flows through a nozzle at the speed of sound, and what
 * lies behind no longer matters. Ratio of specific heats 1.01 to 1.67.
 * @throws OutOfValidRangeError outside that range
 * @see [Shapiro1953] chapter 4
 */
export function criticalPressure_ratio(heatCapacity_ratio: number): number {
  assertInRange(heatCapacity_ratio, ranges.heatCapacity);
  return (2 / (heatCapacity_ratio + 1)) ** (heatCapacity_ratio / (heatCapacity_ratio - 1));
}

/** Flow of an isentropic nozzle over area, inlet pressure and the square root of 1 / (M R T). */
function nozzleFactor(pressures: NeedlePressures, heatCapacity_ratio: number): number {
  const gamma = heatCapacity_ratio;
  const pressure_ratio = pressures.outletAbsolute_bar / pressures.inletAbsolute_bar;
  if (pressure_ratio >= 1) return 0;
  const r = Math.max(pressure_ratio, criticalPressure_ratio(gamma));
  return Math.sqrt(((2 * gamma) / (gamma - 1)) * (r ** (2 / gamma) - r ** ((gamma + 1) / gamma)));
}

/** Expansion factor times the root of the pressure differential ratio, with the standard's limit of choking. */
function ratedFactor(pressures: NeedlePressures, xT: number, heatCapacity_ratio: number): number {
  const choked = (heatCapacity_ratio / airHeatCapacity_ratio) * xT;
  const x = Math.max(0, 1 - pressures.outletAbsolute_bar / pressures.inletAbsolute_bar);
  const sizing = Math.min(x, choked);
  return (1 - sizing / (3 * choked)) * Math.sqrt(sizing);
}

/**
 * Molar flow of an ideal gas through a nozzle, mol/h; zero when the pressure behind is as high as before.
 * @throws OutOfValidRangeError for an inlet outside 0.5 to 60 bar absolute or an area outside 0 to 1000 mm2
 * @see [Shapiro1953] chapter 4
 */
export function nozzleFlow_molPerH(area_mm2: number, pressures: NeedlePressures, gas: ValveGas): number {
  assertPressures(pressures);
  assertInRange(area_mm2, ranges.area);
  const molarMass_kgPerMol = gas.molarMass_gPerMol / 1000;
  const perArea = 1 / Math.sqrt(molarMass_kgPerMol * gasConstant_JPerMolK * gas.temperature_K);
  const force = area_mm2 * 1e-6 * pressures.inletAbsolute_bar * 1e5;
  return 3600 * force * perArea * nozzleFactor(pressures, gas.heatCapacity_ratio);
}

/**
 * Molar flow through a valve of known Kv and xT without fittings, turbulent, mol/h. Below a Kv of about 0.01 the gap of a
 * real needle is so narrow that viscosity takes over, and less flows than this.
 * @throws OutOfValidRangeError for an inlet outside 0.5 to 60 bar absolute, Kv outside 0 to 1000 or xT outside 0.1 to 1
 * @see [IEC60534] mass-flow equation for compressible fluids (N6, expansion factor); equations from memory
 */
export function ratedFlow_molPerH(
  valve: { readonly kv: number; readonly xT: number },
  pressures: NeedlePressures,
  gas: ValveGas,
): number {
  assertPressures(pressures);
  assertInRange(valve.kv, ranges.kv);
  assertInRange(valve.xT, ranges.xT);
  const inlet_bar = pressures.inletAbsolute_bar;
  const density_molPerL = inlet_bar / (gas.compressibility * gasConstant_LBarPerMolK * gas.temperature_K);
  // 1 g/L is 1 kg/m3.
  const density_kgPerM3 = density_molPerL * gas.molarMass_gPerMol;
  const factor = ratedFactor(pressures, valve.xT, gas.heatCapacity_ratio);
  const flow_gPerH = 1000 * standardN6 * valve.kv * factor * Math.sqrt(inlet_bar * density_kgPerM3);
  return flow_gPerH / gas.molarMass_gPerMol;
}

/**
 * CO2 at a valve's inlet: up to saturation, -50 to 100 degC.
 * @throws OutOfValidRangeError outside these ranges
 * @see [SpanWagner1996] compressibility
 */
export function carbonDioxideAtValve(gas: {
  readonly inletAbsolute_bar: number;
  readonly temperature_degC: number;
}): ValveGas {
  const { inletAbsolute_bar, temperature_degC } = gas;
  const temperature_K = kelvinFromCelsius(temperature_degC);
  const density_molPerL = carbonDioxideDensity_molPerL({
    pressureAbsolute_bar: inletAbsolute_bar,
    temperature_degC,
  });
  return {
    molarMass_gPerMol: molarMass_gPerMol.co2,
    heatCapacity_ratio: carbonDioxideHeatCapacity_ratio,
    temperature_K,
    compressibility: inletAbsolute_bar / (density_molPerL * gasConstant_LBarPerMolK * temperature_K),
  };
}

/**
 * Flow of CO2 through a needle valve, mol/h: inlet 0.5 to 60 bar absolute, -50 to 100 degC.
 * @throws OutOfValidRangeError outside these ranges, and as nozzleFlow_molPerH and ratedFlow_molPerH
 * @see [Shapiro1953], [IEC60534], [SpanWagner1996]
 */
export function needleFlow_molPerH(
  valve: NeedleValve,
  at: NeedlePressures & { readonly temperature_degC: number },
): number {
  assertPressures(at);
  const gas = carbonDioxideAtValve(at);
  return valve.kind === "nozzle"
    ? nozzleFlow_molPerH(valve.area_mm2, at, gas)
    : ratedFlow_molPerH(valve, at, gas);
}

/**
 * Whether CO2 flows through an ideal nozzle at the speed of sound, below it, or not at all. Inlet 0.5 to 60 bar absolute.
 * @throws OutOfValidRangeError outside that range
 * @see [Shapiro1953] chapter 4
 */
export function needleRegime(pressures: NeedlePressures): "choked" | "unchoked" | "no-flow" {
  assertPressures(pressures);
  const pressure_ratio = pressures.outletAbsolute_bar / pressures.inletAbsolute_bar;
  if (pressure_ratio >= 1) return "no-flow";
  return pressure_ratio <= criticalPressure_ratio(carbonDioxideHeatCapacity_ratio) ? "choked" : "unchoked";
}

/** Flow up to a factor that the opening and the temperature set. */
function relativeFlow(law: NeedleLaw, pressures: NeedlePressures): number {
  const { inletAbsolute_bar, outletAbsolute_bar } = pressures;
  switch (law.kind) {
    case "nozzle":
      return inletAbsolute_bar * nozzleFactor(pressures, carbonDioxideHeatCapacity_ratio);
    case "rated":
      assertInRange(law.xT, ranges.xT);
      return inletAbsolute_bar * ratedFactor(pressures, law.xT, carbonDioxideHeatCapacity_ratio);
    case "viscous":
      return Math.max(0, inletAbsolute_bar ** 2 - outletAbsolute_bar ** 2);
  }
}

/**
 * Flow of CO2 through an untouched needle over what it was at first; 0 when nothing flows any more. The change of
 * compressibility (0.3 % on the flow between 3 and 4 bar) is left out. Inlets 0.5 to 60 bar absolute.
 * @throws OutOfValidRangeError outside that range, and when at first nothing flowed
 * @see [Shapiro1953] nozzle, [IEC60534] rated valve, [Bird2002] viscous flow of a gas, section 2.3 and problem 2B.9 (from
 *   memory)
 */
export function flowMultiplier_ratio(law: NeedleLaw, first: NeedlePressures, now: NeedlePressures): number {
  assertPressures(first);
  assertPressures(now);
  const before = relativeFlow(law, first);
  if (!(before > 0)) {
    throw new OutOfValidRangeError(
      "pressure behind the needle",
      first.outletAbsolute_bar,
      "bar absolute",
      0,
      first.inletAbsolute_bar,
    );
  }
  return relativeFlow(law, now) / before;
}
