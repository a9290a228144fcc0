import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import { bar, said } from "../../lib/told/said.js";
import { causeOf } from "../alarms/alarm-cause.js";
import { subjectsOfVessel } from "../alarm-subjects.js";
import type { SiteModel } from "../site-model.js";
import type { EndOfVessel } from "./vessel-ends.js";

const day_min = 1440;
/** Even with ice a charge has come up by then; who has just refilled needs no call before. Common practice, no source. */
const comesUpWithin_s = 36 * 3600;
export const endAlarmId = (vesselId: string): string => `end-of-charge/${vesselId}`;
const whatGoesOn =
  "Below it a regulator may not hold its outlet: the flow into the tanks is no longer what was set, and the last gas may come all at once.";
const refill =
  "Refill: shut the outlet valve, let the rest off slowly, outside or with the window open, before anything is unscrewed; `plan` tells what to weigh, `journal charge-closed` records it, and the valve opens again. To let the rest off through the valve, take the line out of the tank and open it at the daemon's own machine with an end: `override open`.";

/** Alarms of charges that are at their end. */
export function endConditions(ends: readonly EndOfVessel[], model: SiteModel): readonly AlarmCondition[] {
  return ends.flatMap((end) => {
    const { vesselId } = end;
    const plain = {
      subjects: subjectsOfVessel(model, vesselId),
      onDelay_s: 0,
      offDelay_s: 0,
      suppressedBy: [],
      latch: "none" as const,
    };
    return [
      ...(end.hold === undefined
        ? []
        : [{ ...plain, ...(end.awaitsFreshCharge ? notUp(end, end.hold) : atItsEnd(end, end.hold)) }]),
      ...(end.isToldOnly ? [{ ...plain, ...readLongAgo(end) }] : []),
      ...(end.isLeftAlone ? [{ ...plain, ...leftAlone(vesselId) }] : []),
    ];
  });
}

type Told = Pick<
  AlarmCondition,
  "alarmId" | "priority" | "cause" | "causeSaid" | "consequence" | "whatToDo" | "allowableResponse_min"
>;

function atItsEnd({ vesselId, reason }: EndOfVessel, hold: NonNullable<EndOfVessel["hold"]>): Told {
  const { gauge_bar, closeBelowGauge_bar } = hold;
  const cause = said`vessel ${vesselId}: end of charge, ${bar(gauge_bar, 1)} is below ${bar(closeBelowGauge_bar, 1)}`;
  return reason === undefined
    ? {
        alarmId: endAlarmId(vesselId),
        priority: "high",
        ...causeOf(said`${cause}; the config leaves the valve alone`),
        consequence: whatGoesOn,
        whatToDo: `Watch the bubble counter and the fish, or close the valve. ${refill}`,
        allowableResponse_min: 120,
      }
    : {
        alarmId: endAlarmId(vesselId),
        priority: "high",
        ...causeOf(said`${cause}; its valves are held closed`),
        consequence:
          "The tanks get no CO2: plants lose growth and algae gain. The fish are in no danger. " + whatGoesOn,
        whatToDo: refill,
        allowableResponse_min: day_min / 2,
      };
}

/** A fresh charge comes up by itself: only one that does not needs a person. */
function notUp(
  { vesselId, isLeftAlone }: EndOfVessel,
  { gauge_bar }: NonNullable<EndOfVessel["hold"]>,
): Told & Pick<AlarmCondition, "onDelay_s"> {
  return {
    alarmId: `charge-not-up/${vesselId}`,
    priority: "medium",
    cause: `vessel ${vesselId}: the fresh charge has not come up above the ${gauge_bar.toFixed(1)} bar at which the one before ended${isLeftAlone ? "" : "; its valves are held closed"}`,
    consequence: "The tanks get no CO2: plants lose growth and algae gain. The fish are in no danger.",
    whatToDo:
      "Read the gauge on the vessel. If it shows more, look at the sensor and its wire, or enter the gauge. If not, look for bubbles with soapy water, and what was weighed. Loosen nothing under pressure.",
    allowableResponse_min: day_min / 2,
    onDelay_s: comesUpWithin_s,
  };
}

function readLongAgo({ vesselId, closeBelowGauge_bar }: EndOfVessel): Told {
  return {
    alarmId: `end-of-charge-read/${vesselId}`,
    priority: "low",
    ...causeOf(
      said`vessel ${vesselId}: the gauge was read below ${closeBelowGauge_bar === undefined ? "its end" : bar(closeBelowGauge_bar, 1)}, more than a day before that was entered`,
    ),
    consequence: whatGoesOn,
    whatToDo:
      "Read the gauge again and enter it: a reading of today closes the valve, one of an earlier day only tells.",
    allowableResponse_min: day_min,
  };
}

function leftAlone(vesselId: string): Told {
  return {
    alarmId: `end-left-alone/${vesselId}`,
    priority: "low",
    cause: `vessel ${vesselId}: nothing closes its valves when the charge comes to its end, as the config says`,
    consequence: whatGoesOn,
    whatToDo: "Write held-closed for endOfCharge.valve of the vessel, or take it out of the config.",
    allowableResponse_min: 30 * day_min,
  };
}
