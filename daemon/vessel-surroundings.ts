import type { RoomAirView } from "../lib/control/room-air.js";
import type { VesselPressureView } from "../lib/control/vessel-rating.js";
import type { FreshnessInstant } from "../lib/readings/sensor-freshness.js";
import type { SensorInbox } from "./sensor-inbox.js";
import type { SiteModel, ValveModel } from "./site-model.js";
import { transducer_bar } from "./supply/charge-in-use.js";

/** The pressure of a vessel against its rating; undefined where there is no such vessel, or no sensor of its pressure. */
export function vesselPressure(
  vesselId: string,
  model: Pick<SiteModel, "vessels" | "sensors">,
  inbox: Pick<SensorInbox, "freshValue">,
  now: FreshnessInstant,
): VesselPressureView | undefined {
  const vessel = model.vessels.get(vesselId);
  if (vessel?.pressureSensor === undefined) return undefined;
  return {
    vesselId,
    pressureGauge_bar: inbox.freshValue(vessel.pressureSensor, now),
    accuracy_bar: model.sensors.get(vessel.pressureSensor)?.rules.accuracy ?? transducer_bar,
    ratedPressureGauge_bar: vessel.ratedPressureGauge_bar,
    reliefOpeningGauge_bar: vessel.reliefOpeningGauge_bar,
  };
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
