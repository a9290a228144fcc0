import { z } from "zod";
import { choiceValue, flagValue, textValue, topicValue } from "./config-values.js";

const segmentAllowed = "1 to 60 lower-case letters, digits and hyphens";

/** One level of a topic, as the Homie convention allows it ("Topic IDs"). */
function segmentValue(about: string) {
  return z
    .string({ error: segmentAllowed })
    .regex(/^[a-z0-9-]{1,60}$/, { error: segmentAllowed })
    .describe(`${about} ${segmentAllowed}.`);
}

const homie = z.strictObject(
  {
    domain: segmentValue("First level of every topic. Default homie.").default("homie"),
    deviceId: segmentValue(
      "The id of the site's own device, with which those of its vessels, valves and tanks begin. Default: the site's id.",
    ).exactOptional(),
  },
  { error: "the keys domain and deviceId; {} takes both defaults" },
);

const online = z.strictObject(
  {
    topic: topicValue("Where the hub says that it has come up."),
    payload: textValue({
      atMost: 200,
      allowed: "a text, in quotes where it looks like a number",
      about: "What it says then.",
    }),
  },
  { error: "the keys topic and payload" },
);

const things = z.strictObject(
  {
    topic: topicValue("Below this topic each stands, retained, under the device's id."),
    brokerAddress: textValue({
      atMost: 300,
      allowed: "an address without user or password, as mqtt://host:1883 or mqtts://host:8883",
      about: "The broker as other machines reach it. Default: the first of broker.addresses.",
    })
      .regex(/^mqtts?:\/\/[^/@\s]+$/, {
        error: "an address without user or password, as mqtt://host:1883 or mqtts://host:8883",
      })
      .exactOptional(),
  },
  { error: "the keys topic and brokerAddress" },
);

const deviceKinds = ["site", "vessel", "valve", "tank"] as const;
const datatypes = ["integer", "float", "boolean", "string", "enum", "datetime", "json"] as const;
const kindsAllowed = `a list of ${deviceKinds.join(", ")}`;
const datatypesAllowed = `a list of ${datatypes.join(", ")}`;
const propertyAllowed = "a node and a property, as water/co2";
const payloadAllowed =
  "an object of JSON, in which {device}, {valueTopic} and so on stand for what is announced";

const where = z.strictObject(
  {
    kinds: z
      .array(choiceValue(deviceKinds, "A kind of device."), { error: kindsAllowed })
      .min(1, { error: kindsAllowed })
      .describe("Only devices of these kinds. Default: all.")
      .default([...deviceKinds]),
    datatypes: z
      .array(choiceValue(datatypes, "A datatype."), { error: datatypesAllowed })
      .min(1, { error: datatypesAllowed })
      .describe("Only properties of these datatypes. Default: all.")
      .default([...datatypes]),
    settable: flagValue("Only properties that can be set, or that cannot. Default: both.").exactOptional(),
    properties: z
      .array(
        z
          .string({ error: propertyAllowed })
          .regex(/^[a-z0-9-]+\/[a-z0-9-]+$/, { error: propertyAllowed })
          .describe(propertyAllowed),
        { error: "a list such as [water/co2]" },
      )
      .max(100, { error: "at most 100" })
      .describe("Only these properties. Default: all.")
      .default([]),
  },
  { error: "the keys kinds, datatypes, settable, properties" },
);

const announcement = z.strictObject(
  {
    each: choiceValue(["device", "property"], "Whether it is made for each device or each property."),
    where: where.describe("For which of them.").prefault({}),
    topic: textValue({
      atMost: 300,
      allowed: "a topic in which {device}, {property} and so on stand for what is announced",
      about: "Where it is published.",
    }),
    payload: z
      .record(z.string(), z.unknown(), { error: payloadAllowed })
      .describe(`What is published: ${payloadAllowed}.`),
  },
  { error: "the keys each, where, topic, payload" },
);

export const hubSchema = z.strictObject(
  {
    homie: homie
      .describe("The site as devices of the Homie 5 convention. {} takes all defaults. Default: none.")
      .exactOptional(),
    online: online
      .describe("When this message comes, everything is told to the hub again. Default: none.")
      .exactOptional(),
    things: things.describe("A Thing Description of the W3C for each device. Default: none.").exactOptional(),
    announcements: z
      .array(announcement, { error: "a list of announcements" })
      .max(50, { error: "at most 50 announcements" })
      .describe("Retained messages for a hub that learns of devices in a form of its own. Default: none.")
      .default([]),
  },
  { error: "the keys homie, online, things, announcements" },
);
