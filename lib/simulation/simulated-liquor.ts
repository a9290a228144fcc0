import { kelvinFromCelsius } from "../quantities/units.js";
import { carbonDioxideSolubility_molPerKgBar } from "./carbon-dioxide-phases.js";

/** Moles in the liquor that no reaction changes, and the water they are in. */
export interface LiquorSalts {
  readonly sodium_mol: number;
  readonly citrate_mol: number;
  readonly water_kg: number;
}

/** What the liquor holds under a given fugacity of CO2. */
export interface LiquorHoldings {
  /** Activity of the hydrogen ion, negative logarithm. */
  readonly pH: number;
  readonly co2Dissolved_mol: number;
  /** Dissolved and crystalline. */
  readonly bicarbonate_mol: number;
  readonly crystals_mol: number;
  readonly ionicStrength_molPerKg: number;
}

/** Stoichiometric constants at one temperature, ionic strength and sodium content. */
export interface LiquorConstantsAt {
  readonly solubility_molPerKgBar: number;
  readonly carbonic: number;
  readonly citric1: number;
  readonly citric2: number;
  readonly citric3: number;
  readonly bicarbonateProduct: number;
}

/**
 * The acid's three pK at 0, 20 and 40 degC, joined by parabolas. @see [BatesPinching1949]
 */
const citricPk = [
  { at0: 3.22, at20: 3.141, at40: 3.102 },
  { at0: 4.833, at20: 4.769, at40: 4.753 },
  { at0: 6.394, at20: 6.388, at40: 6.44 },
] as const;

/**
 * Specific-ion coefficients with sodium, kg/mol. Bicarbonate: fitted, the ion pair counted in it, to the equilibria of
 * [Phreeqc2013]; the rest are those of [Hummel2005] and [ThermoChimie2014].
 */
const specificIon_kgPerMol = {
  dihydrogenCitrate: -0.05,
  hydrogenCitrate: -0.04,
  citrate: -0.076,
  bicarbonate: -0.07,
  carbonDioxide: 0.074,
} as const;

function parabola(
  row: { readonly at0: number; readonly at20: number; readonly at40: number },
  t: number,
): number {
  const slope = (row.at20 - row.at0) / 20;
  const bend = (row.at40 - 2 * row.at20 + row.at0) / 800;
  return row.at0 + slope * t + bend * t * (t - 20);
}

/** @see [PlummerBusenberg1982] the fit of log K1 */
function carbonicLogK(temperature_degC: number): number {
  const T = kelvinFromCelsius(temperature_degC);
  return -356.3094 - 0.06091964 * T + 21834.37 / T + 126.8339 * Math.log10(T) - 1684915 / T ** 2;
}

/** Sodium bicarbonate that dissolves in pure water, mol/kg: 6.9, 9.6 and 12.7 g in 100 g at 0, 20 and 40 degC. @see [Seidell1940] */
function saturation_molPerKg(temperature_degC: number): number {
  return parabola({ at0: 0.8214, at20: 1.1428, at40: 1.5118 }, temperature_degC);
}

function debyeHueckel(ionicStrength_molPerKg: number, temperature_degC: number): number {
  const root = Math.sqrt(ionicStrength_molPerKg);
  return ((0.4913 + 0.00071 * temperature_degC) * root) / (1 + 1.5 * root);
}

/**
 * Constants of the simulation's own liquor: one term after Debye and Hueckel, one specific-ion coefficient per ion,
 * sodium as the only cation that counts. Down to -8 degC the constants are those of 0 degC.
 * @see [Grenthe1997]
 */
export function liquorConstantsAt(
  temperature_degC: number,
  ionicStrength_molPerKg: number,
  sodium_molPerKg: number,
): LiquorConstantsAt {
  const t = Math.max(0, temperature_degC);
  const D = debyeHueckel(ionicStrength_molPerKg, t);
  const lnGamma = (charge: number, coefficient_kgPerMol: number): number =>
    -(charge ** 2) * D + coefficient_kgPerMol * sodium_molPerKg;
  const e = specificIon_kgPerMol;
  const g1 = lnGamma(1, e.dihydrogenCitrate);
  const g2 = lnGamma(2, e.hydrogenCitrate);
  const g3 = lnGamma(3, e.citrate);
  const gb = lnGamma(1, e.bicarbonate);
  const pK = citricPk.map((row) => parabola(row, t));
  const pure_molPerKg = saturation_molPerKg(t);
  const gammaInPure = -debyeHueckel(pure_molPerKg, t) + e.bicarbonate * pure_molPerKg;
  const solubility_molPerKgBar =
    carbonDioxideSolubility_molPerKgBar(t) * 10 ** (-e.carbonDioxide * sodium_molPerKg);
  // Water's activity falls by its share among the solutes.
  const waterActivity = 1 / (1 + 0.018015 * 1.5 * sodium_molPerKg);
  return {
    solubility_molPerKgBar,
    carbonic: 10 ** (carbonicLogK(t) - gb) * carbonDioxideSolubility_molPerKgBar(t) * waterActivity,
    citric1: 10 ** (-(pK[0] ?? 0) - g1),
    citric2: 10 ** (-(pK[1] ?? 0) + g1 - g2),
    citric3: 10 ** (-(pK[2] ?? 0) + g2 - g3),
    // Sodium enters with the coefficient of its counter-ion.
    bicarbonateProduct: pure_molPerKg ** 2 * 10 ** (2 * gammaInPure - (gb - D)),
  };
}

