import { gasConstant_JPerMolK, standardAtmosphere_bar } from "../quantities/physical-constants.js";
import { kelvinFromCelsius } from "../quantities/units.js";

/** Critical point and acentric factor of CO2. @see [SpanWagner1996] */
const carbonDioxide = { critical_K: 304.1282, critical_bar: 73.773, acentricFactor: 0.22394 } as const;

/** R in L bar/(mol K): 1 J is 0.01 L bar. */
const gasConstant_LBarPerMolK = gasConstant_JPerMolK / 100;

/** What a body of CO2 gas does to its walls and to the water below it. */
export interface CarbonDioxideGas {
  readonly pressureAbsolute_bar: number;
  readonly compressibility_ratio: number;
  /** The pressure that counts for dissolution. */
  readonly fugacity_bar: number;
}

/**
 * Pressure and fugacity of CO2 gas from its density, by the Peng-Robinson equation with one component.
 * Up to 25 bar at 0 to 40 degC
 * within 1.2 % in pressure and 2.2 % in fugacity of the reference equation of state [SpanWagner1996].
 * @param gas.density_molPerL 0 or more, on the gas side of the saturation line
 * @see [PengRobinson1976] eq. 4, 9-12, 17, 18, 21
 */
export function carbonDioxideGas(gas: {
  readonly density_molPerL: number;
  readonly temperature_degC: number;
}): CarbonDioxideGas {
  const { density_molPerL } = gas;
  const temperature_K = kelvinFromCelsius(gas.temperature_degC);
  const RT = gasConstant_LBarPerMolK * temperature_K;
  if (density_molPerL <= 0) return { pressureAbsolute_bar: 0, compressibility_ratio: 1, fugacity_bar: 0 };
  const { critical_K, critical_bar, acentricFactor } = carbonDioxide;
  const RTc = gasConstant_LBarPerMolK * critical_K;
  const kappa = 0.37464 + 1.54226 * acentricFactor - 0.26992 * acentricFactor ** 2;
  const alpha = (1 + kappa * (1 - Math.sqrt(temperature_K / critical_K))) ** 2;
  const a = (0.45724 * RTc ** 2 * alpha) / critical_bar;
  const b = (0.0778 * RTc) / critical_bar;
  const bRho = b * density_molPerL;
  const pressureAbsolute_bar =
    (RT * density_molPerL) / (1 - bRho) - (a * density_molPerL ** 2) / (1 + 2 * bRho - bRho ** 2);
  const Z = pressureAbsolute_bar / (RT * density_molPerL);
  const attraction =
    (a / (2 * Math.SQRT2 * b * RT)) * Math.log((1 + (1 + Math.SQRT2) * bRho) / (1 + (1 - Math.SQRT2) * bRho));
  const lnPhi = Z - 1 - Math.log(Z * (1 - bRho)) - attraction;
  return {
    pressureAbsolute_bar,
    compressibility_ratio: Z,
    fugacity_bar: pressureAbsolute_bar * Math.exp(lnPhi),
  };
}

/**
 * Henry's constant of CO2 in pure water: molality over fugacity, mol/(kg bar). Valid 0 to 90 degC.
 * @see [PlummerBusenberg1982] the fit of log KH in mol/(kg atm)
 */
export function carbonDioxideSolubility_molPerKgBar(temperature_degC: number): number {
  const T = kelvinFromCelsius(temperature_degC);
  const logKH = 108.3865 + 0.01985076 * T - 6919.53 / T - 40.45154 * Math.log10(T) + 669365 / T ** 2;
  return 10 ** logKH / standardAtmosphere_bar;
}
