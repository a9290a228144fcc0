import { isIP } from "node:net";
import { z } from "zod";

/**
 * The kinds of value that a key may have. Each carries, as its error message, the words for what is allowed, and as its
 * description what an editor shows.
 */

interface NumberRule {
  readonly from: number;
  readonly to: number;
  /** The unit in words, empty for a number without one. */
  readonly unit: string;
  readonly about: string;
}

export function numberValue(rule: NumberRule) {
  const allowed = `a number from ${rule.from} to ${rule.to}${rule.unit === "" ? "" : ` ${rule.unit}`}`;
  return z
    .number({ error: allowed })
    .min(rule.from, { error: allowed })
    .max(rule.to, { error: allowed })
    .describe(`${rule.about} Allowed: ${allowed}.`);
}

export function wholeNumberValue(rule: NumberRule) {
  const allowed = `a whole number from ${rule.from} to ${rule.to}${rule.unit === "" ? "" : ` ${rule.unit}`}`;
  return z
    .int({ error: allowed })
    .min(rule.from, { error: allowed })
    .max(rule.to, { error: allowed })
    .describe(`${rule.about} Allowed: ${allowed}.`);
}

/** A number above zero, in a unit that another key names. */
export function positiveValue(about: string) {
  const allowed = "a number above 0 and up to 1000000";
  return z
    .number({ error: allowed })
    .positive({ error: allowed })
    .max(1e6, { error: allowed })
    .describe(`${about} Allowed: ${allowed}.`);
}

/** A number in a unit that another key names. */
export function signedValue(about: string) {
  const allowed = "a number from -1000000 to 1000000";
  return z
    .number({ error: allowed })
    .min(-1e6, { error: allowed })
    .max(1e6, { error: allowed })
    .describe(about);
}

export function flagValue(about: string) {
  return z.boolean({ error: "true or false" }).describe(about);
}

export function choiceValue<const Names extends readonly [string, ...string[]]>(names: Names, about: string) {
  return z.enum(names, { error: oneOf(names) }).describe(about);
}

export function oneOf(names: readonly string[]): string {
  return names.length === 1 ? `only ${names[0] ?? ""}` : `one of ${names.join(", ")}`;
}

/** A text on one line, without surrounding spaces. */
export function textValue(rule: {
  readonly atMost: number;
  readonly allowed: string;
  readonly about: string;
}) {
  return z
    .string({ error: rule.allowed })
    .min(1, { error: rule.allowed })
    .max(rule.atMost, { error: `${rule.allowed}, at most ${rule.atMost} characters` })
    .describe(rule.about);
}

const idAllowed = "1 to 40 lower-case letters, digits and hyphens";
const idPattern = /^[a-z0-9-]{1,40}$/;

/** A name that becomes a level of a topic: of the site, a sensor, a vessel, a tank or a valve. */
export function idValue(about: string) {
  return z
    .string({ error: idAllowed })
    .regex(idPattern, { error: idAllowed })
    .describe(`${about} ${idAllowed}.`);
}

/** The name of something in another section. Whether it exists is checked apart, so that the nearest can be named. */
export function referenceValue(kind: string, about: string) {
  return z.string({ error: `the name of a ${kind}` }).describe(about);
}

/** A map from names that the keeper chooses. `constructor` would collide with what every object has. */
export function namedEntries<Entry extends z.ZodType>(entry: Entry, about: string) {
  const key = z
    .string()
    .regex(idPattern, { error: idAllowed })
    .refine((id) => id !== "constructor", { error: `${idAllowed}, but not the word constructor` });
  return z
    .record(key, entry, { error: "names, each on a line of its own, with its keys indented below" })
    .describe(about);
}

/** A topic that one message can have: no wildcard, no empty level, nothing that the broker keeps for itself. */
const topicAllowed =
  "a topic of at most 200 characters without +, #, control characters or an empty level, that does not begin with $ or /";

export function topicValue(about: string) {
  return z
    .string({ error: topicAllowed })
    .max(200, { error: topicAllowed })
    .regex(/^(?!\$)[^/+#\p{Cc}\p{Cs}]+(\/[^/+#\p{Cc}\p{Cs}]+)*$/u, { error: topicAllowed })
    .describe(about);
}

const timeOfDayAllowed = "a time of day from 00:00 to 23:59, with two digits each";

export function timeOfDayValue(about: string) {
  return z
    .string({ error: timeOfDayAllowed })
    .regex(/^([01]\d|2[0-3]):[0-5]\d$/, { error: timeOfDayAllowed })
    .describe(`${about} ${timeOfDayAllowed}.`);
}

const dateAllowed = "a date that exists, written 2026-12-24";

export function dateValue(about: string) {
  return z.iso.date({ error: dateAllowed }).describe(about);
}

const instantAllowed = "a date and time with its distance from UTC, written 2026-03-01T19:30+01:00";

/** An instant of RFC 3339, seconds optional. */
export function instantValue(about: string) {
  return z
    .string({ error: instantAllowed })
    .regex(/^\d{4}-\d{2}-\d{2}T([01]\d|2[0-3]):[0-5]\d(:[0-5]\d)?(Z|[+-]([01]\d|2[0-3]):[0-5]\d)$/, {
      error: instantAllowed,
    })
    .refine((text) => z.iso.date().safeParse(text.slice(0, 10)).success, { error: instantAllowed })
    .describe(`${about} ${instantAllowed}.`);
}

export function pathValue(about: string) {
  return textValue({
    atMost: 1000,
    allowed: "the path of a file; one that does not begin with / is looked for beside this file",
    about,
  });
}

const ipAllowed = "an IP address, as 127.0.0.1, 192.168.1.20 or 0.0.0.0 for all of this machine's";

export function ipAddressValue(about: string) {
  return z
    .string({ error: ipAllowed })
    .refine((text) => isIP(text) !== 0, { error: ipAllowed })
    .describe(`${about} Allowed: ${ipAllowed}.`);
}

const hostAllowed = "a host name in lower case without a port, as tank-room.home.arpa";

export function hostNameValue(about: string) {
  return z
    .string({ error: hostAllowed })
    .max(253, { error: hostAllowed })
    .regex(/^[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*$/, { error: hostAllowed })
    .describe(about);
}
