/** How the value of a hub's property is written, and what it may be. */
export type PropertyForm =
  | {
      readonly kind: "integer" | "float";
      readonly minimum?: number;
      readonly maximum?: number;
    }
  | { readonly kind: "boolean"; readonly words: readonly [whenFalse: string, whenTrue: string] }
  | { readonly kind: "enum"; readonly values: readonly string[] }
  /** An instant, as milliseconds since 1970. */
  | { readonly kind: "datetime" }
  | { readonly kind: "string" }
  /** A list or an object. */
  | { readonly kind: "json" };

export interface PropertyDescription {
  readonly nodeId: string;
  readonly propertyId: string;
  readonly name: string;
  readonly form: PropertyForm;
  /** As it is written beside the number; only of a number. */
  readonly unit?: string;
  /** Whether a hub may set it. */
  readonly settable: boolean;
  /** False: a momentary event, which the broker does not keep. */
  readonly retained: boolean;
}

export interface NodeDescription {
  readonly nodeId: string;
  readonly name: string;
}

export type DeviceKind = "site" | "vessel" | "valve" | "tank";

/** One thing of the home as a hub sees it. The site is the root; every other device is a child of it. */
export interface DeviceDescription {
  readonly deviceId: string;
  readonly kind: DeviceKind;
  /** Its name in the config. */
  readonly subjectId: string;
  readonly name: string;
  readonly nodes: readonly NodeDescription[];
  readonly properties: readonly PropertyDescription[];
}

export interface DeviceTree {
  readonly root: DeviceDescription;
  readonly children: readonly DeviceDescription[];
}

export type PropertyValue =
  number | boolean | string | readonly unknown[] | { readonly [key: string]: unknown };

export function devicesOf(tree: DeviceTree): readonly DeviceDescription[] {
  return [tree.root, ...tree.children];
}
