import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import { sameSubject, type Trip } from "../../lib/control/trip.js";
import { gasStoppedUpTo_ratio } from "../../lib/tank/closed-proof.js";
import { besideVessel, type ClosedVesselLoss } from "../../lib/tank/night-rest.js";
import { co2Held, gasDidNotStop, isSurelyStuck } from "../../lib/tank/learnt-tank.js";
import type { ClosedVerdict } from "../../lib/tank/tank-learning-state.js";
import { subjectsOfTank } from "../alarm-subjects.js";
import type { SiteModel } from "../site-model.js";
import type { LearntTankStatus } from "./learnt-tank-status.js";

/** Judgements: how long until animals, or plants, are the worse for it. */
const untilFishSuffer_min = 30;
const untilItMatters_min = 7 * 1440;
/** A change of the gas exchange is told for so long after the first night of it. */
const changeTold_ms = 7 * 24 * 3_600_000;

const digits = (value: number): string => String(Number(value.toPrecision(2)));
const percent = (ratio: number): string => `${Math.round(100 * ratio)} %`;

type NotStopped = Extract<ClosedVerdict["proof"], { readonly kind: "gas did not stop" }>;

/** "in 3.2 h the CO2 went from 18 to 17 mg/L; with the gas stopped it would stand at 10 mg/L" */
export function proofText({ evidence }: Pick<ClosedVerdict["proof"], "evidence">): string {
  const { watched_h, fromCo2_mgPerL, toCo2_mgPerL, expectedCo2_mgPerL } = evidence;
  return `in ${watched_h.toFixed(1)} h of the night CO2 by pH and KH went from ${digits(fromCo2_mgPerL)} to ${digits(toCo2_mgPerL)} mg/L; with the gas stopped it would stand at ${digits(expectedCo2_mgPerL)} mg/L`;
}

/** Why the valve of a tank is tripped at this instant; undefined where nothing shows surely that it hangs open. */
export function stuckValveReason(learnt: LearntTankStatus): string | undefined {
  const verdict = gasDidNotStop(learnt);
  if (verdict === undefined || !isSurelyStuck(learnt)) return undefined;
  return `${learnt.tankId}: ${proofText(verdict.proof)}`;
}

/** Alarms from what nights have taught: gas that does not stop, and a gas exchange that is no longer what it was. */
export function learningConditions(
  learnt: readonly LearntTankStatus[],
  model: SiteModel,
  trips: readonly Trip[],
  /** What a vessel loses while closed, where a gauge tells. */
  lossOf: (vesselId: string) => ClosedVesselLoss | undefined = () => undefined,
): readonly AlarmCondition[] {
  return learnt.flatMap((tank) => [
    ...notFalling(tank, model, trips),
    ...held(tank, model),
    ...restsHigh(tank, model, lossOf),
    ...exchangeChanged(tank, model),
  ]);
}

const common = { onDelay_s: 0, offDelay_s: 0, latch: "none" as const };

function notFalling(
  tank: LearntTankStatus,
  model: SiteModel,
  trips: readonly Trip[],
): readonly AlarmCondition[] {
  const verdict = gasDidNotStop(tank);
  if (verdict === undefined) return [];
  const { tankId } = tank;
  const { proof } = verdict;
  const valveIds = [...model.valves].flatMap(([id, { rules }]) =>
    rules.tankIds.includes(tankId) ? [id] : [],
  );
  const isTripped = trips.some(
    ({ cause, subject }) =>
      cause === "gas did not stop" && valveIds.some((id) => sameSubject(subject, { kind: "valve", id })),
  );
  // The trip's own alarm says the same, and more.
  if (isTripped) return [];
  const isTonight = tank.night?.from_epochMs === verdict.nightFrom_epochMs;
  return [
    {
      alarmId: `not-falling/${tankId}`,
      priority: isTonight && proof.suspicion !== "leaking seat" ? "critical" : "high",
      subjects: subjectsOfTank(model, tankId),
      cause: `tank ${tankId}: gas did not stop, though every relay reports off: ${suspicionText(proof)}; ${proofText(proof)}. Also possible: ${proof.alsoPossible}`,
      consequence:
        "Gas flows when plants take none: CO2 climbs through the night, and the animals can suffocate.",
      whatToDo: isTonight
        ? "Shut the vessel by hand, aerate, watch the fish. If it was a film, a filter or a feeding, CO2 goes on falling slowly; if not, clean or replace the solenoid."
        : "Shut the vessel by hand before the next night, or watch that CO2 falls once the gas is off. Clean or replace the solenoid; the next night shows whether it closes.",
      allowableResponse_min: untilFishSuffer_min,
      suppressedBy: [],
      ...common,
    },
  ];
}

