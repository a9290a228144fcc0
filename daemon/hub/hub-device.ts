import type { DeviceDescription, PropertyDescription, PropertyValue } from "../../lib/hub/property.js";
import type { SiteStatus } from "../site-status.js";

/** What a controller may bring about by setting a property. */
export type HubCommand =
  | {
      readonly kind: "override";
      readonly valveId: string;
      /** The tanks behind the valve: a trip of one of them is the valve's too. */
      readonly tankIds: readonly string[];
      readonly action: "open" | "closed";
    }
  | { readonly kind: "kh test"; readonly tankId: string }
  | { readonly kind: "drop checker"; readonly tankId: string }
  | { readonly kind: "acknowledge" };

/** A property with where its value comes from. */
export interface HubProperty extends PropertyDescription {
  /** Undefined while it is not known: nothing is then left with the broker that could pass for a value. */
  readonly read: (status: SiteStatus) => PropertyValue | undefined;
  /** Only of what may be set. */
  readonly command?: HubCommand;
}

export interface HubDevice extends DeviceDescription {
  readonly properties: readonly HubProperty[];
}

export interface HubTree {
  readonly root: HubDevice;
  readonly children: readonly HubDevice[];
}

/** The properties of one node, with what most of them have in common left out. */
export function nodeProperties(
  nodeId: string,
  rows: readonly (Omit<HubProperty, "nodeId" | "settable" | "retained"> & { readonly retained?: boolean })[],
): readonly HubProperty[] {
  return rows.map((row) => ({ nodeId, settable: row.command !== undefined, retained: true, ...row }));
}
