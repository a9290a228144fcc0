import { z } from "zod";
import { alarmPriorities } from "../../lib/alarm/alarm-condition.js";
import { weekdays } from "../../lib/schedule/civil-time.js";
import {
  choiceValue,
  flagValue,
  namedEntries,
  numberValue,
  oneOf,
  pathValue,
  referenceValue,
  textValue,
  timeOfDayValue,
  topicValue,
  wholeNumberValue,
} from "./config-values.js";

/** What a message holds where the keeper writes no other form. */
const wholeMessage = {
  site: "{site}",
  heading: "{heading}",
  text: "{text}",
  priority: "{priority}",
  count: "{count}",
  alarms: "{alarms}",
  pictures: "{pictures}",
  at: "{at}",
  key: "{key}",
} as const;

const bodyAllowed = "an object of JSON, in which {heading}, {text} and so on stand for what is told";

function body(about: string) {
  return z
    .record(z.string(), z.unknown(), { error: bodyAllowed })
    .describe(`${about} Default: everything.`)
    .default(wholeMessage);
}

const timeout_s = numberValue({
  from: 1,
  to: 60,
  unit: "seconds",
  about: "No answer within this time counts as a failure, and is tried again. Default 15.",
}).default(15);

const secret = {
  secretFile: pathValue("A file that holds the secret and nothing else.").exactOptional(),
  secretVariable: z
    .string({ error: "the name of an environment variable" })
    .regex(/^[A-Za-z_][A-Za-z0-9_]{0,99}$/, { error: "the name of an environment variable" })
    .describe("Or the environment variable that holds it.")
    .exactOptional(),
};

const caFile = pathValue(
  "PEM file with the certificate of the authority that signed the receiver's own. Default: the authorities that everyone trusts.",
).exactOptional();

