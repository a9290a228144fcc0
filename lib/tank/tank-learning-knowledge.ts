import { normalQuantile90 } from "../numerics/normal-distribution.js";
import type { ClosedProofKnowledge } from "./closed-proof.js";
import type { EveningKnowledge } from "./evening-fall.js";
import { gasExchangeAt_perH } from "./gas-exchange.js";
import type { TankDynamics } from "./lead-time.js";
import type { NightKnowledge } from "./morning-rise.js";
import type { FittedNight } from "./night-fit.js";
import { runningExchange, type ExchangeRecord } from "./running-exchange.js";
import type { Aeration, LearntMorning, LearntNight, TankLearning } from "./tank-learning-state.js";

type Learnt = Pick<TankLearning, "nights" | "mornings">;

/** The water as it is now: what was learnt in another one is brought to its scale and temperature. */
export interface WaterNow {
  readonly kh_dKH: number;
  readonly temperature_degC: number | null;
}

const hour_ms = 3_600_000;
/** A needle valve is turned, a diffuser clogs: an older dose is no longer this one. Judgement. */
const doseCounts_ms = 14 * 24 * hour_ms;
/** Food and animals differ from night to night, so the next one comes to rest elsewhere. Judgement. */
const restNextNight_ln = 0.2;
/**
 * Gas exchange of a tank of which nothing is known, and where it comes to rest: 0.06 to 0.5 per hour, 1 to 8 mg/L. Common
 * practice, no source.
 */
export const usual = { k_perH: 0.2, kSigma_ln: 0.6, settledCo2_mgPerL: 3, settledSigma_ln: 0.6 };

/** Gas exchange over the nights with, or without, the air pump. */
export function exchangeOf({ nights }: Learnt, aeration: Aeration): ExchangeRecord {
  return runningExchange(
    nights.flatMap((night) =>
      night.aeration === aeration && night.fit.kind !== "not used"
        ? [{ at_epochMs: night.from_epochMs, fit: night.fit }]
        : [],
    ),
  );
}

/** The last night that gave a number, with its settled CO2 on the scale of the present hardness. */
export function latestFitted(
  { nights }: Learnt,
  aeration: Aeration,
  kh_dKH: number,
): FittedNight | undefined {
  for (const night of [...nights].reverse()) {
    if (night.aeration !== aeration || night.fit.kind !== "fitted") continue;
    return {
      ...night.fit,
      settledCo2_mgPerL: (night.fit.settledCo2_mgPerL * kh_dKH) / night.kh_dKH,
      startCo2_mgPerL: (night.fit.startCo2_mgPerL * kh_dKH) / night.kh_dKH,
    };
  }
  return undefined;
}

/** k and the CO2 at rest, for the night or morning at hand; undefined before a night gave a number. */
export function nightKnowledge(
  learnt: Learnt,
  aeration: Aeration,
  water: WaterNow,
): NightKnowledge | undefined {
  const running = exchangeOf(learnt, aeration);
  const latest = latestFitted(learnt, aeration, water.kh_dKH);
  if (running.kind !== "estimate" || latest === undefined) return undefined;
  return {
    k_perH:
      water.temperature_degC === null
        ? running.k_perH
        : gasExchangeAt_perH(running.k_perH, {
            temperature_degC: running.temperature_degC,
            to_degC: water.temperature_degC,
          }),
    kSigma_ln: running.nextNightSigma_ln,
    settledCo2_mgPerL: latest.settledCo2_mgPerL,
    settledSigma_ln: latest.settledSigma_ln,
  };
}

/** The last morning that gave a dose, on the scale of the present hardness. */
export function latestDose(
  { mornings }: Learnt,
  kh_dKH: number,
  now_epochMs: number,
): (Extract<LearntMorning["rise"], { kind: "fitted" }> & { readonly at_epochMs: number }) | undefined {
  for (const morning of [...mornings].reverse()) {
    if (morning.rise.kind !== "fitted" || now_epochMs - morning.from_epochMs > doseCounts_ms) continue;
    const scale = kh_dKH / morning.kh_dKH;
    const { rise } = morning;
    return {
      ...rise,
      dose_mgPerLPerH: rise.dose_mgPerLPerH * scale,
      doseLow80_mgPerLPerH: rise.doseLow80_mgPerLPerH * scale,
      doseHigh80_mgPerLPerH: rise.doseHigh80_mgPerLPerH * scale,
      at_epochMs: morning.from_epochMs,
    };
  }
  return undefined;
}