function held(tank: LearntTankStatus, model: SiteModel): readonly AlarmCondition[] {
  const verdict = co2Held(tank);
  if (verdict === undefined) return [];
  const { tankId } = tank;
  return [
    {
      alarmId: `not-falling/${tankId}`,
      priority: "high",
      subjects: subjectsOfTank(model, tankId),
      cause: `tank ${tankId}: CO2 is not falling, though every relay reports off: ${verdict.proof.because}; ${proofText(verdict.proof)}`,
      consequence:
        "If gas flows when plants take none, CO2 stays high through the night, and the animals can suffocate.",
      whatToDo:
        "Watch the fish; at signs of distress shut the vessel by hand and aerate. Look for bubbles with the valve closed, then at lid, surface and filter, and at the pH probe and the KH.",
      allowableResponse_min: untilFishSuffer_min,
      suppressedBy: [],
      ...common,
    },
  ];
}

const besides = {
  for: " (the vessel's gauge shows such a loss while the valve is closed, too)",
  against: " (though the vessel's gauge shows no such loss)",
  nothing: "",
} as const;

/** From where the nights come to rest alone: nothing shows a closing that failed, and a leak was there from the first night. */
function restsHigh(
  tank: LearntTankStatus,
  model: SiteModel,
  lossOf: (vesselId: string) => ClosedVesselLoss | undefined,
): readonly AlarmCondition[] {
  const { tankId } = tank;
  const known = model.tanks.get(tankId);
  if (tank.rest === undefined || known === undefined) return [];
  const valve = [...model.valves.values()].find(({ rules }) => rules.tankIds.includes(tankId));
  const loss = valve === undefined ? undefined : lossOf(valve.vesselId);
  const rest = besideVessel(tank.rest, loss, known.volume_L);
  if (!rest.isTold) return [];
  const odds = rest.leakOdds > 99 ? "more than 99" : digits(rest.leakOdds);
  return [
    {
      alarmId: `night-rest/${tankId}`,
      priority: "low",
      subjects: subjectsOfTank(model, tankId),
      cause: `tank ${tankId}: gas may not stop fully at night. Its CO2 comes to rest about ${digits(rest.aboveAir_mgPerL)} mg/L above the air's, more than breathing explains (usually under ${digits(rest.usuallyUnder_mgPerL)}). By ${rest.nights} nights the odds are ${odds} to 1 for a seat that leaks${besides[rest.vesselSays]}. Else the KH, or acids other than CO2, mislead the pH method, or the tank holds far more life than most`,
      consequence: "Gas is lost each night, and the animals have less to spare before dawn.",
      whatToDo:
        "Shut the vessel by hand one evening and compare that night: if CO2 comes to rest lower, the seat leaks, so clean or replace the solenoid. If it rests as high as before, gas is not the cause: test the KH and take a degassed pH.",
      allowableResponse_min: untilItMatters_min,
      suppressedBy: [`not-falling/${tankId}`],
      ...common,
    },
  ];
}

/** "gas stopped; at most 12 % of the flow can go on" */
export function stoppedText(leakAtMost_ratio: number): string {
  const stopped = stoppedKind(leakAtMost_ratio);
  return `${stopped}; at most ${Math.ceil(100 * leakAtMost_ratio)} % of the flow can go on`;
}

/** How much may be said to have stopped. */
export function stoppedKind(leakAtMost_ratio: number): "gas stopped" | "most of the gas stopped" {
  return leakAtMost_ratio <= gasStoppedUpTo_ratio ? "gas stopped" : "most of the gas stopped";
}

function suspicionText(proof: NotStopped): string {
  const { suspicion, leakLow80_ratio, leakHigh80_ratio } = proof;
  return `${suspicion}, ${percent(leakLow80_ratio)} to ${percent(leakHigh80_ratio)} of the flow goes on`;
}

function exchangeChanged(tank: LearntTankStatus, model: SiteModel): readonly AlarmCondition[] {
  const { exchange, tankId } = tank;
  if (exchange.kind !== "estimate" || exchange.change === undefined) return [];
  const { kind, ratio, since_epochMs, usualCauses } = exchange.change;
  if (exchange.latest_epochMs - since_epochMs > changeTold_ms) return [];
  return [
    {
      alarmId: `gas-exchange/${tankId}`,
      priority: "low",
      subjects: subjectsOfTank(model, tankId),
      cause: `tank ${tankId}: its surface exchanges gas ${kind} than before, ${percent(ratio)} of what it was. Usual causes: ${usualCauses}`,
      consequence:
        kind === "slower"
          ? "The same flow of gas brings more CO2, and less oxygen comes in."
          : "The same flow of gas brings less CO2.",
      whatToDo:
        kind === "slower"
          ? "Look at the surface and the filter; see that CO2 stays within its target."
          : "If it was meant, nothing; the lead and the flow may need to follow.",
      allowableResponse_min: untilItMatters_min,
      suppressedBy: [],
      ...common,
    },
  ];
}