const headerName = /^[A-Za-z0-9!#$%&'*+.^_`|~-]{1,100}$/;
const headersAllowed = "names of headers with one line of text each";

const webhook = z.strictObject(
  {
    kind: z.literal("webhook").describe("An HTTP request for each message."),
    url: textValue({
      atMost: 2000,
      allowed: "an address that begins with https:// or http://; {secret} stands for the secret",
      about: "Where the message is sent.",
    }),
    method: choiceValue(["POST", "PUT", "PATCH"], "The method of the request. Default POST.").default("POST"),
    headers: z
      .record(
        z.string().regex(headerName, { error: headersAllowed }),
        textValue({ atMost: 2000, allowed: headersAllowed, about: "The header's value." }),
        { error: headersAllowed },
      )
      .describe("Further headers; {secret} stands for the secret. Default: none.")
      .default({}),
    body: body("What is sent, as JSON."),
    ...secret,
    caFile,
    timeout_s,
  },
  { error: "the keys of a webhook: url, headers, body and so on" },
);

const mailAddress = textValue({
  atMost: 320,
  allowed: "an address of mail, as keeper@example.org",
  about: "An address of mail.",
});
const receivers = "a list of 1 to 20 addresses of mail";

const smtp = z.strictObject(
  {
    kind: z.literal("smtp").describe("A mail for each message."),
    host: textValue({
      atMost: 253,
      allowed: "the name of a host",
      about: "The mail server that takes messages for delivery.",
    }),
    port: wholeNumberValue({ from: 1, to: 65535, unit: "", about: "Its port. Default 587." }).default(587),
    encryption: choiceValue(
      ["starttls", "tls", "none"],
      "starttls turns a plain connection into an encrypted one and accepts no other; tls is encrypted from the first byte. Default starttls.",
    ).default("starttls"),
    user: textValue({
      atMost: 320,
      allowed: "a text",
      about: "The user name; the secret is its password.",
    }).exactOptional(),
    ...secret,
    caFile,
    from: mailAddress.describe("The sender's address."),
    to: z
      .array(mailAddress, { error: receivers })
      .min(1, { error: receivers })
      .max(20, { error: receivers })
      .describe("Who gets it."),
    subject: textValue({
      atMost: 500,
      allowed: "one line of text",
      about: "The mail's subject. Default {heading}.",
    }).default("{heading}"),
    text: z
      .string({ error: "a text" })
      .min(1, { error: "a text" })
      .max(10_000, { error: "a text of at most 10000 characters" })
      .describe("What the mail says. Default {text}.")
      .default("{text}"),
    timeout_s,
  },
  { error: "the keys of a mail server: host, from, to and so on" },
);

const mqtt = z.strictObject(
  {
    kind: z.literal("mqtt").describe("A message at the site's own broker."),
    topic: topicValue("Where the message is published."),
    body: body("What is published, as JSON."),
  },
  { error: "the keys kind, topic, body" },
);

const channel = z.discriminatedUnion("kind", [webhook, smtp, mqtt], {
  error: oneOf(["webhook", "smtp", "mqtt"]),
});

const channelNames = "a list of 1 to 8 names of channels";

function channels(about: string) {
  return z
    .array(referenceValue("channel", "A channel."), { error: channelNames })
    .min(1, { error: channelNames })
    .max(8, { error: channelNames })
    .describe(about);
}

const priorities = `a list of ${alarmPriorities.join(", ")}`;

const route = z.strictObject(
  {
    to: channels("The channels on which it is told."),
    priorities: z
      .array(choiceValue(alarmPriorities, "A priority."), { error: priorities })
      .min(1, { error: priorities })
      .describe("Alarms of which priority go this way. Default: all.")
      .default([...alarmPriorities]),
    about: z
      .array(
        textValue({
          atMost: 100,
          allowed: "vessel/<name>, tank/<name>, valve/<name> or sensor/<name>",
          about: "What the alarm touches.",
        }),
        { error: "a list such as [tank/loach, valve/outlet]" },
      )
      .max(32, { error: "at most 32" })
      .describe("Only alarms that touch one of these go this way. Default: whatever it is about.")
      .default([]),
    groupWithin_s: numberValue({
      from: 0,
      to: 600,
      unit: "seconds",
      about:
        "What comes within this time is told together; something critical waits only when the channel was just used. Default 30.",
    }).default(30),
    repeatAfter_min: numberValue({
      from: 5,
      to: 10_080,
      unit: "minutes",
      about: "What nobody has acknowledged is told again after this time. Default: told once.",
    }).exactOptional(),
    tellsReturn: flagValue("Whether it is told that an alarm has returned to normal. Default true.").default(
      true,
    ),
    quietHours: z
      .strictObject(
        {
          from: timeOfDayValue("They begin."),
          to: timeOfDayValue("They end; the next morning where that is the earlier time."),
        },
        { error: "the keys from and to" },
      )
      .describe(
        "By the clock on the wall: what is not critical waits until their end. What is critical never waits. Default: none.",
      )
      .exactOptional(),
    escalation: z
      .strictObject(
        {
          after_min: numberValue({
            from: 1,
            to: 1440,
            unit: "minutes",
            about: "This long after it was raised.",
          }),
          to: channels("The further channels."),
        },
        { error: "the keys after_min and to" },
      )
      .describe("Who else is told when nobody has acknowledged. Default: nobody.")
      .exactOptional(),
  },
  { error: "the keys of a route: to, priorities and so on" },
);

const digest = z.strictObject(
  {
    to: channels("The channels on which it is sent."),
    at: timeOfDayValue("When it is sent, by the clock on the site's wall."),
    weekday: choiceValue(
      weekdays,
      "Only on this day of the week, for the week. Default: every day.",
    ).exactOptional(),
    picture_days: wholeNumberValue({
      from: 1,
      to: 60,
      unit: "days",
      about: "So many days the line of the vessels' pressure shows. Default 7.",
    }).default(7),
  },
  { error: "the keys to, at, weekday and picture_days" },
);

export const alertSchema = z.strictObject(
  {
    channels: namedEntries(channel, "The ways to reach a person, by a name of your choice.").default({}),
    routes: z
      .array(route, { error: "a list of routes" })
      .max(32, { error: "at most 32 routes" })
      .describe("Which alarm is told where. An alarm goes by the first route that fits. Default: none.")
      .default([]),
    digest: digest
      .describe(
        "A message each day or week: CO2 of the tanks, what is left in the vessels with a picture of their pressure, upkeep that is due, alarms. What could not be sent within 12 hours is left out. Default: none.",
      )
      .exactOptional(),
  },
  { error: "the keys channels, routes and digest" },
);
