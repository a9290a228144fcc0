import type { HoursToLimit } from "../../lib/tank/overdose.js";
import type { ClosedVerdict } from "../../lib/tank/tank-learning-state.js";
import { proofText, stoppedText } from "./learning-alarms.js";
import type { LearntTankStatus } from "./learnt-tank-status.js";

/** Below a tank's other lines: what its nights and mornings have taught. Nothing before there is anything to say. */
export function learntLines(
  learnt: LearntTankStatus | undefined,
  local: (at_epochMs: number) => string,
  now_epochMs = 0,
): readonly string[] {
  if (learnt === undefined) return [];
  return [
    ...silenceLines(learnt, now_epochMs),
    ...overdoseLines(learnt),
    ...closingLines(learnt, local),
    ...restLines(learnt),
    ...exchangeLines(learnt),
    ...uptakeLines(learnt),
    ...gasUseLines(learnt),
    ...leadLines(learnt),
  ];
}

function silenceLines({ inSilence }: LearntTankStatus, now_epochMs: number): readonly string[] {
  if (inSilence === undefined) return [];
  const silent_min = Math.max(1, Math.round((now_epochMs - inSilence.silentSince_epochMs) / 60_000));
  const since = `since the probe is silent for ${silent_min} min`;
  if (inSilence.kind === "cannot be told") {
    return [`  CO2 cannot be told by balance either, ${since}: ${inSilence.because}`];
  }
  const { co2_mgPerL, co2Low80_mgPerL, co2High80_mgPerL } = inSilence;
  return [
    `  CO2 about ${digits(co2_mgPerL)} mg/L (80 %: ${digits(co2Low80_mgPerL)} to ${digits(co2High80_mgPerL)}) by balance, ${since}; reckoned, not measured: no gas is opened on it`,
  ];
}

function overdoseLines({ overdose }: LearntTankStatus): readonly string[] {
  if (overdose === undefined) return [];
  return [
    `  below the alarm limit of ${digits(overdose.limit_mgPerL)} mg/L ${hoursText(overdose.asItIs)} after the gas stops, with an air pump ${hoursText(overdose.aerated)}; a range to plan by: at signs of distress aerate and change water at once`,
  ];
}

function hoursText({ hoursLow80_h, hoursHigh80_h }: HoursToLimit): string {
  const low = digits(hoursLow80_h);
  if (!Number.isFinite(hoursLow80_h)) return "not at all";
  if (!Number.isFinite(hoursHigh80_h)) return `${low} h or more`;
  return `${low} to ${digits(hoursHigh80_h)} h`;
}

function closingLines(
  { night, verdict }: LearntTankStatus,
  local: (at_epochMs: number) => string,
): readonly string[] {
  const isOfTonight = night !== undefined && verdict?.nightFrom_epochMs === night.from_epochMs;
  const last =
    verdict === undefined ? [] : [`  last closing: ${verdictText(verdict.proof, local(verdict.at_epochMs))}`];
  if (night?.proof === undefined || isOfTonight) return last;
  switch (night.proof.kind) {
    case "cannot be told":
      return [...last, `  this closing: cannot be told; ${night.proof.because}`];
    case "not yet":
      return [
        ...last,
        `  this closing: not told yet; a valve that hangs open is usually told ${night.proof.stuckTold_h.toFixed(1)} h after it`,
      ];
    case "gas stopped":
    case "gas did not stop":
    case "not falling":
      return last;
  }
}

function verdictText(proof: ClosedVerdict["proof"], shown: string): string {
  switch (proof.kind) {
    case "gas stopped":
      return `${stoppedText(proof.leakAtMost_ratio)}, shown ${shown}`;
    case "gas did not stop":
      return `gas did not stop (${proof.suspicion}), shown ${shown}: ${proofText(proof)}`;
    case "not falling":
      return `CO2 not falling, seen ${shown}: ${proof.because}; ${proofText(proof)}`;
  }
}

function restLines({ rest }: LearntTankStatus): readonly string[] {
  if (rest?.isTold !== true) return [];
  return [
    `  gas may not stop fully at night: its CO2 comes to rest about ${digits(rest.aboveAir_mgPerL)} mg/L above the air's, more than breathing explains (usually under ${digits(rest.usuallyUnder_mgPerL)}); odds ${digits(rest.leakOdds)} to 1 by ${rest.nights} nights. Shut the vessel by hand one evening and compare`,
  ];
}

