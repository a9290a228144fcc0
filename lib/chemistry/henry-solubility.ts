import { standardAtmosphere_bar } from "../quantities/physical-constants.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import { carbonDioxideLogKH } from "./equilibrium-constants.js";
import { sodiumInteraction_kgPerMol } from "./specific-ion.js";

/**
 * Henry's constant of CO2 in pure water: molality over fugacity, mol/(kg bar). 0 to 90 degC.
 * @throws OutOfValidRangeError outside 0 to 90 degC
 * @see [PlummerBusenberg1982]
 */
export function henryConstant_molPerKgBar(temperature_degC: number): number {
  return 10 ** carbonDioxideLogKH(temperature_degC) / standardAtmosphere_bar;
}

/**
 * CO2 dissolved in a sodium liquor, mol per kg of water. Fugacity 0 to 40 bar, 0 to 90 degC, sodium 0 to 7 mol/kg.
 *
 * The pressure's own effect on the dissolved gas (partial molar volume 33 cm3/mol, -2.5 % at 20 bar) and the
 * attraction between its molecules nearly cancel up to 30 bar; both are left out, and the result stays within 3 %
 * of what was measured at 25 bar.
 * @throws OutOfValidRangeError outside these ranges
 * @see [PlummerBusenberg1982], [WiebeGaddy1940], [Carroll1991], salting-out [Grenthe1997]
 */
export function dissolvedCarbonDioxide_molPerKg(liquor: {
  readonly fugacity_bar: number;
  readonly temperature_degC: number;
  readonly sodium_molPerKg: number;
}): number {
  assertInRange(liquor.fugacity_bar, { quantity: "CO2 fugacity", unit: "bar", minimum: 0, maximum: 40 });
  assertInRange(liquor.sodium_molPerKg, { quantity: "sodium", unit: "mol/kg", minimum: 0, maximum: 7 });
  const saltingOut = 10 ** (sodiumInteraction_kgPerMol.carbonDioxide * liquor.sodium_molPerKg);
  return (henryConstant_molPerKgBar(liquor.temperature_degC) * liquor.fugacity_bar) / saltingOut;
}

/**
 * Henry's constant of CO2 in water as fugacity over mole fraction, MPa. 0 to 160 degC, below 1 MPa.
 * The cross-check of henryConstant_molPerKgBar.
 * @throws OutOfValidRangeError outside 0 to 160 degC
 * @see [Carroll1991] equation 1
 */
export function henryConstantByCarroll_MPa(temperature_degC: number): number {
  assertInRange(temperature_degC, { quantity: "temperature", unit: "degC", minimum: 0, maximum: 160 });
  const T = kelvinFromCelsius(temperature_degC);
  return Math.exp(-6.8346 + 1.2817e4 / T - 3.7668e6 / T ** 2 + 2.997e8 / T ** 3);
}

/**
 * Solubility K0 of CO2 in fresh water, mol/(kg atm), for the equilibrium with air. 0 to 40 degC.
 * @throws OutOfValidRangeError outside 0 to 40 degC
 * @see [Weiss1974] equation 12, table 1 (salinity 0)
 */
export function airSolubility_molPerKgAtm(temperature_degC: number): number {
  assertInRange(temperature_degC, { quantity: "temperature", unit: "degC", minimum: 0, maximum: 40 });
  const hundredths = kelvinFromCelsius(temperature_degC) / 100;
  return Math.exp(-60.2409 + 93.4517 / hundredths + 23.3585 * Math.log(hundredths));
}
