import { OutOfValidRangeError } from "../errors.js";
import { closedProof, type ClosedProof, type ClosedProofKnowledge } from "./closed-proof.js";
import { co2FromHardness } from "./co2-from-hardness.js";
import { eveningFall, type EveningKnowledge, type FallOffer } from "./evening-fall.js";
import type { WaterSalts } from "./ionic-strength.js";
import { closingCo2_mgPerL, type PausingTank } from "./lead-after-pause.js";
import { flowNeeded, leadTime, predictedPlateau, type Plateau, type TankDynamics } from "./lead-time.js";
import type { LightUptake } from "./light-uptake.js";
import { uptakeFrom } from "./lit-balance.js";
import { fitMorningRise, type MorningRise, type NightKnowledge } from "./morning-rise.js";
import { nightRest, type NightRest } from "./night-rest.js";
import { fitNight, type FittedNight, type NightFit } from "./night-fit.js";
import { hoursToLimit, type Overdose } from "./overdose.js";
import type { Co2Reading } from "./relaxation-fit.js";
import { darkRespiration } from "./respiration.js";
import type { LeadOffer, LearningSample, LearntOutlook, OverdoseOutlook } from "./learnt-outlook.js";

/** The water by which a pH becomes a CO2. */
export interface LearningWater {
  readonly kh_dKH: number;
  readonly salts: WaterSalts;
}

interface JobReadings {
  readonly water: LearningWater;
  readonly samples: readonly LearningSample[];
}

/** Work that takes tens of milliseconds, as plain data: it may be done elsewhere and later. */
export type LearningJob =
  | (JobReadings & {
      readonly kind: "night";
      readonly from_epochMs: number;
      readonly until_epochMs: number;
      readonly waterChanges_epochMs: readonly number[];
      /** What the night says of exchange and rest is set aside already: only where it came to rest is weighed. */
      readonly isForRestOnly?: true;
    })
  | (JobReadings & {
      readonly kind: "morning";
      readonly from_epochMs: number;
      readonly until_epochMs: number;
      readonly startCo2_mgPerL: number | undefined;
      readonly known: NightKnowledge;
    })
  | (JobReadings & {
      readonly kind: "proof";
      /** The night, by its beginning. */
      readonly nightFrom_epochMs: number;
      readonly from_epochMs: number;
      readonly againFrom_epochMs: number | undefined;
      readonly now_epochMs: number;
      readonly until_epochMs: number;
      readonly known: ClosedProofKnowledge;
      /** Whether k is known from nights of this tank, or only what is usual. */
      readonly isLearnt: boolean;
    })
  | {
      readonly kind: "outlook";
      readonly at_epochMs: number;
      /** On the scale of pH and hardness; undefined with the reason where it is not known. */
      readonly tank: TankDynamics | { readonly because: string };
      readonly evening: EveningKnowledge | { readonly because: string };
      readonly startCo2_mgPerL: number;
      readonly target_mgPerL: number;
      /** The tank's estimate over its CO2 by pH and hardness. */
      readonly scale_ratio: number;
      readonly night: FittedNight | undefined;
      readonly airCo2_mgPerL: number;
      readonly factorSigma_ln: number;
    }
  | (JobReadings & {
      readonly kind: "uptake";
      readonly until_epochMs: number;
      readonly tank: TankDynamics | { readonly because: string };
    })
  | { readonly kind: "overdose"; readonly at_epochMs: number; readonly overdose: Overdose };

export type LearningResult =
  | {
      readonly kind: "night";
      readonly from_epochMs: number;
      readonly fit: NightFit;
      readonly rest?: NightRest | undefined;
    }
  | {
      readonly kind: "morning";
      readonly from_epochMs: number;
      readonly startCo2_mgPerL: number | undefined;
      readonly rise: MorningRise;
    }
  | {
      readonly kind: "proof";
      readonly nightFrom_epochMs: number;
      readonly from_epochMs: number;
      readonly now_epochMs: number;
      readonly proof: ClosedProof;
      readonly again: ClosedProof | undefined;
      readonly isLearnt: boolean;
    }
  | { readonly kind: "outlook"; readonly outlook: LearntOutlook }
  | {
      readonly kind: "uptake";
      readonly until_epochMs: number;
      readonly kh_dKH: number;
      readonly uptake: LightUptake;
    }
  | { readonly kind: "overdose"; readonly overdose: OverdoseOutlook };

