import { assertInRange } from "../quantities/valid-range.js";

/**
 * Free CO2 of a stirred tank: dC/dt = dose - k (C - Cair) - uptake + respiration, all in mg/L and hours. With constant
 * terms it approaches Csettled = Cair + (dose - uptake + respiration) / k by e^(-kt): first-order gas exchange.
 */

/** Factor of the gas exchange for one kelvin. @see [BrownBarnwell1987] equation III-52, reaeration */
const theta = 1.024;

const exchangeRange = { quantity: "gas exchange", unit: "1/h", minimum: 1e-4, maximum: 100 };

/**
 * Gas exchange at another temperature of the same water and surface, 1/h; 0 to 40 degC.
 * Within 3 % over 5 K of the Schmidt number's square root, as a rippled surface has it; a still one follows its power 2/3, 6 % off.
 * @throws OutOfValidRangeError outside 0 to 40 degC
 * @see [BrownBarnwell1987] equation III-52; against [Wanninkhof1992] in the tests
 */
export function gasExchangeAt_perH(
  k_perH: number,
  from: { readonly temperature_degC: number; readonly to_degC: number },
): number {
  const range = { quantity: "temperature", unit: "degC", minimum: 0, maximum: 40 };
  assertInRange(from.temperature_degC, range);
  assertInRange(from.to_degC, range);
  return k_perH * theta ** (from.to_degC - from.temperature_degC);
}

/** The gas exchange in one hour at each temperature is worth this many hours at the reference. @see [BrownBarnwell1987] */
export function exchangeTime_ratio(temperature_degC: number, reference_degC: number): number {
  return theta ** (temperature_degC - reference_degC);
}

/**
 * Gas exchange of a tank from the transfer velocity of its surface, 1/h.
 * @param surface.velocity_cmPerH a lake in low wind about 2 [ColeCaraco1998]; ripples of a filter 3 to 8, strong movement 10 to
 * 20: common practice, no source
 * @param surface.depth_cm volume over free surface
 */
export function gasExchangeOfSurface_perH(surface: {
  readonly velocity_cmPerH: number;
  readonly depth_cm: number;
}): number {
  assertInRange(surface.velocity_cmPerH, {
    quantity: "transfer velocity",
    unit: "cm/h",
    minimum: 0,
    maximum: 200,
  });
  assertInRange(surface.depth_cm, { quantity: "depth", unit: "cm", minimum: 1, maximum: 300 });
  return surface.velocity_cmPerH / surface.depth_cm;
}

/** Where the CO2 comes to rest, mg/L. @throws OutOfValidRangeError for a gas exchange of 0 or less */
export function settledCo2_mgPerL(balance: {
  readonly k_perH: number;
  readonly airCo2_mgPerL: number;
  /** Dose and respiration less uptake. */
  readonly gain_mgPerLPerH: number;
}): number {
  assertInRange(balance.k_perH, exchangeRange);
  return balance.airCo2_mgPerL + balance.gain_mgPerLPerH / balance.k_perH;
}

/** CO2 after some hours on the way from the start to the settled value, mg/L. */
export function co2After_mgPerL(
  way: { readonly k_perH: number; readonly startCo2_mgPerL: number; readonly settledCo2_mgPerL: number },
  hours: number,
): number {
  return (
    way.settledCo2_mgPerL + (way.startCo2_mgPerL - way.settledCo2_mgPerL) * Math.exp(-way.k_perH * hours)
  );
}

/** Hours until the CO2 stands at a value, rising or falling; 0 when it is there or past it, infinite when it never gets there. */
export function hoursUntilCo2_h(
  way: { readonly k_perH: number; readonly startCo2_mgPerL: number; readonly settledCo2_mgPerL: number },
  target_mgPerL: number,
): number {
  const whole_mgPerL = way.settledCo2_mgPerL - way.startCo2_mgPerL;
  const part_mgPerL = target_mgPerL - way.startCo2_mgPerL;
  if (part_mgPerL === 0 || Math.sign(part_mgPerL) !== Math.sign(whole_mgPerL))
    return part_mgPerL === 0 ? 0 : Infinity;
  return part_mgPerL / whole_mgPerL >= 1 ? Infinity : -Math.log1p(-part_mgPerL / whole_mgPerL) / way.k_perH;
}
