import type { ClosedProof } from "./closed-proof.js";
import type { LearningSample, LearntOutlook, OverdoseOutlook } from "./learnt-outlook.js";
import type { LightUptake } from "./light-uptake.js";
import type { LearningJob } from "./tank-learning-job.js";
import type { MorningRise } from "./morning-rise.js";
import type { NightRest } from "./night-rest.js";
import type { NightFit } from "./night-fit.js";

/** What is learnt of a tank from its nights and mornings, and what is under way; plain data that a restart goes on from. */

/** An air pump moves the surface: its nights and those without it are two different tanks. */
export type Aeration = "running" | "off";

/** Valve confirmed closed, lights off, the air pump as it is: since when, and what was said of it. */
export interface OpenNight {
  readonly from_epochMs: number;
  /** When it was last seen so. */
  readonly seen_epochMs: number;
  readonly aeration: Aeration;
  /** The proof of closing begins here; anew after a gap in the readings and after a water change. */
  readonly watchFrom_epochMs: number;
  readonly proof: ClosedProof | undefined;
  readonly proofDue_epochMs: number;
  /** After "gas did not stop", whether it has stopped since is watched from here. */
  readonly againFrom_epochMs: number | undefined;
}

/** Gas on before the lights, without a break. */
export interface OpenMorning {
  readonly from_epochMs: number;
  readonly seen_epochMs: number;
  readonly aeration: Aeration;
}

export interface LearntNight {
  readonly from_epochMs: number;
  readonly until_epochMs: number;
  readonly aeration: Aeration;
  /** The hardness by which its CO2 was reckoned: another one puts it on another scale. */
  readonly kh_dKH: number;
  readonly fit: NightFit | { readonly kind: "not used"; readonly because: string };
  /** Where its CO2 came to rest, against what breathing explains: also of a night that must not teach. */
  readonly rest?: NightRest | undefined;
}

export interface LearntMorning {
  readonly from_epochMs: number;
  readonly kh_dKH: number;
  /** Where the night left the tank, by pH and hardness. */
  readonly startCo2_mgPerL: number | undefined;
  readonly rise: MorningRise;
}

export interface LearntUptake {
  readonly at_epochMs: number;
  readonly kh_dKH: number;
  readonly uptake: Exclude<LightUptake, { readonly kind: "cannot be told" }>;
}

/** The last proof that came to an end. */
export interface ClosedVerdict {
  readonly at_epochMs: number;
  /** The night it belongs to, by its beginning. */
  readonly nightFrom_epochMs: number;
  readonly proof: Extract<ClosedProof, { readonly kind: "gas stopped" | "gas did not stop" | "not falling" }>;
  /** So sure, and so wide open, that the valve must not be trusted to open and close again by itself. */
  readonly isSurelyStuck: boolean;
}

/** The lead in use, where the keeper lets it be learnt. */
export interface UsedLead {
  readonly lead_min: number;
  /** The lead of the config that it began from; another one there begins anew. */
  readonly configured_min: number;
  readonly moved_epochMs: number | undefined;
  /** Of the windows that begin after a shorter pause than a night: that pause, and their lead. */
  readonly afterPauses?: readonly LeadInUse[] | undefined;
}

export interface LeadInUse {
  readonly pause_min: number;
  readonly lead_min: number;
}

export interface TankLearning {
  readonly version: typeof tankLearningVersion;
  readonly lastStep_epochMs: number | undefined;
  /** How the pH is corrected; by another correction it is another pH. */
  readonly correction: string;
  /** Readings of the minutes that are not yet taken together. */
  readonly minutes: readonly LearningSample[];
  /** Since the night or morning that is under way began. */
  readonly samples: readonly LearningSample[];
  readonly lastReading_epochMs: number | undefined;
  /** The tank's estimate over its CO2 by pH and hardness alone, over some hours. */
  readonly scale_ratio: number;
  readonly night: OpenNight | undefined;
  readonly morning: OpenMorning | undefined;
  /** Gas and light together. */
  readonly lit?: { readonly from_epochMs: number; readonly seen_epochMs: number } | undefined;
  /** What the plants took on the last day of which that could be told, by pH and hardness. */
  readonly uptake?: LearntUptake | undefined;
  readonly startCo2_mgPerL: number | undefined;
  /** The dark before the gas opened last. */
  readonly darkBefore: { readonly until_epochMs: number; readonly duration_ms: number } | undefined;
  readonly nights: readonly LearntNight[];
  readonly mornings: readonly LearntMorning[];
  readonly verdict: ClosedVerdict | undefined;
  readonly outlook: LearntOutlook | undefined;
  readonly overdose: OverdoseOutlook | undefined;
  readonly usedLead: UsedLead | undefined;
  /** Fits that are asked for and not yet made; the first one first. */
  readonly due: readonly LearningJob[];
}

export const tankLearningVersion = 1;

export const emptyTankLearning: TankLearning = {
  version: tankLearningVersion,
  lastStep_epochMs: undefined,
  correction: "",
  minutes: [],
  samples: [],
  lastReading_epochMs: undefined,
  scale_ratio: 1,
  night: undefined,
  morning: undefined,
  startCo2_mgPerL: undefined,
  darkBefore: undefined,
  nights: [],
  mornings: [],
  verdict: undefined,
  outlook: undefined,
  overdose: undefined,
  usedLead: undefined,
  due: [],
};

const keptNights = 20;

export function withNight(state: TankLearning, night: LearntNight): TankLearning {
  const others = state.nights.filter(({ from_epochMs }) => from_epochMs !== night.from_epochMs);
  return { ...state, nights: [...others, night].slice(-keptNights) };
}

export function withDue(state: TankLearning, job: LearningJob): TankLearning {
  // Of proofs and outlooks only the newest is of use; nights and mornings all count.
  const isOutdated = (other: LearningJob): boolean =>
    other.kind === job.kind && job.kind !== "night" && job.kind !== "morning";
  return { ...state, due: [...state.due.filter((other) => !isOutdated(other)), job] };
}
