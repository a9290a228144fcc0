import { childDeviceId } from "../../lib/hub/hub-id.js";
import { twoSignificantDigits } from "../../lib/hub/honest-number.js";
import { dropCheckerColours } from "../../lib/journal/journal-entry.js";
import type { SiteModel, TankModel } from "../site-model.js";
import type { SiteStatus } from "../site-status.js";
import type { TankEstimate } from "../tank/estimated-tank.js";
import { nodeProperties, type HubDevice } from "./hub-device.js";
import { sensorRow } from "./sensor-property.js";

export const bandOrder = ["below target", "in target", "caution", "alarm", "close", "not known"] as const;
const colour = { kind: "enum", values: dropCheckerColours } as const;
const float = { kind: "float" } as const;
const instant = { kind: "datetime" } as const;

export function tankDevice(tank: TankModel, model: SiteModel, rootId: string): HubDevice {
  const { tankId } = tank;
  const of =
    <Value>(read: (estimate: TankEstimate) => Value | undefined) =>
    (status: SiteStatus): Value | undefined => {
      const found = status.tanks.find((candidate) => candidate.tankId === tankId);
      return found === undefined ? undefined : read(found);
    };
  const co2 = (key: "co2_mgPerL" | "co2Low80_mgPerL" | "co2High80_mgPerL") =>
    of((estimate) => (estimate.co2 === undefined ? undefined : twoSignificantDigits(estimate.co2[key])));

  return {
    deviceId: childDeviceId(rootId, "tank", tankId),
    kind: "tank",
    subjectId: tankId,
    name: `Tank ${tankId}`,
    nodes: [
      { nodeId: "water", name: "Water" },
      { nodeId: "journal", name: "What was seen and measured by hand" },
    ],
    properties: [
      ...nodeProperties("water", [
        { propertyId: "co2", name: "CO2", form: float, unit: "mg/L", read: co2("co2_mgPerL") },
        {
          propertyId: "co2-low",
          name: "CO2, lower end in four of five cases",
          form: float,
          unit: "mg/L",
          read: co2("co2Low80_mgPerL"),
        },
        {
          propertyId: "co2-high",
          name: "CO2, upper end in four of five cases",
          form: float,
          unit: "mg/L",
          read: co2("co2High80_mgPerL"),
        },
        {
          propertyId: "co2-at",
          name: "When the CO2 was measured",
          form: instant,
          read: of((estimate) => (estimate.co2 === undefined ? undefined : estimate.co2At_epochMs)),
        },
        {
          propertyId: "band",
          name: "Where the CO2 stands",
          form: { kind: "enum", values: bandOrder },
          read: of(({ band }) => band),
        },
        ...sensorRow(model, tank.phSensorId, { propertyId: "ph", name: "pH" }),
        ...sensorRow(model, tank.temperatureSensorId, {
          propertyId: "temperature",
          name: "Temperature",
          unit: "°C",
        }),
      ]),
      ...nodeProperties("journal", [
        {
          propertyId: "kh",
          name: "Carbonate hardness, to be set after each test",
          form: { kind: "float", minimum: 0.1, maximum: 40 },
          unit: "dKH",
          read: of(({ hardness }) => hardness.kh_dKH),
          command: { kind: "kh test", tankId },
        },
        {
          propertyId: "kh-at",
          name: "When the hardness was tested",
          form: instant,
          read: of(({ hardness }) => hardness.testedAt_epochMs),
        },
        ...(tank.dropChecker === undefined
          ? []
          : [
              {
                propertyId: "drop-checker",
                name: "Colour of the drop checker, to be set when looked at",
                form: colour,
                read: of(({ dropChecker }) => dropChecker?.seen?.colour),
                command: { kind: "drop checker", tankId },
              } as const,
              {
                propertyId: "drop-checker-at",
                name: "When the drop checker was looked at",
                form: instant,
                read: of(({ dropChecker }) => dropChecker?.seen?.at_epochMs),
              },
              {
                propertyId: "drop-checker-expected",
                name: "Colour that it ought to show",
                form: colour,
                read: of(({ dropChecker }) => dropChecker?.expected?.colour),
              },
            ]),
      ]),
    ],
  };
}
