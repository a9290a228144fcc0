import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import { saidOf } from "../../lib/told/plain-text.js";
import { said, saidList } from "../../lib/told/said.js";
import { causeOf } from "../alarms/alarm-cause.js";
import type { SiteModel } from "../site-model.js";
import { subjectsOfVessel } from "../alarm-subjects.js";
import { endAlarmId } from "./end-alarms.js";
import { runOutSaid } from "./supply-text.js";
import type { ToldSupply, VesselSupply } from "./vessel-supply.js";

type Held = Pick<
  AlarmCondition,
  "alarmId" | "priority" | "cause" | "causeSaid" | "consequence" | "whatToDo" | "allowableResponse_min"
> &
  Partial<Pick<AlarmCondition, "actBy_epochMs" | "offDelay_s" | "suppressedBy">>;

/** An estimate is made each ten minutes; one of them alone raises nothing. */
const onDelay_s = 20 * 60;
const offDelay_s = 60 * 60;
const day_min = 1440;
/** A refill that is to be the next one is called for so long before it: who refills on one day of the week has that long to plan. */
const calledAhead_ms = 7 * 86_400_000;
/** Advice is made each six hours, and may waver for a day around its last sensible instant. */
const adviceOffDelay_s = 24 * 3600;
/** What a charge at its end says better. */
const saidByEnd: readonly string[] = [
  "charge-spent",
  "charge-runs-out",
  "refill-due",
  "flow-fell",
  "surge-expected",
];
/** What a surge that was seen brings about, or makes old news. */
const saidBySurge: readonly string[] = ["surge-expected", "flow-rose"];
const plantsMissIt = "Without gas plants lose growth and algae gain. The fish are in no danger.";
const refill =
  "Plan the refill: `plan` tells what to weigh. Let the rest off slowly and outside before anything is unscrewed; shut the outlet valve first.";

/** Alarms of what is left in the vessels. No valve moves for any of them. */
export function supplyConditions(
  supplies: readonly VesselSupply[],
  model: SiteModel,
  now_epochMs: number,
): readonly AlarmCondition[] {
  return supplies.flatMap((supply) => {
    const { vesselId, told } = supply;
    const held = [
      ...notFollowed(supply),
      ...(told === undefined
        ? []
        : [
            ...runsOut(vesselId, told, now_epochMs, model.timeZone),
            ...refillDue(vesselId, told, now_epochMs, model.timeZone),
            ...seen(vesselId, told),
            ...notBelieved(vesselId, told),
          ]),
    ];
    return held.map((condition) => ({
      subjects: subjectsOfVessel(model, vesselId),
      onDelay_s,
      offDelay_s,
      latch: "none" as const,
      ...condition,
      suppressedBy: [
        ...(condition.suppressedBy ?? []),
        ...(saidByEnd.some((id) => condition.alarmId === `${id}/${vesselId}`) ? [endAlarmId(vesselId)] : []),
      ],
    }));
  });
}

function notFollowed({ vesselId, failure }: VesselSupply): readonly Held[] {
  if (failure === undefined) return [];
  return [
    {
      alarmId: `supply-not-known/${vesselId}`,
      priority: "low",
      cause: `vessel ${vesselId}: what is left cannot be worked out: ${failure}`,
      consequence: "Nobody is told before this charge runs out. Dosing goes on as before.",
      whatToDo: "Look at the log, and at the charge in the config and the journal.",
      allowableResponse_min: 3 * day_min,
    },
  ];
}

