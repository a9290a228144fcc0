import { whiten } from "../numerics/cholesky.js";
import { airEquilibriumCo2_mgPerL } from "./air-equilibrium.js";
import type { NightRecord } from "./night-fit.js";
import { binReadings, median, noiseFactor, relaxed_ln, usualSlowNoise } from "./relaxation-fit.js";

/**
 * Whether the CO2 at which a night comes to rest is more than breathing explains. In one night a small leak and lively animals
 * look alike; so what enters the water in the dark is weighed against what tanks are known to breathe, over some nights.
 */
export interface NightRest {
  /** ln of the likelihood of gas that flows on over that of breathing alone. */
  readonly leakOverBreathing_ln: number;
  readonly aboveAir_mgPerL: number;
  /** CO2 that enters the water in the dark, from whatever source. */
  readonly release_mgPerLPerH: number;
  /** So much above the air's is the most that breathing usually holds up, at the gas exchange that fits this night. */
  readonly usuallyUnder_mgPerL: number;
}

export interface RestVerdict extends Omit<NightRest, "leakOverBreathing_ln"> {
  readonly nights: number;
  /** Odds, to one, of gas that flows on against breathing alone. */
  readonly leakOdds: number;
  readonly isTold: boolean;
}

/** What another witness says of gas that leaves the vessel while its valve is closed, g a day. */
export interface ClosedVesselLoss {
  readonly leak_gPerDay: number;
  readonly leakSigma_gPerDay: number;
}

/**
 * Fish, plants and bacteria together: 0.2 to 1 mg/L/h, from memory; by its shape 1 is passed by one tank in twenty. With what
 * hardness test and probe offset make of it.
 */
const breathing = { middle_mgPerLPerH: 0.4, sigma_ln: 0.6, mostUsual_mgPerLPerH: 1 } as const;
/** Gas exchange of a tank of which nothing is known. Common practice, no source. */
const exchange = { middle_perH: 0.2, sigma_ln: 0.7 } as const;
/** What plants take by day, which the gas of the day brings too. Common practice, no source. */
const usualUptake_mgPerLPerH = 0.7;
/** One tank in twenty begins with a seat that leaks, by anything up to the greater part of the flow. Judgement. */
const leakPrior = { odds: 1 / 19, least_ratio: 0.05, most_ratio: 0.75 } as const;
/** How loosely the CO2 at the start is known before the readings, in ln. */
const startSigma_ln = 1;
/** Nights before anything is said, and those that count. */
const counted = { least: 3, most: 5 } as const;
/** Judgement; measured on simulated tanks in test/scenarios. */
const leastOddsToTell = 3;
const room_ppm = 700;
const usual_degC = 25;
const settling_ms = 1_800_000;
const leastBins = 14;

const nodes = (count: number, low: number, high: number): readonly number[] =>
  Array.from({ length: count }, (_, i) => low + ((high - low) * i) / (count - 1));
const exchangeZ = nodes(19, -2.7, 2.7);
const lnReleases = nodes(40, Math.log(0.03), Math.log(15));
const leaks = nodes(15, leakPrior.least_ratio, leakPrior.most_ratio);

interface Weighed {
  readonly k_perH: number;
  readonly release_mgPerLPerH: number;
  readonly breathing_ln: number;
  readonly leak_ln: number;
}

/**
 * One night, weighed: its readings under all gas exchanges and releases that tanks have.
 * @returns undefined with readings in too few quarter hours, or water changed in the night
 */
export function nightRest(night: NightRecord): NightRest | undefined {
  const isIn = (at_epochMs: number): boolean =>
    at_epochMs >= night.from_epochMs && at_epochMs <= night.until_epochMs;
  if (night.waterChanges_epochMs.some(isIn)) return undefined;
  const span = { from_epochMs: night.from_epochMs + settling_ms, until_epochMs: night.until_epochMs };
  const { bins, temperature_degC } = binReadings(night.readings, span);
  const [first] = bins;
  if (first === undefined || bins.length < leastBins) return undefined;
  const air_mgPerL = airEquilibriumCo2_mgPerL({
    temperature_degC: Math.min(40, Math.max(0, temperature_degC ?? usual_degC)),
    roomCo2_ppm: room_ppm,
  });
  const factor = noiseFactor(bins, usualSlowNoise);
  const seen = whiten(
    factor,
    bins.map(({ lnCo2 }) => lnCo2),
  );
  const level = whiten(
    factor,
    bins.map(() => 1),
  );
  const length2 = 1 / startSigma_ln ** 2 + dot(level, level);
  const likelihood_ln = (lnK: number, rest_mgPerL: number): number => {
    // The start is free: the course is taken from the first bin, and moved along with it as a whole.
    const at = { lnK, lnSettled: Math.log(rest_mgPerL), lnStart: first.lnCo2 };
    const model = whiten(
      factor,
      bins.map((bin) => relaxed_ln(at, bin.exchangeTime_h - first.exchangeTime_h)),
    );
    const residual = seen.map((value, i) => value - (model[i] ?? 0));
    return -0.5 * (dot(residual, residual) - dot(residual, level) ** 2 / length2);
  };
  const weighed: Weighed[] = [];
  for (const z of exchangeZ) {
    const lnK = Math.log(exchange.middle_perH) + exchange.sigma_ln * z;
    const k_perH = Math.exp(lnK);
    const priors = lnReleases.map((lnRelease) => {
      const release_mgPerLPerH = Math.exp(lnRelease);
      const rest_mgPerL = air_mgPerL + release_mgPerLPerH / k_perH;
      const gained_mgPerLPerH =
        k_perH * Math.max(0, Math.exp(first.lnCo2) - rest_mgPerL) + usualUptake_mgPerLPerH;
      const breath = breathDensity(release_mgPerLPerH);
      const withLeak = leaks.reduce((sum, leak_ratio) => {
        const leak_mgPerLPerH = (gained_mgPerLPerH * leak_ratio) / (1 - leak_ratio);
        const left_mgPerLPerH = release_mgPerLPerH - leak_mgPerLPerH;
        // From a density of ln to one of the amount, and back to that of the whole.
        return left_mgPerLPerH <= 0
          ? sum
          : sum + (breathDensity(left_mgPerLPerH) / left_mgPerLPerH) * release_mgPerLPerH;
      }, 0);
      return { release_mgPerLPerH, rest_mgPerL, breath, withLeak };
    });
    const sums = {
      breath: priors.reduce((sum, { breath }) => sum + breath, 0),
      withLeak: priors.reduce((sum, { withLeak }) => sum + withLeak, 0),
    };
    for (const { release_mgPerLPerH, rest_mgPerL, breath, withLeak } of priors) {
      const common_ln = likelihood_ln(lnK, rest_mgPerL) - z ** 2 / 2;
      weighed.push({
        k_perH,
        release_mgPerLPerH,
        breathing_ln: common_ln + Math.log(breath / sums.breath + 1e-300),
        leak_ln: common_ln + Math.log(withLeak / sums.withLeak + 1e-300),
      });
    }
  }
  const breathing_ln = lnSum(weighed.map((one) => one.breathing_ln));
  const leak_ln = lnSum(weighed.map((one) => one.leak_ln));
  const middle = middleOf(weighed, breathing_ln, leak_ln);
  return {
    leakOverBreathing_ln: leak_ln - breathing_ln,
    aboveAir_mgPerL: middle.release_mgPerLPerH / middle.k_perH,
    release_mgPerLPerH: middle.release_mgPerLPerH,
    usuallyUnder_mgPerL: breathing.mostUsual_mgPerLPerH / middle.k_perH,
  };
}