/** Standard deviation of the air's CO2 in the water, mg/L: a room at 450 to 1300 ppm. Common practice, no source. */
const airSigma_mgPerL = 0.25;
/** A lead is stated up to whole steps. */
export const leadStep_min = 5;
/** So far a flow is asked about, over today's. */
const widestFlow_ratio = 50;

/** Samples as CO2 by pH and hardness, mg/L; those for which no formula holds are left out. */
export function co2Readings(
  samples: readonly LearningSample[],
  { kh_dKH, salts }: LearningWater,
): readonly Co2Reading[] {
  return samples.flatMap(([at_epochMs, pH, temperature_degC]): readonly Co2Reading[] => {
    const co2_mgPerL = co2ByHardness_mgPerL({ pH, temperature_degC }, { kh_dKH, salts });
    if (co2_mgPerL === undefined) return [];
    const reading = { at_epochMs, co2_mgPerL };
    return [temperature_degC === null ? reading : { ...reading, temperature_degC }];
  });
}

/** Without a thermometer a tank is taken to stand at so much: a factor common to all readings. */
const assumed_degC = 25;

/** CO2 by pH and hardness, mg/L; undefined where the formula does not hold. */
export function co2ByHardness_mgPerL(
  reading: { readonly pH: number; readonly temperature_degC: number | null },
  { kh_dKH, salts }: LearningWater,
): number | undefined {
  try {
    const { co2_mgPerL } = co2FromHardness({
      ...salts,
      pH: reading.pH,
      kh_dKH,
      temperature_degC: reading.temperature_degC ?? assumed_degC,
    });
    return co2_mgPerL > 0 ? co2_mgPerL : undefined;
  } catch (error) {
    if (error instanceof OutOfValidRangeError) return undefined;
    throw error;
  }
}

/**
 * Does one piece of work. Pure: the same job gives the same result wherever it runs.
 * @see night-fit.ts, morning-rise.ts, closed-proof.ts, lead-time.ts, overdose.ts for the methods and their sources
 */
export function runLearningJob(job: LearningJob): LearningResult {
  switch (job.kind) {
    case "night": {
      const night = { ...job, readings: co2Readings(job.samples, job.water) };
      const { kind, from_epochMs } = job;
      return { kind, from_epochMs, fit: fitNight(night), rest: nightRest(night) };
    }
    case "morning":
      return {
        kind: "morning",
        from_epochMs: job.from_epochMs,
        startCo2_mgPerL: job.startCo2_mgPerL,
        rise: fitMorningRise(
          {
            openedAt_epochMs: job.from_epochMs,
            until_epochMs: job.until_epochMs,
            readings: co2Readings(job.samples, job.water),
          },
          job.known,
        ),
      };
    case "proof":
      return proofOf(job);
    case "uptake": {
      const { kind, until_epochMs, water, samples, tank } = job;
      const uptake = uptakeFrom(co2Readings(samples, water), tank);
      return { kind, until_epochMs, kh_dKH: water.kh_dKH, uptake };
    }
    case "outlook":
      return { kind: "outlook", outlook: outlookOf(job) };
    case "overdose":
      return {
        kind: "overdose",
        overdose: {
          at_epochMs: job.at_epochMs,
          limit_mgPerL: job.overdose.limit_mgPerL,
          ...hoursToLimit(job.overdose),
        },
      };
  }
}

function proofOf(job: Extract<LearningJob, { readonly kind: "proof" }>): LearningResult {
  const readings = co2Readings(job.samples, job.water);
  const prove = (from_epochMs: number): ClosedProof =>
    closedProof({ ...job, from_epochMs, readings }, job.known);
  return {
    kind: "proof",
    nightFrom_epochMs: job.nightFrom_epochMs,
    from_epochMs: job.from_epochMs,
    now_epochMs: job.now_epochMs,
    proof: prove(job.from_epochMs),
    again: job.againFrom_epochMs === undefined ? undefined : prove(job.againFrom_epochMs),
    isLearnt: job.isLearnt,
  };
}