/** What the tank does with gas on and the air pump off; the reason where that is not known. */
export function tankDynamics(
  learnt: Learnt,
  water: WaterNow,
  now_epochMs: number,
): TankDynamics | { readonly because: string } {
  const known = nightKnowledge(learnt, "off", water);
  if (known === undefined) return { because: whyNoExchange(learnt) };
  const dose = latestDose(learnt, water.kh_dKH, now_epochMs);
  if (dose === undefined) return { because: whyNoDose(learnt) };
  const { dose_mgPerLPerH, doseSigma_ln, doseWithK, doseWithSettled } = dose;
  return { ...known, dose_mgPerLPerH, doseSigma_ln, doseWithK, doseWithSettled };
}

/** What the coming evening is foreseen with: the air pump as in the last night; the reason where that is not known. */
export function eveningKnowledge(
  learnt: Learnt,
  water: WaterNow,
): EveningKnowledge | { readonly because: string } {
  const { nights } = learnt;
  const aeration = nights.at(-1)?.aeration ?? "off";
  const known = nightKnowledge(learnt, aeration, water);
  if (known === undefined) return { because: whyNoExchange(learnt, aeration) };
  return {
    ...known,
    settledSigma_ln: Math.hypot(known.settledSigma_ln, restNextNight_ln),
    starts_mgPerL: nights.flatMap(({ fit, kh_dKH, aeration: itsOwn }) =>
      fit.kind === "fitted" && itsOwn === aeration ? [(fit.startCo2_mgPerL * water.kh_dKH) / kh_dKH] : [],
    ),
  };
}

function whyNoExchange(learnt: Learnt, aeration: Aeration = "off"): string {
  const running = exchangeOf(learnt, aeration);
  if (running.kind === "bounded") {
    return `its nights are too short for a number: the gas exchange is at most ${running.kAtMost_perH.toPrecision(2)} per hour`;
  }
  const latest = learnt.nights.at(-1);
  if (latest === undefined) return "no night has been watched to its end yet";
  if (aeration === "off" && exchangeOf(learnt, "running").kind === "estimate") {
    return "the air pump runs at night, so how the tank loses CO2 without it is not known";
  }
  return `the last night cannot be used: ${whyNot(latest)}`;
}

function whyNot({ fit, aeration }: LearntNight): string {
  if (fit.kind === "fitted") return aeration === "running" ? "the air pump ran" : "it gave no number";
  return fit.because;
}

function whyNoDose({ mornings }: Learnt): string {
  const latest = mornings.at(-1);
  if (latest === undefined)
    return "no morning has been watched yet with gas on for an hour before the lights";
  return latest.rise.kind === "rejected"
    ? `the last morning cannot be used: ${latest.rise.because}`
    : "the last dose was learnt too long ago";
}

/** For the proof of tonight's closing: what this tank taught, or else what is usual, as wide as that is. */
export function closedKnowledge(
  learnt: Learnt,
  aeration: Aeration,
  water: WaterNow,
  now_epochMs: number,
): { readonly known: ClosedProofKnowledge; readonly isLearnt: boolean } {
  const known = nightKnowledge(learnt, aeration, water);
  if (known === undefined) {
    const k = boundedExchange(learnt, aeration) ?? usual;
    const { settledCo2_mgPerL, settledSigma_ln } = usual;
    return {
      known: {
        k_perH: k.k_perH,
        kSigma_ln: k.kSigma_ln,
        settledCo2_mgPerL,
        settledSigma_ln,
        dose_mgPerLPerH: undefined,
      },
      isLearnt: false,
    };
  }
  const running = exchangeOf(learnt, aeration);
  return {
    known: {
      ...known,
      settledSigma_ln: Math.hypot(known.settledSigma_ln, restNextNight_ln),
      dose_mgPerLPerH: latestDose(learnt, water.kh_dKH, now_epochMs)?.dose_mgPerLPerH,
    },
    isLearnt: running.kind === "estimate" && running.nights >= 2,
  };
}

/** From a night that was too short for a number: the middle of its bounds, which hold with 90 %. */
function boundedExchange(
  { nights }: Learnt,
  aeration: Aeration,
): { readonly k_perH: number; readonly kSigma_ln: number } | undefined {
  for (const night of [...nights].reverse()) {
    if (night.aeration !== aeration || night.fit.kind !== "bounded") continue;
    const { kAtLeast_perH, kAtMost_perH } = night.fit;
    if (!(kAtLeast_perH > 0)) continue;
    return {
      k_perH: Math.sqrt(kAtLeast_perH * kAtMost_perH),
      kSigma_ln: Math.max(0.1, Math.log(kAtMost_perH / kAtLeast_perH) / (2 * normalQuantile90)),
    };
  }
  return undefined;
}
