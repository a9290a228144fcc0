import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import { sameSubject, type Trip, type TripCause } from "../../lib/control/trip.js";
import { subjectsOfTank } from "../alarm-subjects.js";
import type { SiteModel } from "../site-model.js";
import type { TankEstimate } from "./estimated-tank.js";

/** Judgements: how long until animals, or plants, are the worse for it. */
const untilFishSuffer_min = 10;
const untilFishAreUneasy_min = 30;
const untilItMatters_min = 240;

type BandAlarm = Pick<AlarmCondition, "priority" | "consequence" | "whatToDo" | "allowableResponse_min">;

/** From the most urgent. The bands have their own delays and deadbands, so the alarms have none. */
const bandAlarms = {
  close: {
    priority: "critical",
    consequence: "Fish and shrimp in too much CO2 gasp, lie still and can suffocate.",
    whatToDo:
      "Look at the fish and aerate; shut the vessel by hand if gas still flows. A drop checker or a KH test tells whether the estimate is right.",
    allowableResponse_min: untilFishSuffer_min,
  },
  alarm: {
    priority: "high",
    consequence: "Fish breathe fast; more CO2, or little oxygen at night, is a danger to them.",
    whatToDo: "Look at the fish, and aerate if they breathe fast. Turn the needle valve down a little.",
    allowableResponse_min: untilFishAreUneasy_min,
  },
  caution: {
    priority: "low",
    consequence: "Plants gain nothing from more CO2, and the animals have less to spare.",
    whatToDo:
      "Turn the needle valve down a little, or let gas open later. Your own target stands under limits.",
    allowableResponse_min: untilItMatters_min,
  },
} as const satisfies Readonly<Record<string, BandAlarm>>;
type AlarmingBand = keyof typeof bandAlarms;
const fromMostUrgent = Object.keys(bandAlarms) as readonly AlarmingBand[];
const co2Causes: readonly TripCause[] = ["CO2 above the close limit", "CO2 rises too fast"];

/** Alarms for too much CO2 in a tank. They hold while nothing newer is known of it; of several the most urgent is heard. */
export function co2Conditions(
  tanks: readonly TankEstimate[],
  model: SiteModel,
  trips: readonly Trip[],
): readonly AlarmCondition[] {
  return tanks.flatMap((tank) => {
    const { tankId } = tank;
    const band = fromMostUrgent.find((name) => name === tank.lastBand);
    if (band === undefined) return [];
    const tripAlarmIds = trips
      .filter(
        ({ subject, cause }) =>
          co2Causes.includes(cause) && sameSubject(subject, { kind: "tank", id: tankId }),
      )
      .map(({ cause }) => `trip/tank/${tankId}/${cause}`);
    // A step stands as long as CO2 is above it; the steps above it and the trip silence it, since it is not back to normal.
    const standing = fromMostUrgent.slice(fromMostUrgent.indexOf(band));
    return standing.map((step, above) => ({
      alarmId: `co2-${step}/${tankId}`,
      subjects: subjectsOfTank(model, tankId),
      cause: `tank ${tankId}: ${causeOf(tank)}`,
      onDelay_s: 0,
      offDelay_s: 0,
      suppressedBy:
        step === "close"
          ? []
          : [...standing.slice(0, above).map((higher) => `co2-${higher}/${tankId}`), ...tripAlarmIds],
      latch: "none" as const,
      ...bandAlarms[step],
    }));
  });
}

function causeOf({ co2, bandReasons, lastBand }: TankEstimate): string {
  if (co2 !== undefined) return bandReasons.join(" ");
  return `CO2 was above its ${lastBand === "caution" ? "target" : `${lastBand} limit`} when it was known last; now its pH is not known.`;
}
