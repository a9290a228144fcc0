import type { RoomAirView } from "../lib/control/room-air.js";
import type { VesselPressureView } from "../lib/control/vessel-rating.js";
import type { JournalView } from "../lib/journal/journal-entry.js";
import type { FreshnessInstant } from "../lib/readings/sensor-freshness.js";
import { recentByEye_ms } from "../lib/supply-watch/end-of-charge.js";
import type { SensorInbox } from "./sensor-inbox.js";
import type { SiteModel, ValveModel } from "./site-model.js";
import { dialGauge_bar, transducer_bar } from "./supply/charge-in-use.js";

/** How long a gauge read by eye says what the pressure is. */
type EyeCounts = "for a day" | "until read again";

/**
 * The pressure of a vessel against its rating; undefined where there is no such vessel. Where no sensor speaks, the gauge read
 * by eye last counts for a day, and no longer than its charge. What keeps no trip in mind may let it count until it is read
 * again. What a sensor has said since it was read, or may say any moment after a start, comes before it.
 */
export function vesselPressure(
  vesselId: string,
  model: Pick<SiteModel, "vessels" | "sensors">,
  inbox: Pick<SensorInbox, "freshValue" | "view">,
  now: FreshnessInstant,
  journal: Pick<JournalView, "latest">,
  eyeCounts: EyeCounts = "for a day",
): VesselPressureView | undefined {
  const vessel = model.vessels.get(vesselId);
  if (vessel === undefined) return undefined;
  const { pressureSensor, ratedPressureGauge_bar, reliefOpeningGauge_bar } = vessel;
  const plates = { vesselId, ratedPressureGauge_bar, reliefOpeningGauge_bar };
  const sensed_bar = pressureSensor === undefined ? undefined : inbox.freshValue(pressureSensor, now);
  const sensor = pressureSensor === undefined ? undefined : inbox.view(pressureSensor, now);
  const byEye_bar =
    sensed_bar === undefined && sensor?.firstWord.kind !== "awaited"
      ? readByEye(vesselId, journal, {
          now_epochMs: now.now_epochMs,
          sensed_epochMs: sensor?.lastAccepted?.at_epochMs,
          eyeCounts,
        })
      : undefined;
  if (byEye_bar !== undefined) {
    return { ...plates, pressureGauge_bar: byEye_bar, accuracy_bar: dialGauge_bar };
  }
  const accuracy_bar =
    pressureSensor === undefined ? undefined : model.sensors.get(pressureSensor)?.rules.accuracy;
  return { ...plates, pressureGauge_bar: sensed_bar, accuracy_bar: accuracy_bar ?? transducer_bar };
}

function readByEye(
  vesselId: string,
  journal: Pick<JournalView, "latest">,
  {
    now_epochMs,
    sensed_epochMs,
    eyeCounts,
  }: {
    readonly now_epochMs: number;
    /** When the vessel's sensor last told a pressure; undefined: not since the start. */
    readonly sensed_epochMs: number | undefined;
    readonly eyeCounts: EyeCounts;
  },
): number | undefined {
  const reading = journal.latest("gauge reading", vesselId);
  if (reading === undefined) return undefined;
  if (sensed_epochMs !== undefined && sensed_epochMs > reading.at_epochMs) return undefined;
  // What was written down days after it was read never was the pressure of now.
  const until_epochMs = eyeCounts === "for a day" ? now_epochMs : reading.enteredAt_epochMs;
  if (until_epochMs - reading.at_epochMs > recentByEye_ms) return undefined;
  const closed = journal.latest("charge closed", vesselId);
  return closed !== undefined && closed.at_epochMs > reading.at_epochMs
    ? undefined
    : reading.fact.pressureGauge_bar;
}

/** The air of the rooms that concern a valve. */
export function roomAir(
  valve: Pick<ValveModel, "roomCo2SensorIds">,
  inbox: Pick<SensorInbox, "freshValue">,
  now: FreshnessInstant,
): readonly RoomAirView[] {
  return valve.roomCo2SensorIds.map((sensorId) => ({
    sensorId,
    co2InAir_ppm: inbox.freshValue(sensorId, now),
  }));
}

/** The sensors that can hold a valve and whose first word is still to come: what held it before a start is not known. */
export function awaitedSensors(
  valve: Pick<ValveModel, "rules" | "roomCo2SensorIds">,
  { tanks }: Pick<SiteModel, "tanks">,
  inbox: Pick<SensorInbox, "view">,
  now: FreshnessInstant,
): readonly string[] {
  const { guardSensorIds, tankIds } = valve.rules;
  const thermometers = tankIds.flatMap((tankId) => tanks.get(tankId)?.temperatureSensorId ?? []);
  return [...new Set([...guardSensorIds, ...thermometers, ...valve.roomCo2SensorIds])].filter(
    (sensorId) => inbox.view(sensorId, now)?.firstWord.kind === "awaited",
  );
}