function runsOut(
  vesselId: string,
  { estimate, limits }: ToldSupply,
  now_epochMs: number,
  timeZone: string,
): readonly Held[] {
  const left_min = Math.max(0, (estimate.runOut.median_epochMs - now_epochMs) / 60_000);
  if (estimate.phase === "spent") {
    return [
      {
        alarmId: `charge-spent/${vesselId}`,
        priority: "high",
        cause: `vessel ${vesselId}: the charge is spent; its pressure is at what the regulator needs to hold its own`,
        consequence: `${plantsMissIt} What the regulator still lets through falls from day to day.`,
        whatToDo: refill,
        allowableResponse_min: day_min / 2,
      },
    ];
  }
  if (!limits.isLow) return [];
  return [
    {
      alarmId: `charge-runs-out/${vesselId}`,
      priority: limits.isVeryLow ? "high" : "low",
      ...causeOf(
        said`vessel ${vesselId}: the charge ${runOutSaid(estimate, now_epochMs, timeZone)}`,
        timeZone,
      ),
      consequence: plantsMissIt,
      whatToDo: refill,
      allowableResponse_min: Math.round(left_min),
      actBy_epochMs: estimate.runOut.median_epochMs,
      suppressedBy: [`charge-spent/${vesselId}`],
    },
  ];
}

/** Before the last sensible refill is missed, however many days of gas are left. */
function refillDue(
  vesselId: string,
  { estimate, refill: advice }: ToldSupply,
  now_epochMs: number,
  timeZone: string,
): readonly Held[] {
  if (advice === undefined || estimate.phase === "spent") return [];
  const { usual } = advice;
  // Where a day is lost in any case, the one that costs least is waited for.
  const isNow =
    usual.verdict === "refill-next" ||
    (usual.verdict === "costs-days" && usual.leastLoss?.date === usual.next?.date);
  const begins_epochMs = (usual.lastSensible ?? usual.leastLoss)?.begins_epochMs ?? now_epochMs;
  // Who is away for weeks can do nothing now, and is called when the time has come.
  if (!isNow || begins_epochMs - now_epochMs > calledAhead_ms) return [];
  return [
    {
      alarmId: `refill-due/${vesselId}`,
      priority: "low",
      ...causeOf(said`vessel ${vesselId}: ${saidList(advice.said, " ")}`, timeZone),
      consequence: "Refilled later, the tanks go without gas on a day or more.",
      whatToDo: refill,
      allowableResponse_min: Math.max(60, Math.round((begins_epochMs - now_epochMs) / 60_000)),
      actBy_epochMs: Math.max(begins_epochMs, now_epochMs + 3_600_000),
      offDelay_s: adviceOffDelay_s,
      // That it runs out in days was told before; this is the call for tonight.
      suppressedBy: [`charge-spent/${vesselId}`],
    },
  ];
}

/**
 * What was seen of leak, valve, needle, gauge and a fresh charge, with what follows and how long there is. A flow that creeps is
 * not among it: every single-stage regulator does that, and document and status tell.
 */
const watched: Readonly<
  Record<string, Pick<AlarmCondition, "priority" | "consequence" | "whatToDo" | "allowableResponse_min">>