interface Charges {
  readonly excess_molPerKg: number;
  readonly slope_molPerKg: number;
  readonly bicarbonate_molPerKg: number;
  readonly dissolvedSodium_molPerKg: number;
  readonly citrate1: number;
  readonly citrate2: number;
  readonly citrate3: number;
}

function chargesAt(
  constants: LiquorConstantsAt,
  salts: { readonly sodium_molPerKg: number; readonly citrate_molPerKg: number },
  fugacity_bar: number,
  pH: number,
): Charges {
  const h = 10 ** -pH;
  const bicarbonate_molPerKg = (constants.carbonic * fugacity_bar) / h;
  const r1 = constants.citric1 / h;
  const r2 = (r1 * constants.citric2) / h;
  const r3 = (r2 * constants.citric3) / h;
  const sum = 1 + r1 + r2 + r3;
  const mean = (r1 + 2 * r2 + 3 * r3) / sum;
  const spread = (r1 + 4 * r2 + 9 * r3) / sum - mean ** 2;
  const saturated_molPerKg =
    bicarbonate_molPerKg > 0 ? constants.bicarbonateProduct / bicarbonate_molPerKg : Infinity;
  const crystals = saturated_molPerKg < salts.sodium_molPerKg;
  const dissolvedSodium_molPerKg = crystals ? saturated_molPerKg : salts.sodium_molPerKg;
  return {
    excess_molPerKg: dissolvedSodium_molPerKg + h - bicarbonate_molPerKg - salts.citrate_molPerKg * mean,
    slope_molPerKg:
      Math.LN10 *
      ((crystals ? dissolvedSodium_molPerKg : 0) +
        h +
        bicarbonate_molPerKg +
        salts.citrate_molPerKg * spread),
    bicarbonate_molPerKg,
    dissolvedSodium_molPerKg,
    citrate1: r1 / sum,
    citrate2: r2 / sum,
    citrate3: r3 / sum,
  };
}

/**
 * What the liquor holds under a fugacity of CO2: the pH at which the charges balance, crystals where the bicarbonate
 * is saturated. Carbonate is left out: below pH 7.5 it is less than a hundredth of the bicarbonate.
 * @param start.pH where to begin; the answer does not depend on it
 */
export function liquorUnder(
  constants: LiquorConstantsAt,
  salts: LiquorSalts,
  fugacity_bar: number,
  start: { readonly pH: number },
): LiquorHoldings {
  const perKg = {
    sodium_molPerKg: salts.sodium_mol / salts.water_kg,
    citrate_molPerKg: salts.citrate_mol / salts.water_kg,
  };
  let low = 1;
  let high = 10;
  let pH = Math.min(high, Math.max(low, start.pH));
  let found = chargesAt(constants, perKg, fugacity_bar, pH);
  for (let pass = 0; pass < 60; pass += 1) {
    if (found.excess_molPerKg > 0) low = pH;
    else high = pH;
    const newton = pH + found.excess_molPerKg / found.slope_molPerKg;
    const next = newton > low && newton < high ? newton : (low + high) / 2;
    const move = Math.abs(next - pH);
    pH = next;
    found = chargesAt(constants, perKg, fugacity_bar, pH);
    if (move < 1e-12) break;
  }
  const crystals_molPerKg = perKg.sodium_molPerKg - found.dissolvedSodium_molPerKg;
  const citrateStrength = found.citrate1 + 4 * found.citrate2 + 9 * found.citrate3;
  return {
    pH,
    co2Dissolved_mol: constants.solubility_molPerKgBar * fugacity_bar * salts.water_kg,
    bicarbonate_mol: (found.bicarbonate_molPerKg + crystals_molPerKg) * salts.water_kg,
    crystals_mol: crystals_molPerKg * salts.water_kg,
    ionicStrength_molPerKg:
      (found.dissolvedSodium_molPerKg +
        found.bicarbonate_molPerKg +
        perKg.citrate_molPerKg * citrateStrength) /
      2,
  };
}
