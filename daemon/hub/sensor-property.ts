import { cutToUncertainty } from "../../lib/hub/honest-number.js";
import type { SensorRules } from "../../lib/readings/sensor-rules.js";
import type { SiteModel } from "../site-model.js";
import type { SiteStatus } from "../site-status.js";
import type { HubProperty } from "./hub-device.js";

/** What a sensor of its kind may be off where nobody states it: it sets the last digit that is told. Judgement. */
const usualAccuracy: Readonly<Record<SensorRules["quantity"], number>> = {
  pH: 0.05,
  temperature_degC: 0.5,
  pressureGauge_bar: 0.1,
  mass_g: 5,
  co2InAir_ppm: 50,
  bubbleRate_perMin: 1,
};

type Row = Omit<HubProperty, "nodeId" | "settable" | "retained">;

/** The believed value of a sensor, as far as it is fresh; no row where the config names none. */
export function sensorRow(
  model: SiteModel,
  sensorId: string | undefined,
  row: Omit<Row, "read" | "form">,
): readonly Row[] {
  const rules = sensorId === undefined ? undefined : model.sensors.get(sensorId)?.rules;
  if (rules === undefined) return [];
  const uncertainty = rules.accuracy ?? usualAccuracy[rules.quantity];
  return [
    {
      ...row,
      form: { kind: "float" },
      read: (status) => {
        const value = freshValue(status, rules.sensorId);
        return value === undefined ? undefined : cutToUncertainty(value, uncertainty);
      },
    },
  ];
}

function freshValue(status: SiteStatus, sensorId: string): number | undefined {
  const view = status.sensors.find((candidate) => candidate.sensorId === sensorId);
  return view?.freshness.kind === "fresh" ? view.lastAccepted?.value : undefined;
}
