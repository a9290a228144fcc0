import { z } from "zod";
import {
  choiceValue,
  flagValue,
  hostNameValue,
  idValue,
  ipAddressValue,
  namedEntries,
  numberValue,
  pathValue,
  referenceValue,
  textValue,
  topicValue,
  wholeNumberValue,
} from "./config-values.js";
import { alertSchema } from "./alert-schema.js";
import { hubSchema } from "./hub-schema.js";
import { awaySchema } from "./refill-schema.js";
import { relaySchema } from "./relay-schema.js";
import { sensorSchema } from "./sensor-schema.js";
import { tankSchema } from "./tank-schema.js";
import { upkeepSchema } from "./upkeep-schema.js";
import { vesselSchema } from "./vessel-schema.js";

export const longestOpenDefault_min = 720;
export const retentionDefaults = { raw_days: 14, oneMinute_days: 90, fifteenMinute_days: 1825 } as const;

const site = z.strictObject(
  {
    id: idValue("The name of this home in topics and in the database."),
    timeZone: textValue({
      atMost: 100,
      allowed: "a name of the IANA time zone database, as Europe/Berlin or America/New_York",
      about: "The time zone in which the lights are switched.",
    }),
    away: awaySchema
      .describe(
        "Days, or spans of days with both ends included, on which nobody is home to refill. Default: none.",
      )
      .default([]),
  },
  { error: "the keys id, timeZone and away" },
);

const tls = z.strictObject(
  {
    caFile: pathValue("Certificate of the authority that signed the broker's certificate.").exactOptional(),
    certificateFile: pathValue(
      "This client's own certificate, where the broker asks for one.",
    ).exactOptional(),
    keyFile: pathValue("The key that belongs to certificateFile.").exactOptional(),
    acceptUnverified: flagValue(
      "true takes any certificate, so that anyone in the network can pose as the broker. For a trial only.",
    ).default(false),
  },
  { error: "the keys caFile, certificateFile, keyFile, acceptUnverified" },
);

const broker = z.strictObject(
  {
    addresses: z
      .array(
        textValue({
          atMost: 300,
          allowed: "an address without user or password, as mqtt://host:1883 or mqtts://host:8883",
          about: "Where a broker listens.",
        }),
        { error: "a list of 1 to 8 addresses" },
      )
      .min(1, { error: "a list of 1 to 8 addresses" })
      .max(8, { error: "a list of 1 to 8 addresses" })
      .describe("Addresses of the MQTT broker, tried in this order."),
    user: textValue({
      atMost: 200,
      allowed: "a text",
      about: "The user name at the broker.",
    }).exactOptional(),
    password: textValue({
      atMost: 1000,
      allowed: "a text, in quotes where it looks like a number",
      about: "The password itself. A passwordFile is safer.",
    }).exactOptional(),
    passwordFile: pathValue("A file that holds the password and nothing else.").exactOptional(),
    tls: tls.describe("Encryption, for addresses that begin with mqtts.").exactOptional(),
    keepalive_s: wholeNumberValue({
      from: 5,
      to: 120,
      unit: "seconds",
      about: "How often the connection is tried when nothing else is sent. Default 10.",
    }).default(10),
    clientIdPrefix: z
      .string({ error: "1 to 32 letters, digits and hyphens" })
      .regex(/^[A-Za-z0-9-]{1,32}$/, { error: "1 to 32 letters, digits and hyphens" })
      .describe("Beginning of the names under which this daemon connects. Default fizzward.")
      .default("fizzward"),
    baseTopic: topicValue(
      "Everything that this daemon publishes stands below this topic. Default: fizzward/ and the site's id.",
    ).exactOptional(),
  },
  { error: "the keys of a broker: addresses and so on" },
);

const feed = z.strictObject(
  {
    tank: referenceValue("tank", "The tank that gets this share."),
    share: numberValue({
      from: 0.01,
      to: 1,
      unit: "",
      about: "Its part of the gas; all shares of a valve add up to 1.",
    }),
  },
  { error: "the keys tank and share" },
);

const valve = z.strictObject(
  {
    vessel: referenceValue("vessel", "The vessel on whose outlet the valve sits."),
    feeds: z
      .array(feed, { error: "a list of 1 to 16 tanks with their shares" })
      .min(1, { error: "a list of 1 to 16 tanks with their shares" })
      .max(16, { error: "a list of 1 to 16 tanks with their shares" })
      .describe("The tanks behind this valve."),
    guardSensors: z
      .array(referenceValue("sensor", "A sensor that must be fresh and plausible, or the valve closes."), {
        error: "a list of names of sensors",
      })
      .max(32, { error: "at most 32 sensors" })
      .describe("Sensors without which the valve does not open. Default: none.")
      .default([]),
    longestOpen_min: numberValue({
      from: 1,
      to: 1440,
      unit: "minutes",
      about: "The valve closes after this time without a break, whatever else holds. Default 720.",
    }).default(longestOpenDefault_min),
    relay: relaySchema.describe("The relay that switches the solenoid."),
    seriesRelay: relaySchema
      .describe("The relay of a second solenoid in series; both must be on for gas to flow.")
      .exactOptional(),
    airPump: relaySchema
      .describe("The relay of an air pump, wired so that the pump runs when the relay drops.")
      .exactOptional(),
  },
  { error: "the keys of a valve: vessel, feeds, relay and so on" },
);

const control = z.strictObject(
  {
    clientSocket: textValue({
      atMost: 100,
      allowed: "the path of a socket, at most 100 characters",
      about:
        "Local socket for commands on this machine, such as re-arming after a trip. Default /run/fizzward/control.sock.",
    }).default("/run/fizzward/control.sock"),
  },
  { error: "the key clientSocket" },
);

