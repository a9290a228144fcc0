import { gasConstant_JPerMolK } from "../quantities/physical-constants.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";

/** Critical temperature, critical volume, acentric factor and critical compressibility. */
const carbonDioxide = {
  temperature_K: 304.13,
  volume_cm3PerMol: 94.1,
  acentric: 0.224,
  compressibility: 0.274,
};
const air = { temperature_K: 132.5, volume_cm3PerMol: 92.4, acentric: 0.035, compressibility: 0.318 };

/**
 * Second virial coefficient between CO2 and air, L/mol: -0.05 at 0 degC, -0.04 at 30 degC, about 10 %.
 * Air is a twentieth of the headspace, so that 10 % here is 0.05 % of the pressure. -50 to 100 degC.
 * @throws OutOfValidRangeError outside -50 to 100 degC
 * @see [Tsonopoulos1974] equations 4-6, with the mixing rules of [Prausnitz1999] section 5-7 and no binary correction
 */
export function crossVirialCo2Air_LPerMol(temperature_degC: number): number {
  assertInRange(temperature_degC, { quantity: "temperature", unit: "degC", minimum: -50, maximum: 100 });
  const critical_K = Math.sqrt(carbonDioxide.temperature_K * air.temperature_K);
  const edge = Math.cbrt(carbonDioxide.volume_cm3PerMol) + Math.cbrt(air.volume_cm3PerMol);
  const critical_cm3PerMol = (edge / 2) ** 3;
  const compressibility = (carbonDioxide.compressibility + air.compressibility) / 2;
  const acentric = (carbonDioxide.acentric + air.acentric) / 2;
  const t = critical_K / kelvinFromCelsius(temperature_degC);
  const t2 = t * t;
  const t3 = t2 * t;
  const t8 = t3 * t3 * t2;
  const simple = 0.1445 - 0.33 * t - 0.1385 * t2 - 0.0121 * t3 - 0.000607 * t8;
  const shape = 0.0637 + 0.331 * t2 - 0.423 * t3 - 0.008 * t8;
  return ((critical_cm3PerMol / compressibility) * (simple + acentric * shape)) / 1000;
}

/** R in the unit in which bar, L and mol meet: 1 J is 0.01 L bar. */
export const gasConstant_LBarPerMolK = gasConstant_JPerMolK / 100;
