/**
 * CO2 by the rule that tank keepers pass on, 3 x dKH x 10^(7 - pH), mg/L: common practice, no source. Never an estimate here;
 * it is shown beside one, to tell how far it is off. It has no temperature and reads low at every tank temperature, which is the
 * unsafe side for the animals.
 */
export function ruleOfThumbCo2_mgPerL(reading: { readonly pH: number; readonly kh_dKH: number }): number {
  return 3 * reading.kh_dKH * 10 ** (7 - reading.pH);
}

/** How far the rule is off from an estimate: -0.12 where it reads 12 % low. */
export function ruleOfThumbError_ratio(
  reading: { readonly pH: number; readonly kh_dKH: number },
  co2_mgPerL: number,
): number {
  return ruleOfThumbCo2_mgPerL(reading) / co2_mgPerL - 1;
}
