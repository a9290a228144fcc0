import type { SupplyModel } from "./supply-model.js";

/**
 * What is believed before anything is read, and how fast it may change. Spreads are standard deviations.
 *
 * The model's: 4 % on pressure and 25 % on the bicarbonate kept back (half-widths that three activity models span), CO2 that
 * escapes between pouring and closing 0 to 8 %, trapped air from none (purged) to 1 atm. A flat span of width w has a standard
 * deviation of 0.29 w; what is believed of the lost CO2 leans towards a clean closing.
 */
export const modelSpread = {
  pressureFactor: 0.037,
  retained_ratio: 0.2,
  lost: { mean_ratio: 0.037, deviation_ratio: 0.024 },
  air: { mean_ratio: 0.6, deviation_ratio: 0.33 },
  airHaste: { mean_ratio: 1.1, deviation_ratio: 0.35 },
  /** On top of the factor, as the charge is used up: the shape of the depletion curve, over the whole charge. */
  pressureShape: 0.015,
} as const;

/** Judgements, common practice, no source: a charge lasts two to eight weeks; what a fitting may leak; a small regulator. */
export const useSpread = {
  chargeLasts_days: 30,
  flow_ratio: 0.9,
  flowPerDay_ratio: 0.02,
  /** On the way to the end a hand may touch the needle, which the last days do not show. */
  flowAheadPerDay_ratio: 0.015,
  useOfDay_ratio: 0.02,
  /** Windows are used but for a day here and there; a pause of some days says little about the weeks to come. */
  windowUse: { mean_ratio: 0.96, worth_days: 12, memory_days: 24, dayVariance: 0.03 },
  guessedUse_ratio: 0.25,
  leak_gPerH: 0.03,
  leakPerDay_gPerH: 0.012,
  supplyEffect: { mean_perBar: 0.0145, deviation_perBar: 0.007 },
} as const;

/** The gauge's accuracy is a half-width; half of it lasts, half of it is new at every reading. */
export const gaugeSpread = {
  bias_ratio: 0.5,
  noise_ratio: 0.35,
  wander_ratio: 0.35,
  wander_h: 12,
  leastWander_bar: 0.04,
  driftPerDay_ratio: 0.05,
  leastNoise_bar: 0.01,
  byEye_bar: 0.1,
} as const;

export const temperatureSpread = {
  offset_K: 0.6,
  offsetPerDay_K: 0.08,
  atFirst_K: 1.2,
  /** What drives the contents beside the sensor, at rest. */
  atRest_K: 0.25,
  unread_K: 2.5,
  unreadPerHour_K: 0.3,
  assumed_degC: 21,
} as const;

/**
 * Time constants of the contents behind the sensor, with the odds of each as natural logarithms: each is a hypothesis, weighed by
 * how well it foretells the gauge. A free-standing vessel with half a litre of water takes an hour or two. Judgement.
 */
export const lagHypotheses = [
  { lag_h: 0.6, odds_ln: -0.2 },
  { lag_h: 1.2, odds_ln: 0 },
  { lag_h: 2.4, odds_ln: 0 },
  { lag_h: 4.8, odds_ln: -0.3 },
  { lag_h: 9.6, odds_ln: -1.5 },
] as const;
/**
 * How much a reading counts in weighing the hypotheses. Readings minutes apart share their errors, and a gauge read in coarse
 * steps stands still while the temperature moves: taken at full weight it would prove that nothing moves.
 */
export const evidence = { share_ratio: 0.6, coarseStep_bar: 0.05 } as const;
/** Odds against a leak at first, as a natural logarithm: one charge in twenty. */
export const leakOdds_ln = -3;
/** No hypothesis is given up for good: it may become true. */
export const leastOdds_ln = -9;
/** Odds from longer ago count less: surroundings change. */
export const lagMemory_h = 240;

/** Until a charge is called settled: time constant of what has not reacted, h, and how far it is trusted. */
export const settlingSpread = {
  water_h: 1.2,
  ice_h: 7,
  pace_ratio: 0.5,
} as const;

export const scaleNoise_g = 1;

/** Flow while open of a charge that lasts as long as charges usually do, g/h. */
export function usualFlow_gPerH(model: SupplyModel): number {
  const open_h = useSpread.chargeLasts_days * (model.hasWindows ? model.spans.openPerDay_h : 8);
  return model.map.co2Available_g / open_h;
}
