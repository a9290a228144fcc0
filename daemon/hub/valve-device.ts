import { childDeviceId } from "../../lib/hub/hub-id.js";
import type { Override } from "../../lib/control/decide.js";
import type { ValveModel } from "../site-model.js";
import type { SiteStatus, ValveStatus } from "../site-status.js";
import { holdNode, holdProperties } from "./hold-properties.js";
import { nodeProperties, type HubDevice } from "./hub-device.js";

const positions = { kind: "enum", values: ["open", "closed", "unknown"] } as const;
/** A wish from afar is for the time at hand; longer ones are for the config. Judgement. */
const longestOpen_min = 720;
const longestClosed_min = 10_080;

export function valveDevice(valve: ValveModel, rootId: string): HubDevice {
  const { valveId, tankIds } = valve.rules;
  const of =
    <Value>(read: (valveStatus: ValveStatus, status: SiteStatus) => Value | undefined) =>
    (status: SiteStatus): Value | undefined => {
      const found = status.valves.find((candidate) => candidate.valveId === valveId);
      return found === undefined ? undefined : read(found, status);
    };
  const wishedFor = (action: Override["action"]) =>
    of(({ override }, { at_epochMs }) => remaining_min(override, action, at_epochMs));

  return {
    deviceId: childDeviceId(rootId, "valve", valveId),
    kind: "valve",
    subjectId: valveId,
    name: `Valve ${valveId}`,
    nodes: [
      { nodeId: "valve", name: "Valve" },
      { nodeId: "override", name: "Override by hand, until its end" },
      holdNode,
    ],
    properties: [
      ...nodeProperties("valve", [
        {
          propertyId: "state",
          name: "What its relay reports",
          form: positions,
          read: of(({ reported }) => reported),
        },
        {
          propertyId: "wanted",
          name: "What it is told",
          form: { kind: "enum", values: ["open", "closed"] },
          read: of(({ decision }) => decision.action),
        },
        {
          propertyId: "reason",
          name: "Why",
          form: { kind: "string" },
          read: of(({ decision }) => decision.reason),
        },
        {
          propertyId: "in-window",
          name: "Inside its dosing window",
          form: { kind: "boolean", words: ["no", "yes"] },
          read: of(({ window }) => window.kind === "open"),
        },
        {
          propertyId: "opens-at",
          name: "Next dosing window",
          form: { kind: "datetime" },
          read: of(({ window }) => (window.kind === "closed" ? window.opens_epochMs : undefined)),
        },
        {
          propertyId: "closes-at",
          name: "End of this dosing window",
          form: { kind: "datetime" },
          read: of(({ window }) => (window.kind === "open" ? window.closes_epochMs : undefined)),
        },
        {
          propertyId: "tripped",
          name: "Tripped, to be re-armed at the daemon's own machine",
          form: { kind: "boolean", words: ["no", "yes"] },
          read: of((_valve, { trips }) =>
            trips.some(({ subject: { kind, id } }) =>
              kind === "valve" ? id === valveId : tankIds.includes(id),
            ),
          ),
        },
      ]),
      ...nodeProperties("override", [
        {
          propertyId: "open-for",
          name: "Open for so long, inside its dosing window only; 0 ends it",
          form: { kind: "integer", minimum: 0, maximum: longestOpen_min },
          unit: "min",
          read: wishedFor("open"),
          command: { kind: "override", valveId, tankIds, action: "open" },
        },
        {
          propertyId: "closed-for",
          name: "Closed for so long; 0 ends it",
          form: { kind: "integer", minimum: 0, maximum: longestClosed_min },
          unit: "min",
          read: wishedFor("closed"),
          command: { kind: "override", valveId, tankIds, action: "closed" },
        },
        {
          propertyId: "until",
          name: "End of the override",
          form: { kind: "datetime" },
          read: of(({ override }) => override?.until_epochMs),
        },
      ]),
      ...holdProperties(of(({ holds }) => holds)),
    ],
  };
}

/** Whole minutes, begun ones too; 0 where no such override runs. */
function remaining_min(
  override: Override | undefined,
  action: Override["action"],
  now_epochMs: number,
): number {
  if (override?.action !== action) return 0;
  // The pass may be some milliseconds younger than the wish.
  return Math.max(0, Math.ceil((override.until_epochMs - now_epochMs) / 60_000 - 0.05));
}