/**
 * What the last nights say together; undefined with fewer than three. They share their animals, their gas exchange and the
 * probe, so that the middle of them counts once, however many there are.
 * @param nights  oldest first
 */
export function restVerdict(nights: readonly NightRest[]): RestVerdict | undefined {
  const last = nights.slice(-counted.most);
  if (last.length < counted.least) return undefined;
  const leakOdds = leakPrior.odds * Math.exp(median(last.map((night) => night.leakOverBreathing_ln)));
  return {
    nights: last.length,
    aboveAir_mgPerL: median(last.map((night) => night.aboveAir_mgPerL)),
    release_mgPerLPerH: median(last.map((night) => night.release_mgPerLPerH)),
    usuallyUnder_mgPerL: median(last.map((night) => night.usuallyUnder_mgPerL)),
    leakOdds,
    isTold: leakOdds >= leastOddsToTell,
  };
}

function breathDensity(release_mgPerLPerH: number): number {
  const z = Math.log(release_mgPerLPerH / breathing.middle_mgPerLPerH) / breathing.sigma_ln;
  return Math.exp(-(z ** 2) / 2);
}

/** Geometric means under both kinds of tank, each by its weight: what fits the night, whatever the cause. */
function middleOf(
  weighed: readonly Weighed[],
  breathing_ln: number,
  leak_ln: number,
): { readonly k_perH: number; readonly release_mgPerLPerH: number } {
  const whole_ln = lnSum([breathing_ln, leak_ln + Math.log(leakPrior.odds)]);
  let lnK = 0;
  let lnRelease = 0;
  for (const one of weighed) {
    const weight = Math.exp(one.breathing_ln - whole_ln) + leakPrior.odds * Math.exp(one.leak_ln - whole_ln);
    lnK += weight * Math.log(one.k_perH);
    lnRelease += weight * Math.log(one.release_mgPerLPerH);
  }
  return { k_perH: Math.exp(lnK), release_mgPerLPerH: Math.exp(lnRelease) };
}

function lnSum(terms: readonly number[]): number {
  const largest = Math.max(...terms);
  return largest + Math.log(terms.reduce((sum, ln) => sum + Math.exp(ln - largest), 0));
}

function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, i) => sum + value * (b[i] ?? 0), 0);
}

/** A second witness counts by at most so much: gauge and balance may both err. Judgement. */
const vesselWeight = 10;

/**
 * The same with what the vessel says. Gas that enters the water has left the vessel: one that surely loses less than half of it
 * while closed speaks against a leak, one that surely loses so much for it. A fitting that leaks into the room looks the same.
 */
export function besideVessel(
  verdict: RestVerdict,
  loss: ClosedVesselLoss | undefined,
  volume_L: number,
): RestVerdict & { readonly vesselSays: "for" | "against" | "nothing" } {
  if (loss === undefined) return { ...verdict, vesselSays: "nothing" };
  const gas_mgPerLPerH = Math.max(0, verdict.release_mgPerLPerH - breathing.middle_mgPerLPerH);
  const needed_gPerDay = (gas_mgPerLPerH * volume_L * 24) / 1000;
  const { leak_gPerDay, leakSigma_gPerDay } = loss;
  const counting = (vesselSays: "for" | "against", factor: number) => {
    const leakOdds = verdict.leakOdds * factor;
    return { ...verdict, leakOdds, isTold: leakOdds >= leastOddsToTell, vesselSays };
  };
  if (leak_gPerDay + 2 * leakSigma_gPerDay < needed_gPerDay / 2) return counting("against", 1 / vesselWeight);
  const isSure = leak_gPerDay - 2 * leakSigma_gPerDay > 0 && leak_gPerDay >= needed_gPerDay / 2;
  return isSure ? counting("for", vesselWeight) : { ...verdict, vesselSays: "nothing" };
}