function outlookOf(job: Extract<LearningJob, { readonly kind: "outlook" }>): LearntOutlook {
  const { tank, scale_ratio, night, at_epochMs } = job;
  const respiration =
    night === undefined
      ? undefined
      : darkRespiration(night, {
          airCo2_mgPerL: job.airCo2_mgPerL,
          airSigma_mgPerL,
          factorSigma_ln: job.factorSigma_ln,
        });
  const fall = fallOf(job);
  if ("because" in tank) {
    return {
      at_epochMs,
      lead: { kind: "not known", because: tank.because },
      plateau: undefined,
      respiration,
      fall,
    };
  }
  const plateau = predictedPlateau(tank, { flow_ratio: 1, uptake_mgPerLPerH: 0 });
  return {
    at_epochMs,
    lead: leadOf(job, tank),
    plateau: scaled(plateau, scale_ratio),
    respiration,
    fall,
  };
}

/** On the scale of the tank's own estimate. */
function fallOf(job: Extract<LearningJob, { readonly kind: "outlook" }>): FallOffer {
  const { evening, target_mgPerL: lowEdge_mgPerL, scale_ratio } = job;
  if ("because" in evening) return { kind: "not known", because: evening.because };
  const fall = eveningFall(evening, lowEdge_mgPerL / scale_ratio);
  switch (fall.kind) {
    case "falls":
      return { ...fall, lowEdge_mgPerL };
    case "stays":
      return { ...fall, lowEdge_mgPerL, settledCo2_mgPerL: fall.settledCo2_mgPerL * scale_ratio };
    case "not known":
      return fall;
  }
}

function scaled(plateau: Plateau, scale_ratio: number): Plateau {
  return {
    plateau_mgPerL: plateau.plateau_mgPerL * scale_ratio,
    plateauLow80_mgPerL: plateau.plateauLow80_mgPerL * scale_ratio,
    plateauHigh80_mgPerL: plateau.plateauHigh80_mgPerL * scale_ratio,
  };
}

function leadOf(job: Extract<LearningJob, { readonly kind: "outlook" }>, tank: TankDynamics): LeadOffer {
  const { target_mgPerL, scale_ratio, startCo2_mgPerL } = job;
  const co2_mgPerL = target_mgPerL / scale_ratio;
  const lead = leadTime(tank, { kind: "CO2", co2_mgPerL }, startCo2_mgPerL);
  if (lead.kind === "out of reach") {
    const needed = flowNeeded(tank, { co2_mgPerL: Math.min(co2_mgPerL, 100), uptake_mgPerLPerH: 0 });
    const within = (flow_ratio: number): number => Math.min(flow_ratio, widestFlow_ratio);
    return {
      kind: "out of reach",
      target_mgPerL,
      flowNeeded: {
        flow_ratio: within(needed.flow_ratio),
        flowLow80_ratio: within(needed.flowLow80_ratio),
        flowHigh80_ratio: within(needed.flowHigh80_ratio),
      },
    };
  }
  const { night } = job;
  const pausing: PausingTank | undefined =
    night === undefined
      ? undefined
      : {
          k_perH: tank.k_perH,
          settledCo2_mgPerL: tank.settledCo2_mgPerL,
          plateau_mgPerL: predictedPlateau(tank, { flow_ratio: 1, uptake_mgPerLPerH: 0 }).plateau_mgPerL,
          closingCo2_mgPerL: closingCo2_mgPerL(night, tank),
          target_mgPerL: co2_mgPerL,
        };
  const minutes = (hours: number): number => Math.ceil((hours * 60) / leadStep_min - 1e-9) * leadStep_min;
  return {
    kind: "reached",
    lead_min: minutes(lead.lead_h),
    leadLow80_min: minutes(lead.leadLow80_h),
    leadHigh80_min: Number.isFinite(lead.leadHigh80_h) ? minutes(lead.leadHigh80_h) : undefined,
    target_mgPerL,
    pausing,
  };
}
