import { airSolubility_molPerKgAtm, henryConstant_molPerKgBar } from "../chemistry/henry-solubility.js";
import { waterDensity_kgPerL, waterVapourPressure_bar } from "../chemistry/water-properties.js";
import { molarMass_gPerMol, standardAtmosphere_bar } from "../quantities/physical-constants.js";
import { assertInRange } from "../quantities/valid-range.js";

const roomCo2Range = { quantity: "CO2 in the room", unit: "ppm", minimum: 200, maximum: 40_000 };
const pressureRange = { quantity: "air pressure", unit: "bar", minimum: 0.5, maximum: 1.1 };

/**
 * CO2 of fresh water that has come to rest with the air above it, mg/L: 0.61 at 25 degC and 420 ppm. The ppm are of dry air,
 * as a room monitor shows; the air at the surface is saturated with water vapour. The gas counts as ideal (0.4 %).
 * @param air.temperature_degC  0 to 40
 * @param air.roomCo2_ppm  200 to 40 000, of dry air
 * @param air.pressureAbsolute_bar  0.5 to 1.1; the standard atmosphere where nothing is said
 * @throws OutOfValidRangeError outside these ranges
 * @see [Weiss1974] equation 12, salinity 0; [WagnerPruss1993] for the vapour
 */
export function airEquilibriumCo2_mgPerL(air: {
  readonly temperature_degC: number;
  readonly roomCo2_ppm: number;
  readonly pressureAbsolute_bar?: number;
}): number {
  const { temperature_degC, roomCo2_ppm } = air;
  const pressureAbsolute_bar = air.pressureAbsolute_bar ?? standardAtmosphere_bar;
  assertInRange(roomCo2_ppm, roomCo2Range);
  assertInRange(pressureAbsolute_bar, pressureRange);
  const solubility_molPerKgAtm = airSolubility_molPerKgAtm(temperature_degC);
  const dryAir_bar = pressureAbsolute_bar - waterVapourPressure_bar(temperature_degC);
  const partial_ratio = (roomCo2_ppm * 1e-6 * dryAir_bar) / standardAtmosphere_bar;
  return (
    1000 *
    molarMass_gPerMol.co2 *
    solubility_molPerKgAtm *
    waterDensity_kgPerL(temperature_degC) *
    partial_ratio
  );
}

/**
 * CO2 of fresh water under pure CO2 at the standard atmosphere, mg/L: 1450 at 25 degC. No open tank can hold more; a figure
 * above it is an error of what it was reckoned from. The gas counts as ideal (0.5 %).
 * @param temperature_degC  0 to 45
 * @throws OutOfValidRangeError outside that range
 * @see [PlummerBusenberg1982]; [WagnerPruss1993] for the vapour
 */
export function saturatedCo2_mgPerL(temperature_degC: number): number {
  assertInRange(temperature_degC, { quantity: "temperature", unit: "degC", minimum: 0, maximum: 45 });
  const dryGas_bar = standardAtmosphere_bar - waterVapourPressure_bar(temperature_degC);
  return (
    1000 *
    molarMass_gPerMol.co2 *
    henryConstant_molPerKgBar(temperature_degC) *
    waterDensity_kgPerL(temperature_degC) *
    dryGas_bar
  );
}
