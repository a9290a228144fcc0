import type { DeviceDescription, DeviceTree, PropertyDescription, PropertyForm } from "./property.js";

/** The version of the convention without its patch level. */
const conventionVersion = "5.0";

export interface HomieProperty {
  readonly name: string;
  readonly datatype: PropertyForm["kind"];
  readonly format?: string;
  readonly unit?: string;
  readonly settable: boolean;
  readonly retained: boolean;
}

export interface HomieNode {
  readonly name: string;
  readonly properties: Readonly<Record<string, HomieProperty>>;
}

/** The content of `$description` but for its version. [Homie2024] "Device Attributes" */
export interface HomieDescription {
  readonly homie: string;
  readonly name: string;
  readonly type: string;
  readonly nodes: Readonly<Record<string, HomieNode>>;
  readonly children?: readonly string[];
  readonly root?: string;
}

/** A device of the tree. `root` and `children` say each other's ids; a parent of its own is only needed deeper down. */
export function homieDescription(device: DeviceDescription, tree: DeviceTree): HomieDescription {
  const isRoot = device.deviceId === tree.root.deviceId;
  return {
    homie: conventionVersion,
    name: device.name,
    type: `fizzward/${device.kind}`,
    nodes: Object.fromEntries(
      device.nodes.map(({ nodeId, name }) => [
        nodeId,
        {
          name,
          properties: Object.fromEntries(
            device.properties
              .filter((property) => property.nodeId === nodeId)
              .map((property) => [property.propertyId, homieProperty(property)]),
          ),
        },
      ]),
    ),
    ...(isRoot ? { children: tree.children.map(({ deviceId }) => deviceId) } : { root: tree.root.deviceId }),
  };
}

function homieProperty({ name, form, unit, settable, retained }: PropertyDescription): HomieProperty {
  const format = homieFormat(form);
  return {
    name,
    datatype: form.kind,
    ...(format === undefined ? {} : { format }),
    ...(unit === undefined ? {} : { unit }),
    settable,
    retained,
  };
}

/** [Homie2024] "Formats"; undefined where the default says the same. */
export function homieFormat(form: PropertyForm): string | undefined {
  switch (form.kind) {
    case "integer":
    case "float":
      return form.minimum === undefined && form.maximum === undefined
        ? undefined
        : `${form.minimum ?? ""}:${form.maximum ?? ""}`;
    case "boolean":
      return form.words.join(",");
    case "enum":
      return form.values.join(",");
    case "string":
    case "datetime":
    case "json":
      return undefined;
  }
}

/** What was published last under a version. */
export interface PublishedVersion {
  readonly checksum: string;
  readonly version: number;
}

/**
 * "Whenever the document changes, a new higher version must be assigned." The seconds since 1970 make it higher also where
 * what was published before is not remembered.
 */
export function nextVersion(
  checksum: string,
  before: PublishedVersion | undefined,
  now_epochMs: number,
): number {
  if (before?.checksum === checksum) return before.version;
  return Math.max((before?.version ?? 0) + 1, Math.floor(now_epochMs / 1000));
}
