import { holdInWords, type Hold, type HoldKind } from "../../lib/control/hold.js";
import type { SiteStatus } from "../site-status.js";
import { nodeProperties, type HubProperty } from "./hub-device.js";

export const holdNode = { nodeId: "hold", name: "Kept closed by a person who works there" } as const;

/**
 * What a person has locked at the daemon's own machine: to be seen, never to be lifted, from a hub.
 * @param read the holds of the device; undefined while they are not known
 */
export function holdProperties(
  read: (status: SiteStatus) => readonly Hold[] | undefined,
): readonly HubProperty[] {
  const stands = (kind: HoldKind) => (status: SiteStatus) => read(status)?.some((hold) => hold.kind === kind);
  return nodeProperties(holdNode.nodeId, [
    {
      propertyId: "maintenance-lock",
      name: "Locked for maintenance",
      form: { kind: "boolean", words: ["no", "yes"] },
      read: stands("maintenance lock"),
    },
    {
      propertyId: "refill",
      name: "A refill is in progress",
      form: { kind: "boolean", words: ["no", "yes"] },
      read: stands("refill in progress"),
    },
    {
      propertyId: "since",
      name: "Since when it is kept closed",
      form: { kind: "datetime" },
      read: (status) => {
        const begun_epochMs = (read(status) ?? []).map(({ since_epochMs }) => since_epochMs);
        return begun_epochMs.length === 0 ? undefined : Math.min(...begun_epochMs);
      },
    },
    {
      propertyId: "note",
      name: "By what, and the remark of the person",
      form: { kind: "string" },
      read: (status) => {
        const holds = read(status) ?? [];
        return holds.length === 0 ? undefined : holds.map(holdInWords).join("; ");
      },
    },
  ]);
}