function exchangeLines({ exchange, aeration, dose, plateau }: LearntTankStatus): readonly string[] {
  const pump = aeration === "running" ? " with the air pump running" : "";
  switch (exchange.kind) {
    case "none":
      return [];
    case "bounded":
      return [
        `  gas exchange at most ${digits(exchange.kAtMost_perH)} per hour${pump}: the nights are too short for a number`,
      ];
    case "estimate": {
      const { k_perH, kLow80_perH, kHigh80_perH, nights } = exchange;
      const parts = [
        `gas exchange ${digits(k_perH)} per hour (80 %: ${digits(kLow80_perH)} to ${digits(kHigh80_perH)})${pump} from ${nights} ${nights === 1 ? "night" : "nights"}`,
        ...(dose === undefined ? [] : [`gas brings ${digits(dose.dose_mgPerLPerH)} mg/L in an hour`]),
        ...(plateau === undefined
          ? []
          : [`without light it would rest at ${digits(plateau.plateau_mgPerL)} mg/L`]),
      ];
      return [`  ${parts.join(", ")}`];
    }
  }
}

function uptakeLines({ uptake: learnt }: LearntTankStatus): readonly string[] {
  if (learnt?.uptake.kind !== "estimate") return [];
  const { uptake_mgPerLPerH, uptakeLow80_mgPerLPerH, uptakeHigh80_mgPerLPerH } = learnt.uptake;
  return [
    `  plants take about ${digits(uptake_mgPerLPerH)} mg/L an hour in light (80 %: ${digits(uptakeLow80_mgPerLPerH)} to ${digits(uptakeHigh80_mgPerLPerH)})`,
  ];
}

function gasUseLines({ gasUse }: LearntTankStatus): readonly string[] {
  if (gasUse === undefined) return [];
  const { efficiency, by } = gasUse;
  const flow = `gas ${digits(gasUse.flow_mgPerMin)} mg a minute while open, by ${by} (80 %: ${digits(gasUse.flowLow80_mgPerMin)} to ${digits(gasUse.flowHigh80_mgPerMin)})`;
  if (efficiency === undefined) return [`  ${flow}`];
  if (efficiency.impossible) {
    return [
      `  ${flow}: the water takes more than that, so one of ${by}, the tank's volume, KH and pH is off; look at them`,
    ];
  }
  return [
    `  ${flow}; the water takes ${percent(efficiency.efficiency_ratio)} of it (80 %: ${percent(efficiency.efficiencyLow80_ratio)} to ${percent(Math.min(1, efficiency.efficiencyHigh80_ratio))})`,
  ];
}

function percent(ratio: number): string {
  return `${digits(100 * Math.min(1, ratio))} %`;
}

function leadLines(learnt: LearntTankStatus): readonly string[] {
  const { lead, usedLead_min, configuredLead_min, exchange } = learnt;
  const pauses = (learnt.leadsAfterPauses ?? []).map(
    ({ pause_min, lead_min }) => `${lead_min} min after a pause of ${digits(pause_min / 60)} h`,
  );
  const inUse = [leadInUse(learnt), ...pauses].join(", ");
  switch (lead.kind) {
    case "reached": {
      const high = lead.leadHigh80_min === undefined ? "not reached" : String(lead.leadHigh80_min);
      return [
        `  learnt lead ${lead.lead_min} min (80 %: ${lead.leadLow80_min} to ${high}) for ${digits(lead.target_mgPerL)} mg/L when the lights go on after the night; ${inUse}`,
      ];
    }
    case "out of reach":
      return [
        `  no lead reaches ${digits(lead.target_mgPerL)} mg/L with this flow: it would take ${digits(lead.flowNeeded.flow_ratio)} times as much (80 %: ${digits(lead.flowNeeded.flowLow80_ratio)} to ${digits(lead.flowNeeded.flowHigh80_ratio)}); turn the needle valve by small steps and watch the fish`,
      ];
    case "not known":
      return exchange.kind === "none" && learnt.latestNight === undefined
        ? [
            `  lead not learnt yet: gas opens ${usedLead_min} min before the lights, as ${usedLead_min === configuredLead_min ? "the config says" : "was learnt before"}; it takes some nights`,
          ]
        : [`  no lead is learnt yet: ${lead.because}; ${inUse}`];
  }
}

function leadInUse({ usedLead_min, configuredLead_min, useLearntLead }: LearntTankStatus): string {
  return useLearntLead === undefined || usedLead_min === configuredLead_min
    ? `lead_min is ${configuredLead_min}`
    : `in use are ${usedLead_min} min, lead_min is ${configuredLead_min}`;
}

function digits(value: number): string {
  return String(Number(value.toPrecision(2)));
}
