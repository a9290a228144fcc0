import type { AlarmCondition } from "../lib/alarm/alarm-condition.js";
import type { Hold } from "../lib/control/hold.js";
import { aboveRatingSaid } from "../lib/control/vessel-rating.js";
import type { JournalView } from "../lib/journal/journal-entry.js";
import { subjectsOfValve, subjectsOfVessel } from "./alarm-subjects.js";
import type { SensorView } from "./sensor-inbox.js";
import type { SiteModel } from "./site-model.js";
import type { SiteStatus } from "./site-status.js";
import { vesselAboveRating } from "./trip-alarms.js";
import { vesselPressure } from "./vessel-surroundings.js";
import { causeOf } from "./alarms/alarm-cause.js";

const plain = { offDelay_s: 0, suppressedBy: [], latch: "none" } as const;
/** So long work at a vessel may take before one asks whether it was forgotten. Judgements. */
const lockForgottenAfter_s = 12 * 3600;
const refillForgottenAfter_s = 4 * 3600;

type RatingStatus = Pick<SiteStatus, "sensors" | "trips" | "at_epochMs" | "at_monotonicMs">;

/**
 * A vessel above its rating of which no valve has tripped for it: one that gets ready without a valve. By a gauge read by eye
 * the alarm stands until it is read again, since no trip keeps it in mind.
 */
export function ratingConditions(
  { sensors, trips, at_epochMs, at_monotonicMs }: RatingStatus,
  model: SiteModel,
  journal: Pick<JournalView, "latest">,
): readonly AlarmCondition[] {
  const viewOf = (sensorId: string | undefined): SensorView | undefined =>
    sensors.find((candidate) => candidate.sensorId === sensorId);
  const freshValue = (sensorId: string | undefined): number | undefined => {
    const view = viewOf(sensorId);
    return view?.freshness.kind === "fresh" ? view.lastAccepted?.value : undefined;
  };
  const now = { now_epochMs: at_epochMs, now_monotonicMs: at_monotonicMs };
  return [...model.vessels.keys()].flatMap((vesselId) => {
    const view = vesselPressure(
      vesselId,
      model,
      { freshValue, view: viewOf },
      now,
      journal,
      "until read again",
    );
    const reason = view === undefined ? undefined : aboveRatingSaid(view);
    const hasTripped = trips.some(
      ({ subject, cause }) =>
        cause === "pressure above the rating" && model.valves.get(subject.id)?.vesselId === vesselId,
    );
    if (reason === undefined || hasTripped) return [];
    return [
      {
        ...plain,
        alarmId: `above-rating/${vesselId}`,
        priority: "critical",
        subjects: subjectsOfVessel(model, vesselId),
        ...causeOf(reason),
        ...vesselAboveRating,
        onDelay_s: 0,
        offDelay_s: 600,
      },
    ];
  });
}

/** What persons have set stands in the status at once; it calls only where it may have been forgotten. */
export function holdConditions(holds: readonly Hold[], model: SiteModel): readonly AlarmCondition[] {
  return holds.flatMap((hold): readonly AlarmCondition[] => {
    const { kind, subject } = hold;
    const common = {
      ...plain,
      priority: "low",
      subjects:
        subject.kind === "vessel" ? subjectsOfVessel(model, subject.id) : subjectsOfValve(model, subject.id),
      consequence: "No gas flows until it is lifted: plants stop growing well, algae gain.",
      allowableResponse_min: 720,
    } as const;
    switch (kind) {
      case "maintenance lock":
        return [
          {
            ...common,
            alarmId: `maintenance-lock/${subject.kind}/${subject.id}`,
            cause: `the maintenance lock on ${subject.kind} ${subject.id} still stands`,
            whatToDo: `When nobody works there any more: maintenance end ${subject.kind} ${subject.id}`,
            onDelay_s: lockForgottenAfter_s,
          },
        ];
      case "refill in progress":
        return [
          {
            ...common,
            alarmId: refillAlarmId(subject.id),
            cause: `the refill of vessel ${subject.id} has not ended`,
            whatToDo: `Record the new charge with: journal charge-closed. Where there is none: refill end ${subject.id}`,
            onDelay_s: refillForgottenAfter_s,
          },
        ];
    }
  });
}

function refillAlarmId(vesselId: string): string {
  return `refill-in-progress/${vesselId}`;
}

/** Alarms that an open or empty vessel brings about; never one of too much pressure, nor of gas that does not stop. */
const broughtByRefill = [
  "charge-spent",
  "charge-runs-out",
  "refill-due",
  "leak-while-closed",
  "refill-detected",
  "vessel-emptied",
  "flow-rose",
  "flow-fell",
  "gauge-stepped",
  "pressure-not-believed",
  "supply-not-known",
  "end-of-charge",
  "charge-not-up",
  "pressure-silent",
];

/** The same alarm, silenced by design while its vessel is refilled. */
export function silencedByRefill(condition: AlarmCondition, holds: readonly Hold[]): AlarmCondition {
  const [what = "", vesselId = ""] = condition.alarmId.split("/");
  const isRefilled = holds.some(
    ({ kind, subject }) => kind === "refill in progress" && subject.id === vesselId,
  );
  return isRefilled && broughtByRefill.includes(what)
    ? { ...condition, suppressedBy: [...condition.suppressedBy, refillAlarmId(vesselId)] }
    : condition;
}
