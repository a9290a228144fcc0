import { filled, filledLine, placeholdersIn, type Json } from "../../lib/alerts/template.js";
import { homieFormat } from "../../lib/hub/homie-description.js";
import type { DeviceKind, PropertyForm } from "../../lib/hub/property.js";
import { deviceTopic, propertyTopic } from "./homie-topics.js";
import type { HubDevice, HubProperty, HubTree } from "./hub-device.js";

/** A retained message for each device or property that it fits, as the keeper writes it. */
export interface AnnouncementTemplate {
  readonly each: "device" | "property";
  readonly where: {
    readonly kinds: readonly DeviceKind[];
    readonly datatypes: readonly PropertyForm["kind"][];
    readonly settable?: boolean;
    /** As water/co2; empty: every property. */
    readonly properties: readonly string[];
  };
  readonly topic: string;
  readonly payload: Readonly<Record<string, Json>>;
}

export interface Announcement {
  readonly topic: string;
  readonly payload: string;
  /** The place of its template in the config. */
  readonly index: number;
}

/** What a template may name, with what it means. */
export const devicePlaceholders = {
  site: "the site's id",
  device: "the device's id",
  deviceName: "its name for people",
  kind: "site, vessel, valve or tank",
  name: "its name in the config",
  stateTopic: "where the site's state stands: ready, init, disconnected or lost",
} as const;

export const propertyPlaceholders = {
  ...devicePlaceholders,
  node: "the node that the property belongs to",
  property: "the property's id",
  propertyName: "its name for people",
  datatype: "integer, float, boolean, string, enum, datetime or json",
  unit: "its unit",
  format: "its format, as the Homie convention writes it",
  minimum: "the least value, a number",
  maximum: "the greatest value, a number",
  values: "the values that it may have, a list",
  settable: "whether it can be set, true or false",
  valueTopic: "where its value stands",
  setTopic: "where it is set",
} as const;

type Values = Readonly<Record<string, Json | undefined>>;

/** Every message that the templates make of the tree, in their order. */
export function announcements(
  templates: readonly AnnouncementTemplate[],
  tree: HubTree,
  domain: string,
): readonly Announcement[] {
  const devices = [tree.root, ...tree.children];
  return templates.flatMap((template, index) =>
    devices
      .filter(({ kind }) => template.where.kinds.includes(kind))
      .flatMap((device) => valuesFor(template, device, tree, domain))
      .map((values) => ({ index, ...rendered(template, values) })),
  );
}

function valuesFor(
  { each, where }: AnnouncementTemplate,
  device: HubDevice,
  tree: HubTree,
  domain: string,
): readonly Values[] {
  const ofDevice = {
    site: tree.root.subjectId,
    device: device.deviceId,
    deviceName: device.name,
    kind: device.kind,
    name: device.subjectId,
    stateTopic: deviceTopic(domain, tree.root.deviceId, "$state"),
  } satisfies Record<keyof typeof devicePlaceholders, Json>;
  if (each === "device") return [ofDevice];
  return device.properties
    .filter(
      ({ form, settable, nodeId, propertyId }) =>
        where.datatypes.includes(form.kind) &&
        (where.settable === undefined || where.settable === settable) &&
        (where.properties.length === 0 || where.properties.includes(`${nodeId}/${propertyId}`)),
    )
    .map((property) => ({
      ...ofDevice,
      ...valuesOf(property, propertyTopic(domain, device.deviceId, property)),
    }));
}

function valuesOf(property: HubProperty, topic: string): Values {
  const { form, nodeId, propertyId, name, unit, settable } = property;
  const isNumber = form.kind === "integer" || form.kind === "float";
  return {
    node: nodeId,
    property: propertyId,
    propertyName: name,
    datatype: form.kind,
    unit,
    format: homieFormat(form),
    minimum: isNumber ? form.minimum : undefined,
    maximum: isNumber ? form.maximum : undefined,
    values: form.kind === "enum" ? form.values : undefined,
    settable,
    valueTopic: topic,
    setTopic: settable ? `${topic}/set` : undefined,
  } satisfies Record<
    Exclude<keyof typeof propertyPlaceholders, keyof typeof devicePlaceholders>,
    Json | undefined
  >;
}

function rendered(
  { topic, payload }: AnnouncementTemplate,
  values: Values,
): Pick<Announcement, "topic" | "payload"> {
  // Inside a longer text what has no value is nothing.
  const known = Object.fromEntries(Object.entries(values).map(([key, value]) => [key, value ?? ""]));
  return {
    topic: filledLine(topic, known),
    payload: JSON.stringify(filled(withoutUnknown(payload, values) ?? {}, known)),
  };
}

/** A key or an entry that is one placeholder and nothing else is left out where that has no value. */
function withoutUnknown(template: Json, values: Values): Json | undefined {
  if (typeof template === "string") {
    const [only] = placeholdersIn(template);
    return only !== undefined && template === `{${only}}` && values[only] === undefined
      ? undefined
      : template;
  }
  if (typeof template !== "object" || template === null) return template;
  if (Array.isArray(template)) {
    return (template as readonly Json[]).flatMap((item) => withoutUnknown(item, values) ?? []);
  }
  return Object.fromEntries(
    Object.entries(template).flatMap(([key, item]) => {
      const kept = withoutUnknown(item, values);
      return kept === undefined ? [] : [[key, kept]];
    }),
  );
}
