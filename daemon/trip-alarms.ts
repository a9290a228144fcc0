import type { AlarmCondition } from "../lib/alarm/alarm-condition.js";
import { sameSubject, type Trip } from "../lib/control/trip.js";
import { subjectsOfTank, subjectsOfValve } from "./alarm-subjects.js";
import type { SiteModel } from "./site-model.js";
import type { SiteStatus } from "./site-status.js";

/** One alarm for each trip; it latches with it. */
export function tripConditions(
  { trips, standing }: Pick<SiteStatus, "trips" | "standing">,
  model: SiteModel,
): readonly AlarmCondition[] {
  return trips.map((trip) => {
    const { subject, cause, reason } = trip;
    const stands = standing.some((other) => other.cause === cause && sameSubject(other.subject, subject));
    return {
      alarmId: tripAlarmId(trip),
      priority: "critical",
      subjects:
        subject.kind === "tank" ? subjectsOfTank(model, subject.id) : subjectsOfValve(model, subject.id),
      cause: `${subject.kind} ${subject.id}: ${cause} (when it tripped: ${reason})`,
      ...adviceFor(cause),
      onDelay_s: 0,
      offDelay_s: 60,
      suppressedBy: [],
      latch: stands ? "cause stands" : "cause is gone",
    };
  });
}

export function tripAlarmId({ subject, cause }: Pick<Trip, "subject" | "cause">): string {
  return `trip/${subject.kind}/${subject.id}/${cause}`;
}

type Advice = Pick<AlarmCondition, "consequence" | "whatToDo" | "allowableResponse_min">;

/** Fish in too much CO2 or without oxygen: look at once. A judgement. */
const untilFishSuffer_min = 10;
const tooMuch = "Fish and shrimp in too much CO2 gasp, lie still and can suffocate.";
const lookAndRearm =
  "Gas stays off. Look at the fish and aerate; when the cause is gone, re-arm at the daemon's own machine.";

/** What follows from a safety closing, and what to do about it: one text for alarm, page and message. */
export function adviceFor(cause: Trip["cause"]): Advice {
  const ofFish = (consequence: string, whatToDo = lookAndRearm): Advice => ({
    consequence,
    whatToDo,
    allowableResponse_min: untilFishSuffer_min,
  });
  switch (cause) {
    case "CO2 above the close limit":
    case "CO2 rises too fast":
    case "pH below the floor":
      return ofFish(tooMuch);
    case "open for too long":
      return ofFish("More gas went into the tank than was planned: CO2 may be too high for the animals.");
    case "gas did not stop":
      return ofFish(
        "Gas flows all night when the tank needs none: CO2 climbs, and the animals can suffocate.",
        "The daemon cannot stop this gas: shut the vessel by hand, aerate, watch the fish. Clean or replace the solenoid; then re-arm at the daemon's own machine.",
      );
    case "what was known before is lost":
      return ofFish(
        "Whether a closing for safety stood before is not known, so every valve counts as tripped.",
      );
    case "pressure above the rating":
      return vesselAboveRating;
    case "CO2 in the room from 15000 ppm":
      return roomShortTime;
    case "CO2 in the room from 30000 ppm":
      return roomLeave;
  }
}

const rearmLater = "Re-arm at the daemon's own machine when the cause is found and gone.";

export const vesselAboveRating: Advice = {
  consequence: "The relief device may open, or the vessel or its regulator may fail with force.",
  whatToDo: `Keep away from the vessel and keep others away; ventilate the room. Take heat and sun off it only where you need not come near. Loosen and open nothing. The daemon never lets gas out; the valve stays closed. When it has cooled and the gauge is well below its rating, have it looked at by someone licensed for it. ${rearmLater}`,
  allowableResponse_min: 1,
};

export const roomShortTime: Advice = {
  consequence:
    "At 15000 ppm and more the breath quickens and the head aches; a quarter of an hour is the most that is held for safe at work. Children, animals and whoever lies low get it first.",
  whatToDo: `Open windows and doors and leave the room, with children and animals. Shut the vessel by hand only if you can do so in one breath. Do not sleep there. Look for the leak once the air is below 5000 ppm. ${rearmLater}`,
  allowableResponse_min: 5,
};

export const roomLeave: Advice = {
  consequence:
    "At 30000 ppm and more people grow dizzy within minutes; at 40000 ppm life is in danger, and nobody smells it.",
  whatToDo: `Leave the room now and get everybody out; open windows only on the way. Do not go back for vessel or fish, nor bend down: CO2 lies low. If somebody is faint, call the emergency services; do not go in yourself. Go in again only below 5000 ppm. ${rearmLater}`,
  allowableResponse_min: 1,
};
