import { z } from "zod";
import { weekdays } from "../../lib/schedule/civil-time.js";
import {
  choiceValue,
  dateValue,
  flagValue,
  idValue,
  instantValue,
  namedEntries,
  numberValue,
  pathValue,
  referenceValue,
  textValue,
  timeOfDayValue,
  topicValue,
  wholeNumberValue,
} from "./config-values.js";
import { relaySchema } from "./relay-schema.js";
import { sensorSchema } from "./sensor-schema.js";

export const tankDefaults = {
  lead_min: 60,
  earlyClose_min: 30,
  limits: { co2Close_mgPerL: 60, pHFloor: 5.8, temperatureHigh_degC: 32 },
} as const;
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
  },
  { error: "the keys id and timeZone" },
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

const vesselKeys = {
  volume_L: numberValue({ from: 0.1, to: 50, unit: "litres", about: "Inner volume of the empty vessel." }),
  ratedPressureGauge_bar: numberValue({
    from: 1,
    to: 400,
    unit: "bar gauge",
    about: "The pressure for which the vessel is rated, from its plate. Without it no charge is planned.",
  }).exactOptional(),
  reliefOpeningGauge_bar: numberValue({
    from: 1,
    to: 400,
    unit: "bar gauge",
    about: "The pressure at which its relief device opens. Without it no charge is planned.",
  }).exactOptional(),
  workingPressureGauge_bar: numberValue({
    from: 0.2,
    to: 10,
    unit: "bar gauge",
    about: "The pressure behind the regulator, to which it is set.",
  }),
  pressureSensor: referenceValue("sensor", "The sensor of the pressure in the vessel.").exactOptional(),
  temperatureSensor: referenceValue(
    "sensor",
    "The sensor of the vessel's temperature, or of the room it stands in.",
  ).exactOptional(),
};

const charge = z.strictObject(
  {
    sodiumBicarbonate_g: numberValue({
      from: 1,
      to: 5000,
      unit: "g",
      about: "Sodium bicarbonate, as weighed.",
    }),
    citricAcidAnhydrous_g: numberValue({
      from: 1,
      to: 5000,
      unit: "g",
      about: "Anhydrous citric acid, as weighed.",
    }),
    water_kg: numberValue({ from: 0.01, to: 40, unit: "kg", about: "Water, or ice, or both together." }),
    sealedAt_degC: numberValue({
      from: -20,
      to: 50,
      unit: "degC",
      about: "Temperature of the vessel when it was closed.",
    }),
    closedAt: instantValue("When it was closed."),
  },
  { error: "the keys of a charge: sodiumBicarbonate_g and so on" },
);

const vessel = z.discriminatedUnion(
  "kind",
  [
    z.strictObject({
      kind: z.literal("generator"),
      ...vesselKeys,
      charge: charge.describe("What was put in at the last filling.").exactOptional(),
    }),
    z.strictObject({ kind: z.literal("liquid"), ...vesselKeys }),
  ],
  { error: "one of generator, liquid" },
);

const photoperiod = z.strictObject(
  {
    lightsOn: timeOfDayValue("When the lights go on."),
    lightsOff: timeOfDayValue("When they go off; a time before lightsOn is one of the next day."),
    days: z
      .array(choiceValue(weekdays, "A day of the week."), { error: `a list of ${weekdays.join(", ")}` })
      .min(1, { error: `a list of at least one of ${weekdays.join(", ")}` })
      .describe("The days on which these lights go on. Default: every day.")
      .default([...weekdays]),
  },
  { error: "the keys lightsOn, lightsOff and days" },
);

const spanOfDates = z.strictObject(
  { from: dateValue("First day off."), to: dateValue("Last day off.") },
  { error: "the keys from and to" },
);

const limits = z.strictObject(
  {
    co2Close_mgPerL: numberValue({
      from: 5,
      to: 100,
      unit: "mg/L",
      about: "The valve closes when the estimated CO2 in the tank reaches this. Default 60.",
    }).default(tankDefaults.limits.co2Close_mgPerL),
    pHFloor: numberValue({
      from: 4.5,
      to: 8,
      unit: "",
      about: "The valve closes when the pH falls to this. Default 5.8.",
    }).default(tankDefaults.limits.pHFloor),
    temperatureHigh_degC: numberValue({
      from: 20,
      to: 40,
      unit: "degC",
      about: "The valve closes when the water gets this warm: warm water holds less oxygen. Default 32.",
    }).default(tankDefaults.limits.temperatureHigh_degC),
  },
  { error: "the keys co2Close_mgPerL, pHFloor, temperatureHigh_degC" },
);

const tank = z.strictObject(
  {
    volume_L: numberValue({
      from: 1,
      to: 20000,
      unit: "litres",
      about: "Water in the tank, less stones and sand.",
    }),
    kh_dKH: numberValue({ from: 0.1, to: 40, unit: "dKH", about: "Carbonate hardness of the water." }),
    phSensor: referenceValue("sensor", "The pH sensor in this tank.").exactOptional(),
    temperatureSensor: referenceValue("sensor", "The thermometer in this tank.").exactOptional(),
    photoperiods: z
      .array(photoperiod, { error: "a list of 1 to 24 spans of light" })
      .min(1, { error: "a list of 1 to 24 spans of light" })
      .max(24, { error: "a list of 1 to 24 spans of light" })
      .describe("When the lights are on."),
    lead_min: numberValue({
      from: 0,
      to: 240,
      unit: "minutes",
      about: "Gas opens this long before the lights go on. Default 60.",
    }).default(tankDefaults.lead_min),
    earlyClose_min: numberValue({
      from: 0,
      to: 240,
      unit: "minutes",
      about: "Gas closes this long before the lights go off. Default 30.",
    }).default(tankDefaults.earlyClose_min),
    datesOff: z
      .array(
        z.union([dateValue("A day without gas."), spanOfDates], {
          error: "a date written 2026-12-24, or the keys from and to with such dates",
        }),
        { error: "a list of dates, or of spans with from and to" },
      )
      .max(200, { error: "at most 200 dates" })
      .describe("Days, or spans of days with both ends included, on which no gas is given. Default: none.")
      .default([]),
    limits: limits.describe("Limits beyond which the tank closes its valve.").prefault({}),
  },
  { error: "the keys of a tank: volume_L, kh_dKH, photoperiods and so on" },
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
  },
  { error: "the keys file, batch_s, retention" },
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
      vessels: namedEntries(vessel, "The pressure vessels, by a name of your choice.").default({}),
      tanks: namedEntries(tank, "The tanks, by a name of your choice.").default({}),
      valves: namedEntries(valve, "The solenoid valves, by a name of your choice.").default({}),
      control: control.describe("How the daemon is commanded from this machine.").prefault({}),
      store: store.describe("Where the daemon keeps what it measured and did.").prefault({}),
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
export type RelayConfig = ValveConfig["relay"];
