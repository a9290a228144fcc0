import type { JSONValue } from "json-p3";
import { DEEPEST_NESTING, selectValue, type ValueSelector } from "./value-selector.js";
import { decodeTimestamp } from "./payload-timestamp.js";

/** Payloads above this are dropped before anything looks at them. */
export const LARGEST_PAYLOAD_BYTES = 256 * 1024;

export type DecodedSensorPayload =
  | { readonly kind: "value"; readonly value: number; readonly measuredAt_epochMs?: number }
  | { readonly kind: "undecodable"; readonly detail: string }
  | { readonly kind: "not a number"; readonly detail: string };

export type DecodedRelayState =
  | { readonly kind: "on" }
  | { readonly kind: "off" }
  | { readonly kind: "undecodable"; readonly detail: string };

type Content =
  | { readonly kind: "content"; readonly value: JSONValue; readonly document?: JSONValue }
  | { readonly kind: "undecodable"; readonly detail: string };

const utf8 = new TextDecoder("utf-8", { fatal: true });
const decimalNumber = /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/;
const longestNumber_bytes = 64;
const longestDetail = 200;

/** The start of a text, made fit for a log line. */
function excerpt(text: string): string {
  const start = text.slice(0, 40).replace(/[^\x20-\x7e\u00a0-\ud7ff]/g, "?");
  return text.length > 40 ? `"${start}..."` : `"${start}"`;
}

function short(detail: string): string {
  return detail.length > longestDetail ? `${detail.slice(0, longestDetail - 3)}...` : detail;
}

function nestsTooDeep(text: string): boolean {
  // Each level opens with a character of its own.
  if (text.length <= DEEPEST_NESTING) return false;
  let depth = 0;
  let inString = false;
  for (let index = 0; index < text.length; index += 1) {
    const character = text[index];
    if (inString) {
      if (character === "\\") index += 1;
      else if (character === '"') inString = false;
    } else if (character === '"') {
      inString = true;
    } else if (character === "[" || character === "{") {
      depth += 1;
      if (depth > DEEPEST_NESTING) return true;
    } else if (character === "]" || character === "}") {
      depth -= 1;
    }
  }
  return false;
}

function contentOf(payload: Uint8Array, selector: ValueSelector): Content {
  const undecodable = (detail: string): Content => ({ kind: "undecodable", detail: short(detail) });
  if (payload.byteLength > LARGEST_PAYLOAD_BYTES) {
    return undecodable(
      `the payload has ${payload.byteLength} bytes; at most ${LARGEST_PAYLOAD_BYTES} are read`,
    );
  }
  let text: string;
  try {
    text = utf8.decode(payload);
  } catch {
    return undecodable("the payload is not valid UTF-8");
  }
  if (text.trim() === "") return undecodable("the payload is empty");
  if (selector.kind === "bare") return { kind: "content", value: text.trim() };
  if (nestsTooDeep(text)) {
    return undecodable(`the payload is JSON nested deeper than ${DEEPEST_NESTING} levels`);
  }
  let document: JSONValue;
  try {
    document = JSON.parse(text) as JSONValue;
  } catch {
    return undecodable(`the payload is not JSON: ${excerpt(text)}`);
  }
  const selection = selectValue(document, selector);
  return selection.kind === "selected"
    ? { kind: "content", value: selection.value, document }
    : undecodable(selection.detail);
}

function describe(value: JSONValue): string {
  if (typeof value === "string") return excerpt(value);
  if (Array.isArray(value)) return "an array";
  return typeof value === "object" && value !== null ? "an object" : String(value);
}

/** The hint that most likely helps the person who set the sensor up. */
function hintFor(text: string): string {
  if (/^[+-]?\d+,\d+$/.test(text)) return "; a decimal point is needed instead of the comma";
  if (/^[[{]/.test(text)) return "; it looks like JSON: name the value by a JSONPath, as $.value";
  if (/^"/.test(text)) return "; it is a JSON string: select it by the JSONPath $";
  if (/^[+-]?(\d+\.?\d*|\.\d+)\s*[^\d\s.,]/.test(text)) return "; only the number itself may stand there";
  return "";
}

function numberFrom(value: JSONValue): number | undefined {
  if (typeof value === "number") return Number.isFinite(value) ? value : undefined;
  if (typeof value !== "string") return undefined;
  const text = value.trim();
  if (text.length > longestNumber_bytes || !decimalNumber.test(text)) return undefined;
  const parsed = Number(text);
  return Number.isFinite(parsed) ? parsed : undefined;
}

/**
 * Reads the one number of a sensor's payload, and where a timestamp selector is given, when it was measured. A
 * payload without the promised timestamp is undecodable: its age would be unknown.
 */
export function decodeSensorPayload(
  payload: Uint8Array,
  selector: ValueSelector,
  timestampSelector?: Exclude<ValueSelector, { kind: "bare" }>,
): DecodedSensorPayload {
  const content = contentOf(payload, selector);
  if (content.kind === "undecodable") return content;
  const value = numberFrom(content.value);
  if (value === undefined) {
    const hint = typeof content.value === "string" ? hintFor(content.value.trim()) : "";
    return { kind: "not a number", detail: short(`${describe(content.value)} is not a number${hint}`) };
  }
  if (timestampSelector === undefined) return { kind: "value", value };
  if (content.document === undefined) {
    return { kind: "undecodable", detail: "a bare number carries no timestamp; select the value from JSON" };
  }
  const selection = selectValue(content.document, timestampSelector);
  if (selection.kind === "nothing") {
    return { kind: "undecodable", detail: short(`no timestamp: ${selection.detail}`) };
  }
  const measuredAt_epochMs = decodeTimestamp(selection.value);
  return measuredAt_epochMs === undefined
    ? {
        kind: "undecodable",
        detail: short(`${describe(selection.value)} is not a timestamp with its offset`),
      }
    : { kind: "value", value, measuredAt_epochMs };
}

/** Reads the state that a relay reports. Anything but the two configured texts is undecodable, never "off". */
export function decodeRelayState(
  payload: Uint8Array,
  selector: ValueSelector,
  states: { readonly stateOn: string; readonly stateOff: string },
): DecodedRelayState {
  const content = contentOf(payload, selector);
  if (content.kind === "undecodable") return content;
  const { value } = content;
  const isPlain = typeof value === "string" || typeof value === "number" || typeof value === "boolean";
  const text = isPlain ? String(value).trim() : undefined;
  if (states.stateOn.trim() !== states.stateOff.trim()) {
    if (text === states.stateOn.trim()) return { kind: "on" };
    if (text === states.stateOff.trim()) return { kind: "off" };
  }
  const detail = `${describe(value)} is neither ${excerpt(states.stateOn)} nor ${excerpt(states.stateOff)}`;
  return { kind: "undecodable", detail: short(detail) };
}
