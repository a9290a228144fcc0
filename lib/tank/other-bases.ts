import { daviesLogGamma } from "../chemistry/davies.js";
import { OutOfValidRangeError } from "../errors.js";
import { alkalinityFromKh_meqPerL } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import { tankIonicStrength, type WaterSalts } from "./ionic-strength.js";

/** Bases in the water that an acid titration counts as hardness although no carbonate stands behind them. */
export interface OtherBases {
  /** Orthophosphate as PO4, 0 to 200 mg/L: from food, fertiliser, or a buffer that lowers the pH. */
  readonly phosphate_mgPerL?: number;
  /** Dissolved organic carbon, 0 to 100 mg/L: 1 to 5 in a clear tank, 10 to 30 in water brown with leaves and wood. */
  readonly dissolvedOrganicCarbon_mgPerL?: number;
  /** Boron as B, 0 to 50 mg/L: from borax buffers and sea salt. */
  readonly boron_mgPerL?: number;
}

export interface TitratedHardness extends WaterSalts {
  /** What the test kit shows. */
  readonly kh_dKH: number;
  /** Of the tank when the sample was taken. */
  readonly pH: number;
  readonly temperature_degC: number;
  /** Where the kit's colour changes, 4.0 to 5.0; 4.35 where nothing is said, since kits end at 4.3 to 4.5. */
  readonly endPointPh?: number;
  readonly bases: OtherBases;
}

export interface HardnessApart {
  readonly carbonateHardness_dKH: number;
  /** The part of the kit's figure that is not carbonate. */
  readonly otherHardness_dKH: number;
  /** How far CO2 from pH and the kit's figure reads high: 0.25 for a quarter too much. */
  readonly co2Excess_ratio: number;
}

const molarMass_gPerMol = { phosphate: 94.97, boron: 10.81 } as const;
/** Of phosphoric and boric acid at 25 degC and zero ionic strength; 10 K move them by 0.05 at most. [Wagman1982] */
const pK = { phosphoric1: 2.148, phosphoric2: 7.199, phosphoric3: 12.35, boric: 9.237 } as const;
/** Carboxyl groups of aquatic humic substances, ueq per mg of carbon; 8.8 to 10.2 in later work. [Oliver1983], [Hruska2003] */
const humicCharge_meqPerMg = 0.01;

const ranges = {
  pH: { quantity: "pH", unit: "", minimum: 4, maximum: 10 },
  temperature: { quantity: "temperature", unit: "degC", minimum: 0, maximum: 45 },
  endPoint: { quantity: "end point pH", unit: "", minimum: 4, maximum: 5 },
  phosphate: { quantity: "phosphate", unit: "mg/L", minimum: 0, maximum: 200 },
  carbon: { quantity: "dissolved organic carbon", unit: "mg/L", minimum: 0, maximum: 100 },
  boron: { quantity: "boron", unit: "mg/L", minimum: 0, maximum: 50 },
  kh: { quantity: "carbonate hardness", unit: "dKH", minimum: 0.1, maximum: 40 },
} as const;

/** Mean negative charge of a phosphate, 0 to 3, by pH on the activity scale. */
function phosphateCharge(pH: number, logGamma: (charge: number) => number): number {
  const first = 10 ** (pH - pK.phosphoric1 - logGamma(1));
  const second = first * 10 ** (pH - pK.phosphoric2 + logGamma(1) - logGamma(2));
  const third = second * 10 ** (pH - pK.phosphoric3 + logGamma(2) - logGamma(3));
  return (first + 2 * second + 3 * third) / (1 + first + second + third);
}

function borateCharge(pH: number, logGamma: (charge: number) => number): number {
  const ratio = 10 ** (pH - pK.boric - logGamma(1));
  return ratio / (1 + ratio);
}

/**
 * Share of the humic carboxyl groups that have given up their proton: one acid whose pK rises with pH.
 * @see [Oliver1983] equation and coefficients from memory; for pH 3 to 8, where the share is near 1
 */
function humicShare(pH: number): number {
  const pKHumic = 0.96 + 0.9 * pH - 0.039 * pH * pH;
  return 1 / (1 + 10 ** (pKHumic - pH));
}

