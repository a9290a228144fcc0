import { alarmPriorities } from "../../lib/alarm/alarm-condition.js";
import { awaitsAcknowledgement } from "../../lib/alarm/alarm-state.js";
import { alarmDocuments } from "../alarms/alarm-document.js";
import type { SiteModel } from "../site-model.js";
import { nodeProperties, type HubDevice, type HubTree } from "./hub-device.js";
import { tankDevice } from "./tank-device.js";
import { valveDevice } from "./valve-device.js";
import { vesselDevice } from "./vessel-device.js";

/** More than a person reads, and far from what a broker takes. */
const mostListed = 50;

/** The site as the root, with a child for each vessel, valve and tank. */
export function hubTree(model: SiteModel, rootId: string): HubTree {
  return {
    root: siteDevice(model, rootId),
    children: [
      ...[...model.vessels].map(([vesselId, vessel]) => vesselDevice(vesselId, vessel, model, rootId)),
      ...[...model.valves.values()].map((valve) => valveDevice(valve, rootId)),
      ...[...model.tanks.values()].map((tank) => tankDevice(tank, model, rootId)),
    ],
  };
}

function siteDevice({ siteId }: SiteModel, rootId: string): HubDevice {
  return {
    deviceId: rootId,
    kind: "site",
    subjectId: siteId,
    name: `CO2 of ${siteId}`,
    nodes: [
      { nodeId: "alarms", name: "Alarms" },
      { nodeId: "daemon", name: "Daemon" },
    ],
    properties: [
      ...nodeProperties("alarms", [
        {
          propertyId: "raised",
          name: "Raised alarms",
          form: { kind: "integer", minimum: 0 },
          unit: "#",
          read: ({ alarms }) => alarms.filter(({ raised }) => raised).length,
        },
        {
          propertyId: "unacknowledged",
          name: "Alarms that nobody has acknowledged",
          form: { kind: "integer", minimum: 0 },
          unit: "#",
          read: ({ alarms }) => alarms.filter(({ state }) => awaitsAcknowledgement(state)).length,
        },
        {
          propertyId: "most-urgent",
          name: "Priority of the most urgent raised alarm",
          form: { kind: "enum", values: [...alarmPriorities, "none"] },
          read: ({ alarms }) =>
            alarmPriorities.find((priority) =>
              alarms.some(({ raised, condition }) => raised && condition.priority === priority),
            ) ?? "none",
        },
        {
          propertyId: "list",
          name: "Alarms that are not at rest, most urgent first",
          form: { kind: "json" },
          read: ({ alarms }) => alarmDocuments(alarms).slice(0, mostListed),
        },
        {
          propertyId: "acknowledge",
          name: "Acknowledges the alarm whose id, or alert id, is sent",
          form: { kind: "string" },
          retained: false,
          read: () => undefined,
          command: { kind: "acknowledge" },
        },
      ]),
      ...nodeProperties("daemon", [
        {
          propertyId: "clock-believed",
          name: "The machine's clock is believed",
          form: { kind: "boolean", words: ["no", "yes"] },
          read: ({ clock }) => clock.kind === "plausible",
        },
      ]),
    ],
  };
}
