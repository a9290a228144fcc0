import { toldRunOut } from "../../lib/estimation/run-out.js";
import type { EstimatedCo2 } from "../../lib/estimation/supply-estimate.js";
import { cutToUncertainty, deviationOf80, twoSignificantDigits } from "../../lib/hub/honest-number.js";
import { childDeviceId } from "../../lib/hub/hub-id.js";
import type { VesselConfig } from "../config/config-schema.js";
import type { SiteModel } from "../site-model.js";
import type { SiteStatus } from "../site-status.js";
import type { ToldSupply } from "../supply/vessel-supply.js";
import { holdNode, holdProperties } from "./hold-properties.js";
import { nodeProperties, type HubDevice } from "./hub-device.js";
import { sensorRow } from "./sensor-property.js";

const float = { kind: "float" } as const;
const instant = { kind: "datetime" } as const;

export function vesselDevice(
  vesselId: string,
  vessel: VesselConfig,
  model: SiteModel,
  rootId: string,
): HubDevice {
  const of =
    <Value>(read: (told: ToldSupply, status: SiteStatus) => Value | undefined) =>
    (status: SiteStatus): Value | undefined => {
      const told = status.supplies.find((candidate) => candidate.vesselId === vesselId)?.told;
      return told === undefined ? undefined : read(told, status);
    };
  const grams = (
    which: "remaining" | "deliverable",
    end: "value_g" | "low80_g" | "high80_g",
  ): ((status: SiteStatus) => number | undefined) => of(({ estimate }) => honest_g(estimate[which], end));
  const amount = (which: "remaining" | "deliverable", name: string) =>
    (["", "-low", "-high"] as const).map((suffix) => ({
      propertyId: `${which}${suffix}`,
      name: `${name}${{ "": "", "-low": ", lower end in four of five cases", "-high": ", upper end in four of five cases" }[suffix]}`,
      form: float,
      unit: "g",
      read: grams(which, ({ "": "value_g", "-low": "low80_g", "-high": "high80_g" } as const)[suffix]),
    }));

  return {
    deviceId: childDeviceId(rootId, "vessel", vesselId),
    kind: "vessel",
    subjectId: vesselId,
    name: `Vessel ${vesselId}`,
    nodes: [
      { nodeId: "gauge", name: "Gauge" },
      { nodeId: "charge", name: "What is left, as far as it is known" },
      holdNode,
    ],
    properties: [
      ...nodeProperties("gauge", [
        ...sensorRow(model, vessel.pressureSensor, {
          propertyId: "pressure",
          name: "Pressure above that of the air",
          unit: "bar",
        }),
        ...sensorRow(model, vessel.temperatureSensor, {
          propertyId: "temperature",
          name: "Temperature",
          unit: "°C",
        }),
      ]),
      ...nodeProperties("charge", [
        {
          propertyId: "phase",
          name: "What the charge is doing",
          form: { kind: "enum", values: ["settling", "ready", "dosing", "spent"] },
          read: of(({ estimate }) => estimate.phase),
        },
        ...amount("remaining", "CO2 left"),
        ...amount("deliverable", "CO2 that the regulator can still deliver"),
        {
          propertyId: "use-per-day",
          name: "Use of a day, leak included",
          form: float,
          unit: "g",
          read: of(({ use }) => twoSignificantDigits(use.total_gPerDay)),
        },
        ...(["median", "low80", "high80"] as const).map((end) => ({
          propertyId: { median: "runs-out-at", low80: "runs-out-earliest", high80: "runs-out-latest" }[end],
          name: {
            median: "Probable end of the charge",
            low80: "End of the charge at the earliest, in four of five cases",
            high80: "End of the charge at the latest, in four of five cases",
          }[end],
          form: instant,
          read: of(({ estimate }) => toldRunOut(estimate.runOut, estimate.at_epochMs)?.[`${end}_epochMs`]),
        })),
        {
          propertyId: "refill-by",
          name: "Last refill that loses no day",
          form: instant,
          read: of(({ refill }) => refill?.usual.lastSensible?.begins_epochMs),
        },
        {
          propertyId: "refill-next",
          name: "Next time to refill",
          form: instant,
          read: of(({ refill }) => refill?.usual.next?.begins_epochMs),
        },
      ]),
      ...holdProperties(({ holds }) =>
        holds.filter(({ subject }) => subject.kind === "vessel" && subject.id === vesselId),
      ),
    ],
  };
}

function honest_g(amount: EstimatedCo2, end: "value_g" | "low80_g" | "high80_g"): number {
  return Math.max(0, cutToUncertainty(amount[end], deviationOf80(amount.low80_g, amount.high80_g)));
}
