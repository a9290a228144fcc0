import type { ClosedProof, ClosedProofEvidence } from "../../lib/tank/closed-proof.js";
import type { HoursToLimit } from "../../lib/tank/overdose.js";
import type { LeadOffer } from "../../lib/tank/learnt-outlook.js";
import type { LearntNight } from "../../lib/tank/tank-learning-state.js";
import { stoppedKind } from "./learning-alarms.js";
import type { LearntTankStatus } from "./learnt-tank-status.js";

/** What must be told at once when it changes: verdicts, leads and how many nights they rest on. */
export function learntEssence(learnt: LearntTankStatus | undefined): readonly unknown[] {
  if (learnt === undefined) return [];
  return [
    learnt.exchange.kind,
    learnt.exchange.kind === "none" ? 0 : learnt.exchange.nights,
    learnt.lead.kind,
    learnt.usedLead_min,
    learnt.leadsAfterPauses,
    learnt.night?.proof?.kind,
    learnt.verdict?.at_epochMs,
    learnt.rest?.isTold,
    learnt.overdose === undefined,
  ];
}

/** What a tank's nights and mornings have taught, as a document; null before the first minute, or without a pH sensor. */
export function learntFields(learnt: LearntTankStatus | undefined): Readonly<Record<string, unknown>> | null {
  if (learnt === undefined) return null;
  const { exchange, dose, plateau, verdict, night, overdose } = learnt;
  return {
    gasExchange_perH:
      exchange.kind === "estimate"
        ? {
            value: two(exchange.k_perH),
            low80: two(exchange.kLow80_perH),
            high80: two(exchange.kHigh80_perH),
          }
        : null,
    gasExchangeAtMost_perH: exchange.kind === "bounded" ? two(exchange.kAtMost_perH) : null,
    airPump: learnt.aeration,
    nights: exchange.kind === "none" ? 0 : exchange.nights,
    latestNight: learnt.latestNight === undefined ? null : latestNightFields(learnt.latestNight),
    gasExchangeChange:
      exchange.kind === "estimate" && exchange.change !== undefined
        ? {
            kind: exchange.change.kind,
            ratio: two(exchange.change.ratio),
            since: instant(exchange.change.since_epochMs),
            usualCauses: exchange.change.usualCauses,
          }
        : null,
    respiration_mgPerLPerH: respirationFields(learnt),
    nightRest: restFields(learnt),
    dose_mgPerLPerH:
      dose === undefined
        ? null
        : {
            value: two(dose.dose_mgPerLPerH),
            low80: two(dose.doseLow80_mgPerLPerH),
            high80: two(dose.doseHigh80_mgPerLPerH),
            at: instant(dose.at_epochMs),
          },
    gasUse: gasUseFields(learnt),
    co2ByBalance_mgPerL: silenceFields(learnt),
    lightUptake_mgPerLPerH: uptakeFields(learnt),
    plateauInTheDark_mgPerL:
      plateau === undefined
        ? null
        : {
            value: two(plateau.plateau_mgPerL),
            low80: two(plateau.plateauLow80_mgPerL),
            high80: two(plateau.plateauHigh80_mgPerL),
          },
    lead: {
      used_min: learnt.usedLead_min,
      afterShorterPause: (learnt.leadsAfterPauses ?? []).map(({ pause_min, lead_min }) => ({
        pause_min,
        used_min: lead_min,
      })),
      configured_min: learnt.configuredLead_min,
      within: learnt.useLearntLead ?? null,
      ...leadFields(learnt.lead),
    },
    gasStopped: {
      tonight: night === undefined ? null : proofFields(night.proof),
      last: verdict === undefined ? null : { at: instant(verdict.at_epochMs), ...proofFields(verdict.proof) },
    },
    hoursToAlarmLimit:
      overdose === undefined
        ? null
        : {
            at: instant(overdose.at_epochMs),
            limit_mgPerL: overdose.limit_mgPerL,
            asItIs: hoursFields(overdose.asItIs),
            withAirPump: hoursFields(overdose.aerated),
          },
  };
}

/** Null while the probe speaks. */
function silenceFields({ inSilence }: LearntTankStatus): unknown {
  if (inSilence === undefined) return null;
  const probeSilentSince = instant(inSilence.silentSince_epochMs);
  if (inSilence.kind === "cannot be told") {
    return { value: null, low80: null, high80: null, probeSilentSince, reason: inSilence.because };
  }
  return {
    value: two(inSilence.co2_mgPerL),
    low80: two(inSilence.co2Low80_mgPerL),
    high80: two(inSilence.co2High80_mgPerL),
    probeSilentSince,
    reason: null,
  };
}

function uptakeFields({ uptake: learnt }: LearntTankStatus): unknown {
  if (learnt === undefined) return null;
  const { uptake, at_epochMs } = learnt;
  const at = instant(at_epochMs);
  return uptake.kind === "at most"
    ? { atMost: two(uptake.uptakeAtMost_mgPerLPerH), at }
    : {
        value: two(uptake.uptake_mgPerLPerH),
        low80: two(uptake.uptakeLow80_mgPerLPerH),
        high80: two(uptake.uptakeHigh80_mgPerLPerH),
        at,
      };
}

