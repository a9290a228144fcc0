import { wallClockAt } from "../schedule/civil-time.js";
import type { PropertyForm, PropertyValue } from "./property.js";

/** An empty text cannot be sent as such: an empty message deletes the topic. [Homie2024] "Empty string values" */
const emptyText = "\0";

/** A value as the convention writes it. [Homie2024] "Payloads" */
export function payloadOf(form: PropertyForm, value: PropertyValue): string {
  switch (form.kind) {
    case "integer":
    case "float":
      return typeof value === "number" ? numberText(value) : written(value);
    case "datetime":
      return typeof value === "number" ? instantText(value) : written(value);
    case "json":
      return JSON.stringify(value);
    case "string":
      return textPayload(written(value));
    case "boolean":
    case "enum":
      return written(value);
  }
}

function written(value: PropertyValue): string {
  return typeof value === "string" ? value : JSON.stringify(value);
}

/** A text without the byte order mark, which no message may begin with. */
export function textPayload(text: string): string {
  const bare = text.replace(/^\uFEFF+/, "");
  return bare === "" ? emptyText : bare;
}

/** Only digits, "-", "." and "e" are allowed, so that no "1e+21" may come out. */
function numberText(value: number): string {
  return String(Object.is(value, -0) ? 0 : value).replace("e+", "e");
}

/** ISO 8601 in UTC, to the second. */
export function instantText(at_epochMs: number): string {
  const { date, timeOfDay } = wallClockAt(at_epochMs, "UTC");
  return `${date}T${timeOfDay}Z`;
}

export type PayloadRead =
  | { readonly kind: "value"; readonly value: PropertyValue }
  | { readonly kind: "invalid"; readonly reason: string };

const integerPattern = /^-?\d{1,19}$/;
const floatPattern = /^-?(?:\d+\.?\d*|\.\d+)(?:[eE]-?\d+)?$/;
const largest64 = 2n ** 63n - 1n;
const longestNumber = 64;

/** What a controller has sent to be set. Nothing is guessed: what the convention does not allow is refused. */
export function readPayload(form: PropertyForm, text: string): PayloadRead {
  switch (form.kind) {
    case "integer": {
      if (!integerPattern.test(text) || !fits64(BigInt(text))) return invalid("a whole number is expected");
      return withinRange(Number(text), form);
    }
    case "float": {
      const value = floatPattern.test(text) && text.length <= longestNumber ? Number(text) : Number.NaN;
      return Number.isFinite(value) ? withinRange(value, form) : invalid("a number is expected");
    }
    case "boolean":
      return text === "true" || text === "false"
        ? { kind: "value", value: text === "true" }
        : invalid("true or false is expected");
    case "enum":
      return form.values.includes(text)
        ? { kind: "value", value: text }
        : invalid(`one of ${form.values.join(", ")} is expected`);
    case "string":
      return { kind: "value", value: text === emptyText ? "" : text };
    case "datetime":
    case "json":
      return invalid("it cannot be set");
  }
}

function fits64(value: bigint): boolean {
  return value <= largest64 && value >= -largest64 - 1n;
}

function withinRange(
  value: number,
  { minimum, maximum }: { readonly minimum?: number; readonly maximum?: number },
): PayloadRead {
  if (value >= (minimum ?? Number.NEGATIVE_INFINITY) && value <= (maximum ?? Number.POSITIVE_INFINITY)) {
    return { kind: "value", value };
  }
  if (minimum === undefined) return invalid(`at most ${maximum ?? 0} is allowed`);
  return invalid(
    maximum === undefined ? `at least ${minimum} is allowed` : `${minimum} to ${maximum} is allowed`,
  );
}

function invalid(reason: string): PayloadRead {
  return { kind: "invalid", reason };
}