const retention = z.strictObject(
  {
    raw_days: wholeNumberValue({
      from: 1,
      to: 3650,
      unit: "days",
      about: "Every reading is kept this long. Default 14.",
    }).default(retentionDefaults.raw_days),
    oneMinute_days: wholeNumberValue({
      from: 1,
      to: 3650,
      unit: "days",
      about: "Minimum, mean and maximum of each minute are kept this long. Default 90.",
    }).default(retentionDefaults.oneMinute_days),
    fifteenMinute_days: wholeNumberValue({
      from: 1,
      to: 36500,
      unit: "days",
      about: "Minimum, mean and maximum of each quarter of an hour are kept this long. Default 1825.",
    }).default(retentionDefaults.fifteenMinute_days),
  },
  { error: "the keys raw_days, oneMinute_days, fifteenMinute_days" },
);

const backup = z.strictObject(
  {
    folder: pathValue("Default: the folder backup beside the database file.").exactOptional(),
    nights: wholeNumberValue({
      from: 0,
      to: 365,
      unit: "",
      about: "How many nightly copies are kept. 0: none are made. Default 7.",
    }).default(7),
    whole: choiceValue(
      ["monthly", "nightly"],
      "How often a copy has the measured values too, which are nearly all of its size. Default monthly: a flash card wears by what is written.",
    ).default("monthly"),
  },
  { error: "the keys folder, nights, whole" },
);

const store = z.strictObject(
  {
    file: pathValue("The database file. Default /var/lib/fizzward/fizzward.db.").default(
      "/var/lib/fizzward/fizzward.db",
    ),
    batch_s: numberValue({
      from: 1,
      to: 300,
      unit: "seconds",
      about:
        "Readings are written together this often; a power cut loses at most so much. Events are written at once. Default 60.",
    }).default(60),
    retention: retention.describe("How long readings are kept.").prefault({}),
    backup: backup.describe("Copies of the database, made and checked each night.").prefault({}),
  },
  { error: "the keys file, batch_s, retention, backup" },
);

const metrics = z.strictObject(
  {
    port: wholeNumberValue({
      from: 1024,
      to: 65535,
      unit: "",
      about: "Where /metrics and /healthz are told, on this machine alone.",
    }),
  },
  { error: "the key port" },
);

const page = z.strictObject(
  {
    port: wholeNumberValue({
      from: 1024,
      to: 65535,
      unit: "",
      about: "Where a browser finds the page.",
    }),
    address: ipAddressValue(
      "At which address of this machine. Any other than its loopback needs tokenFile. Default 127.0.0.1, for this machine alone.",
    ).default("127.0.0.1"),
    names: z
      .array(hostNameValue("A name by which browsers reach this machine."), {
        error: "a list of names, as [tank-room.home.arpa]",
      })
      .max(10, { error: "at most 10 names" })
      .default([])
      .describe("Names by which browsers reach this machine, beside its address. Default: none."),
    tokenFile: pathValue(
      "A file that holds a token of at least 32 characters and nothing else: whoever enters it may see and enter.",
    ).exactOptional(),
  },
  { error: "the keys port, address, names, tokenFile" },
);

const log = z.strictObject(
  {
    level: choiceValue(["debug", "info", "warn", "error"], "How much is logged. Default info.").default(
      "info",
    ),
  },
  { error: "the key level" },
);

export const siteSchema = z
  .strictObject(
    {
      site: site.describe("This home."),
      broker: broker.describe("The MQTT broker."),
      sensors: namedEntries(sensorSchema, "What measures, by a name of your choice.").default({}),
      vessels: namedEntries(vesselSchema, "The pressure vessels, by a name of your choice.").default({}),
      tanks: namedEntries(tankSchema, "The tanks, by a name of your choice.").default({}),
      valves: namedEntries(valve, "The solenoid valves, by a name of your choice.").default({}),
      alerts: alertSchema.describe("Who is told of an alarm, and how.").prefault({}),
      hub: hubSchema.describe("What a smart home's hub is told, and may set.").prefault({}),
      upkeep: upkeepSchema.describe("When what wears and ages is due.").prefault({}),
      control: control.describe("How the daemon is commanded from this machine.").prefault({}),
      store: store.describe("Where the daemon keeps what it measured and did.").prefault({}),
      metrics: metrics
        .describe("Figures for a dashboard on this machine, in OpenMetrics form. Default: none.")
        .exactOptional(),
      page: page.describe("The page for a browser. Default: none.").exactOptional(),
      log: log.describe("The daemon's log.").prefault({}),
    },
    { error: "the keys site, broker, sensors, vessels, tanks, valves" },
  )
  .transform((config) => ({
    ...config,
    broker: { ...config.broker, baseTopic: config.broker.baseTopic ?? `fizzward/${config.site.id}` },
  }));

type DeepReadonly<T> = T extends readonly unknown[] | object
  ? { readonly [Key in keyof T]: DeepReadonly<T[Key]> }
  : T;

/** A configuration that was checked: every default filled in, nothing that can be written to. */
export type SiteConfig = DeepReadonly<z.output<typeof siteSchema>>;
export type SensorConfig = SiteConfig["sensors"][string];
export type VesselConfig = SiteConfig["vessels"][string];
export type ValveConfig = SiteConfig["valves"][string];
export type TankConfig = SiteConfig["tanks"][string];
export type HubConfig = SiteConfig["hub"];
export type AlertConfig = SiteConfig["alerts"];
export type AlertChannelConfig = AlertConfig["channels"][string];
export type RelayConfig = ValveConfig["relay"];