> = {
  "pressurising-too-strong": {
    priority: "high",
    consequence: "Warm, the pressure may pass what the vessel is rated for, and its relief device may open.",
    whatToDo:
      "Do as said, and follow the vessel's own rating and instructions. Loosen no fitting under pressure; while the pressure is high keep away, remove heat and ventilate the room.",
    allowableResponse_min: 60,
  },
  "pressurising-slow": freshCharge("The charge is ready later than was planned."),
  "pressurising-stalled": freshCharge("The charge may give much less gas than was planned."),
  "pressurising-too-weak": freshCharge("The charge ends sooner than was planned."),
  "leak-while-closed": {
    priority: "low",
    consequence:
      "The charge ends sooner, and the gas is in the room: in a small closed room CO2 gathers at the floor.",
    whatToDo:
      "Ventilate the room. Look for bubbles with soapy water; let a joint off before it is tightened or undone.",
    allowableResponse_min: 2 * day_min,
  },
  "valve-passes": {
    priority: "high",
    consequence:
      "Gas may flow into the tank at night, when the plants take none: CO2 climbs, and the animals can suffocate.",
    whatToDo: "Look at the bubble counter with the valve closed; with bubbles, shut the vessel by hand.",
    allowableResponse_min: 60,
  },
  "refill-detected": {
    priority: "low",
    consequence: "What is left is reckoned as of the charge before, and is wrong.",
    whatToDo: "Enter the refill with `journal charge-closed`, or the charge in the config.",
    allowableResponse_min: day_min,
  },
  "vessel-emptied": {
    priority: "low",
    consequence: plantsMissIt,
    whatToDo: "Look at the vessel and its gauge; ventilate the room before you stay in it.",
    allowableResponse_min: day_min / 2,
  },
  "flow-rose": {
    priority: "low",
    consequence: "More CO2 goes into the tanks than was set.",
    whatToDo: "Look at the fish and the bubble counter; was the needle turned?",
    allowableResponse_min: 120,
  },
  "flow-fell": {
    priority: "low",
    consequence: "Less CO2 goes into the tanks than was set.",
    whatToDo: "Look at the bubble counter, the diffuser and the lines; was the needle turned?",
    allowableResponse_min: day_min,
  },
  "surge-now": {
    priority: "high",
    consequence: "Much more CO2 than was set goes into the tanks: fish and shrimp can suffocate.",
    whatToDo:
      "Look at the fish; if they gasp, aerate and close the valve. Turn the needle back in small steps by the bubble counter, or refill. Do not turn the regulator up.",
    allowableResponse_min: 60,
  },
  "surge-expected": {
    priority: "medium",
    consequence: "More CO2 than was set will go into the tanks on the last days of the charge.",
    whatToDo: "Count the bubbles each day and turn the needle back in small steps, or refill before then.",
    allowableResponse_min: day_min,
  },
  "weight-not-believed": {
    priority: "low",
    consequence: "What is left is reckoned without the scale.",
    whatToDo:
      "Take off what leans on the vessel. If the scale was set to zero or moved, nothing helps until the next charge.",
    allowableResponse_min: 3 * day_min,
  },
  "gauge-stepped": {
    priority: "low",
    consequence: "What is left is less sure until the new zero is learnt.",
    whatToDo: "Read the gauge on the vessel and compare it with the sensor.",
    allowableResponse_min: 3 * day_min,
  },
};

function freshCharge(consequence: string) {
  return {
    priority: "low",
    consequence,
    whatToDo: "Do as said. Nothing is undone under pressure.",
    allowableResponse_min: day_min / 2,
  } as const;
}

/** A vessel that is read once a day keeps its news for a day. */
const newsOffDelay_s = 6 * 3600;

function seen(vesselId: string, { estimate }: ToldSupply): readonly Held[] {
  return estimate.warnings.flatMap((warning) => {
    const { id } = warning;
    const alarm = watched[id];
    return alarm === undefined
      ? []
      : [
          {
            alarmId: `${id}/${vesselId}`,
            ...causeOf(said`vessel ${vesselId}: ${saidOf(warning)}`),
            offDelay_s: newsOffDelay_s,
            suppressedBy: saidBySurge.includes(id) ? [`surge-now/${vesselId}`] : [],
            ...alarm,
          },
        ];
  });
}

function notBelieved(vesselId: string, { estimate }: ToldSupply): readonly Held[] {
  const doubts = estimate.warnings.filter(({ id }) => doubtIds.includes(id));
  if (doubts.length === 0) return [];
  return [
    {
      alarmId: `pressure-not-believed/${vesselId}`,
      priority: "low",
      ...causeOf(said`vessel ${vesselId}: ${saidList(doubts.map(saidOf), " ")}`),
      consequence: "What is left is reckoned from the valve's open time alone, and grows less sure each day.",
      whatToDo:
        "Read the gauge on the vessel. If it agrees, enter it in the journal, and a refill too; if not, look at the sensor, its wire and its unit in the config.",
      allowableResponse_min: 3 * day_min,
    },
  ];
}

const doubtIds: readonly string[] = [
  "pressure-not-believed",
  "pressure-unlike-charge",
  "pressure-of-open-air",
  "pressure-in-another-unit",
  "pressure-beyond-charge",
];