function gasUseFields({ gasUse }: LearntTankStatus): unknown {
  if (gasUse === undefined) return null;
  const { efficiency } = gasUse;
  return {
    by: gasUse.by,
    flow_mgPerMin: {
      value: two(gasUse.flow_mgPerMin),
      low80: two(gasUse.flowLow80_mgPerMin),
      high80: two(gasUse.flowHigh80_mgPerMin),
    },
    efficiency_ratio:
      efficiency === undefined
        ? null
        : {
            value: two(efficiency.efficiency_ratio),
            low80: two(efficiency.efficiencyLow80_ratio),
            high80: two(efficiency.efficiencyHigh80_ratio),
            impossible: efficiency.impossible,
          },
  };
}

function respirationFields({ respiration }: LearntTankStatus): unknown {
  if (respiration === undefined) return null;
  return respiration.kind === "estimate"
    ? {
        value: two(respiration.respiration_mgPerLPerH),
        low80: two(respiration.respirationLow80_mgPerLPerH),
        high80: two(respiration.respirationHigh80_mgPerLPerH),
      }
    : { atMost: two(respiration.respirationAtMost_mgPerLPerH) };
}

function restFields({ rest }: LearntTankStatus): unknown {
  if (rest === undefined) return null;
  return {
    nights: rest.nights,
    aboveAir_mgPerL: two(rest.aboveAir_mgPerL),
    usuallyUnder_mgPerL: two(rest.usuallyUnder_mgPerL),
    release_mgPerLPerH: two(rest.release_mgPerLPerH),
    leakOdds: two(rest.leakOdds),
    told: rest.isTold,
  };
}

function latestNightFields({ from_epochMs, until_epochMs, fit }: LearntNight): unknown {
  const reason = fit.kind === "fitted" ? null : fit.because;
  return { from: instant(from_epochMs), until: instant(until_epochMs), used: fit.kind === "fitted", reason };
}

function leadFields(lead: LeadOffer): Readonly<Record<string, unknown>> {
  switch (lead.kind) {
    case "reached":
      return {
        learnt_min: lead.lead_min,
        learntLow80_min: lead.leadLow80_min,
        learntHigh80_min: lead.leadHigh80_min ?? null,
        target_mgPerL: lead.target_mgPerL,
        lightsOn: "after the longest dark of the day",
        reason: null,
      };
    case "out of reach":
      return {
        learnt_min: null,
        target_mgPerL: lead.target_mgPerL,
        reason: "this flow does not reach the target",
        flowNeeded_ratio: {
          value: two(lead.flowNeeded.flow_ratio),
          low80: two(lead.flowNeeded.flowLow80_ratio),
          high80: two(lead.flowNeeded.flowHigh80_ratio),
        },
      };
    case "not known":
      return { learnt_min: null, reason: lead.because };
  }
}

function proofFields(proof: ClosedProof | undefined): Readonly<Record<string, unknown>> {
  if (proof === undefined) return { kind: "not yet", evidence: null };
  const { kind } = proof;
  const evidence = proof.evidence === undefined ? null : evidenceFields(proof.evidence);
  switch (proof.kind) {
    case "gas stopped":
      return {
        kind: stoppedKind(proof.leakAtMost_ratio),
        leakAtMost_ratio: two(proof.leakAtMost_ratio),
        evidence,
      };
    case "not falling":
      return { kind, reason: proof.because, evidence };
    case "gas did not stop":
      return {
        kind,
        suspicion: proof.suspicion,
        leak_ratio: {
          value: two(proof.leak_ratio),
          low80: two(proof.leakLow80_ratio),
          high80: two(proof.leakHigh80_ratio),
        },
        alsoPossible: proof.alsoPossible,
        evidence,
      };
    case "not yet":
      return { kind, toldAfter_h: two(proof.stuckTold_h), evidence };
    case "cannot be told":
      return { kind, reason: proof.because, evidence };
  }
}

function evidenceFields(evidence: ClosedProofEvidence): unknown {
  return {
    watched_h: two(evidence.watched_h),
    fromCo2_mgPerL: two(evidence.fromCo2_mgPerL),
    toCo2_mgPerL: two(evidence.toCo2_mgPerL),
    expectedCo2_mgPerL: two(evidence.expectedCo2_mgPerL),
    likelihoodRatio: two(evidence.likelihoodRatio),
  };
}

/** An end that is never reached is null: JSON knows no infinity. */
function hoursFields({ hours_h, hoursLow80_h, hoursHigh80_h }: HoursToLimit): unknown {
  return { value_h: two(hours_h), low80_h: two(hoursLow80_h), high80_h: two(hoursHigh80_h) };
}

function two(value: number): number | null {
  return Number.isFinite(value) ? Number(value.toPrecision(2)) : null;
}

function instant(at_epochMs: number): string {
  return new Date(at_epochMs).toISOString();
}