/**
 * Negative charge of the bases other than carbonate at a pH, meq/L: what of them stands ready to take up acid, counted from
 * their uncharged forms. Phosphate's pairs with calcium are left out (under 10 % of it below pH 8).
 * @throws OutOfValidRangeError for a pH outside 4 to 10, or more of a base than its range
 * @see [Wagman1982] phosphoric and boric acid, [Oliver1983] humic acids, [Davies1962]
 */
export function otherBasesCharge_meqPerL(
  water: { readonly pH: number; readonly temperature_degC: number; readonly ionicStrength_molPerL: number },
  bases: OtherBases,
): number {
  const { pH, temperature_degC, ionicStrength_molPerL } = water;
  const phosphate_mgPerL = bases.phosphate_mgPerL ?? 0;
  const carbon_mgPerL = bases.dissolvedOrganicCarbon_mgPerL ?? 0;
  const boron_mgPerL = bases.boron_mgPerL ?? 0;
  assertInRange(pH, ranges.pH);
  assertInRange(temperature_degC, ranges.temperature);
  assertInRange(phosphate_mgPerL, ranges.phosphate);
  assertInRange(carbon_mgPerL, ranges.carbon);
  assertInRange(boron_mgPerL, ranges.boron);
  const logGamma = (charge: number): number =>
    daviesLogGamma({ charge, ionicStrength_molPerL, temperature_degC });
  return (
    (phosphate_mgPerL / molarMass_gPerMol.phosphate) * phosphateCharge(pH, logGamma) +
    (boron_mgPerL / molarMass_gPerMol.boron) * borateCharge(pH, logGamma) +
    carbon_mgPerL * humicCharge_meqPerMg * humicShare(pH)
  );
}

/**
 * Acid that bases other than carbonate take up between the tank's pH and the end point of a hardness titration, meq/L.
 * @throws OutOfValidRangeError as otherBasesCharge_meqPerL, and for an end point outside 4 to 5
 * @see [Wagman1982], [Oliver1983], [Davies1962]
 */
export function otherBases_meqPerL(
  water: { readonly pH: number; readonly temperature_degC: number; readonly ionicStrength_molPerL: number },
  bases: OtherBases,
  endPointPh = 4.35,
): number {
  assertInRange(endPointPh, ranges.endPoint);
  const atEnd_meqPerL = otherBasesCharge_meqPerL({ ...water, pH: endPointPh }, bases);
  return otherBasesCharge_meqPerL(water, bases) - atEnd_meqPerL;
}

/**
 * What a hardness kit's figure holds of carbonate and of other bases, and how far the CO2 from it is therefore off. An
 * explanation for readings that disagree, not a correction to dose by: the amounts are seldom known well.
 * @throws OutOfValidRangeError outside the ranges, or when the other bases alone exceed the kit's figure
 * @see [Wagman1982], [Oliver1983]
 */
export function hardnessApart(titrated: TitratedHardness): HardnessApart {
  assertInRange(titrated.kh_dKH, ranges.kh);
  const { ionicStrength_molPerL } = tankIonicStrength(alkalinityFromKh_meqPerL(titrated.kh_dKH), titrated);
  const other_meqPerL = otherBases_meqPerL(
    { pH: titrated.pH, temperature_degC: titrated.temperature_degC, ionicStrength_molPerL },
    titrated.bases,
    titrated.endPointPh,
  );
  const otherHardness_dKH = other_meqPerL / alkalinityFromKh_meqPerL(1);
  const carbonateHardness_dKH = titrated.kh_dKH - otherHardness_dKH;
  if (!(carbonateHardness_dKH > 0)) {
    const { quantity, unit, maximum } = ranges.kh;
    throw new OutOfValidRangeError(quantity, titrated.kh_dKH, unit, otherHardness_dKH, maximum);
  }
  return {
    carbonateHardness_dKH,
    otherHardness_dKH,
    co2Excess_ratio: titrated.kh_dKH / carbonateHardness_dKH - 1,
  };
}
