import { createHash } from "node:crypto";
import type { PropertyForm } from "../../lib/hub/property.js";
import { deviceTopic, propertyTopic } from "./homie-topics.js";
import type { HubDevice, HubProperty, HubTree } from "./hub-device.js";

export interface ThingSurroundings {
  readonly domain: string;
  /** As other machines reach the broker. */
  readonly brokerAddress: string;
  readonly needsLogin: boolean;
}

/** As a property of the Thing Description's data schema vocabulary. */
type DataSchema = Readonly<Record<string, unknown>>;

/**
 * A device as a W3C Thing Description 1.1 with forms of the MQTT binding (editor's draft of its repository, 2024): properties
 * are read where the broker keeps them and written at their set topic, the rest is an action; alerts are an event.
 */
export function thingDescription(
  device: HubDevice,
  tree: HubTree,
  surroundings: ThingSurroundings,
): Readonly<Record<string, unknown>> {
  const { domain, brokerAddress, needsLogin } = surroundings;
  const { deviceId, name } = device;
  const kept = device.properties.filter(({ retained }) => retained);
  const momentary = device.properties.filter(({ retained, settable }) => !retained && settable);
  const isRoot = deviceId === tree.root.deviceId;
  const links = isRoot
    ? tree.children.map((child) => ({ rel: "item", href: thingId(domain, child.deviceId) }))
    : [{ rel: "collection", href: thingId(domain, tree.root.deviceId) }];
  return {
    "@context": ["https://www.w3.org/2022/wot/td/v1.1", { mqv: "https://www.w3.org/2019/wot/mqtt#" }],
    id: thingId(domain, deviceId),
    title: name,
    securityDefinitions: {
      broker: needsLogin ? { scheme: "basic", in: "auto" } : { scheme: "nosec" },
    },
    security: "broker",
    links,
    properties: {
      state: {
        title: "State of the device",
        type: "string",
        enum: ["init", "ready", "disconnected", "sleeping", "lost"],
        readOnly: true,
        observable: true,
        forms: [readForm(brokerAddress, deviceTopic(domain, deviceId, "$state"), "text/plain")],
      },
      ...Object.fromEntries(
        kept.map((property) => [
          `${property.nodeId}-${property.propertyId}`,
          thingProperty(property, propertyTopic(domain, deviceId, property), brokerAddress),
        ]),
      ),
    },
    ...(momentary.length === 0
      ? {}
      : {
          actions: Object.fromEntries(
            momentary.map((property) => [
              `${property.nodeId}-${property.propertyId}`,
              {
                title: property.name,
                input: schemaOf(property),
                safe: false,
                idempotent: true,
                forms: [
                  {
                    ...setForm(
                      brokerAddress,
                      `${propertyTopic(domain, deviceId, property)}/set`,
                      contentTypeOf(property.form),
                    ),
                    op: "invokeaction",
                  },
                ],
              },
            ]),
          ),
        }),
    events: {
      alert: {
        title: "An alarm, as text; an empty message says that it is over",
        data: { type: "string" },
        forms: [
          {
            href: brokerAddress,
            contentType: "text/plain",
            op: ["subscribeevent", "unsubscribeevent"],
            "mqv:filter": deviceTopic(domain, deviceId, "$alert/+"),
            "mqv:qos": "1",
          },
        ],
      },
    },
  };
}

function thingProperty(property: HubProperty, topic: string, brokerAddress: string): DataSchema {
  const contentType = contentTypeOf(property.form);
  const read = readForm(brokerAddress, topic, contentType);
  return {
    title: property.name,
    ...schemaOf(property),
    readOnly: !property.settable,
    observable: true,
    forms: property.settable
      ? [read, { ...setForm(brokerAddress, `${topic}/set`, contentType), op: "writeproperty" }]
      : [read],
  };
}

function readForm(href: string, filter: string, contentType: string): DataSchema {
  return {
    href,
    contentType,
    op: ["readproperty", "observeproperty", "unobserveproperty"],
    "mqv:filter": filter,
    "mqv:qos": "1",
    "mqv:retain": true,
  };
}

/** A command is never retained: what lies with the broker must not act. */
function setForm(href: string, topic: string, contentType: string): DataSchema {
  return {
    href,
    contentType,
    "mqv:controlPacket": "publish",
    "mqv:topic": topic,
    "mqv:qos": "1",
    "mqv:retain": false,
  };
}

function schemaOf({ form, unit }: HubProperty): DataSchema {
  const inUnit = unit === undefined ? {} : { unit };
  switch (form.kind) {
    case "integer":
    case "float":
      return {
        type: form.kind === "integer" ? "integer" : "number",
        ...inUnit,
        ...(form.minimum === undefined ? {} : { minimum: form.minimum }),
        ...(form.maximum === undefined ? {} : { maximum: form.maximum }),
      };
    case "boolean":
      return { type: "boolean" };
    case "enum":
      return { type: "string", enum: form.values };
    case "datetime":
      return { type: "string", format: "date-time" };
    case "string":
      return { type: "string" };
    case "json":
      return { type: "array" };
  }
}

/** Numbers, true and false are JSON as the convention writes them; a text has no quotes around it. */
function contentTypeOf({ kind }: PropertyForm): string {
  return kind === "integer" || kind === "float" || kind === "boolean" || kind === "json"
    ? "application/json"
    : "text/plain";
}

/** RFC 9562 5.5: a UUID of a name, here the device's topic, in the name space of addresses. */
function thingId(domain: string, deviceId: string): string {
  const addresses = Buffer.from("6ba7b8119dad11d180b400c04fd430c8", "hex");
  const hash = createHash("sha1").update(addresses).update(`mqtt:${domain}/5/${deviceId}`).digest();
  hash[6] = ((hash[6] ?? 0) & 0x0f) | 0x50;
  hash[8] = ((hash[8] ?? 0) & 0x3f) | 0x80;
  const hex = hash.toString("hex");
  const parts = [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20, 32)];
  return `urn:uuid:${parts.join("-")}`;
}
