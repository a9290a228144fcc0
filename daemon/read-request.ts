import type { z } from "zod";
import { nearestName } from "./config/nearest-name.js";

export type RequestRead<Request> =
  | { readonly kind: "read"; readonly request: Request }
  | { readonly kind: "not understood"; readonly reason: string };

const mostFaults = 4;
const longestShown = 60;

/** A request of a person's form or program, by its schema; or what is wrong with it, in words that name its own keys. */
export function readRequest<Schema extends z.ZodType>(
  schema: Schema,
  content: unknown,
): RequestRead<z.output<Schema>> {
  const parsed = schema.safeParse(content);
  return parsed.success
    ? { kind: "read", request: parsed.data }
    : { kind: "not understood", reason: faultsInWords(parsed.error.issues, content) };
}

function faultsInWords(issues: readonly z.core.$ZodIssue[], content: unknown): string {
  const missing = issues.flatMap((issue) => (isMissing(issue, content) ? [keyOf(issue.path)] : []));
  const renamed = new Map(
    issues.flatMap((issue) =>
      issue.code === "unrecognized_keys"
        ? issue.keys.flatMap((key) => {
            const meant = nearestName(key, missing);
            return meant === undefined ? [] : [[key, meant] as const];
          })
        : [],
    ),
  );
  const told = issues.flatMap((issue): readonly string[] => {
    if (issue.code === "unrecognized_keys") {
      return issue.keys.map((key) => {
        const meant = renamed.get(key);
        return meant === undefined
          ? `"${shortened(key)}" is not known here`
          : `"${shortened(key)}" is not known here; "${meant}" is needed`;
      });
    }
    // What is there by another name is not told twice.
    const isTold = isMissing(issue, content) && [...renamed.values()].includes(keyOf(issue.path));
    return isTold ? [] : [faultInWords(issue, content)];
  });
  const more = told.length > mostFaults ? [`and ${told.length - mostFaults} more`] : [];
  return [...told.slice(0, mostFaults), ...more].join("; ");
}

function faultInWords(issue: z.core.$ZodIssue, content: unknown): string {
  const key = keyOf(issue.path);
  const value = valueAt(content, issue.path);
  if (isMissing(issue, content)) return `${key} is missing${choicesOf(issue)}`;
  switch (issue.code) {
    case "invalid_type":
      if (key === "") return "send one JSON object";
      return issue.expected === "number" || issue.expected === "int"
        ? noNumber(key, value)
        : `${key} must be ${kindsInWords[issue.expected] ?? issue.expected}, not ${inWords(value)}`;
    case "invalid_value":
    case "invalid_union":
      return `${key} is ${inWords(value)}${choicesOf(issue)}`;
    case "too_big":
      return `${key} is too ${issue.origin === "number" ? "large" : "long"}: at most ${String(issue.maximum)}${countedAs(issue.origin)}`;
    case "too_small":
      return `${key} is too ${issue.origin === "number" ? "small" : "short"}: at least ${String(issue.minimum)}${countedAs(issue.origin)}`;
    case "invalid_format":
      return issue.format === "datetime"
        ? `${key} must be a time with its distance from UTC, such as 2026-05-01T18:00:00+02:00`
        : `${key} must be ${issue.message}`;
    case "custom":
    case "invalid_element":
    case "invalid_key":
    case "not_multiple_of":
    case "unrecognized_keys":
      return key === "" ? issue.message : `${key}: ${issue.message}`;
  }
}

/** Numbers go wrong most: as text, and with a comma. */
function noNumber(key: string, value: unknown): string {
  if (typeof value === "number") {
    return Number.isFinite(value) ? `${key} must be a whole number` : `${key} is too large a number`;
  }
  if (typeof value !== "string") return `${key} must be a number, not ${inWords(value)}`;
  const written = value.trim();
  if (/^[+-]?\d+,\d+$/.test(written)) {
    const point = written.replace(",", ".");
    return `${key} must be a number: write ${point} with a point, not a comma, and without quotes`;
  }
  return written !== "" && Number.isFinite(Number(written))
    ? `${key} must be a number, not text: write ${shortened(written)} without quotes`
    : `${key} must be a number, not text`;
}

function choicesOf(issue: z.core.$ZodIssue): string {
  const choices =
    issue.code === "invalid_value"
      ? issue.values
      : issue.code === "invalid_union" && "options" in issue && Array.isArray(issue.options)
        ? (issue.options as readonly unknown[])
        : [];
  return choices.length === 0 ? "" : `: write one of ${choices.map(String).join(", ")}`;
}

function isMissing(issue: z.core.$ZodIssue, content: unknown): boolean {
  return issue.path.length > 0 && issue.code !== "custom" && valueAt(content, issue.path) === undefined;
}

const kindsInWords: Readonly<Record<string, string>> = {
  string: "text",
  boolean: "true or false",
  array: "a list",
  object: "a JSON object",
  record: "a JSON object",
};

function countedAs(origin: string): string {
  if (origin === "string") return " characters";
  return origin === "array" ? " entries" : "";
}

function inWords(value: unknown): string {
  if (value === null) return "null";
  if (Array.isArray(value)) return "a list";
  if (typeof value === "string") return `"${shortened(value)}"`;
  return typeof value === "number" || typeof value === "boolean" ? String(value) : "an object";
}

/** It is printed on terminals and in logs. */
function shortened(text: string): string {
  const plain = text.replace(/[\p{Cc}\p{Cs}]/gu, "?");
  return plain.length > longestShown ? `${plain.slice(0, longestShown)}...` : plain;
}

/** buffers[0].shown */
function keyOf(path: readonly PropertyKey[]): string {
  return path.reduce<string>((name, part) => {
    if (typeof part === "number") return `${name}[${part}]`;
    return name === "" ? String(part) : `${name}.${String(part)}`;
  }, "");
}

function valueAt(content: unknown, path: readonly PropertyKey[]): unknown {
  return path.reduce<unknown>(
    (value, part) =>
      typeof value === "object" && value !== null && Object.hasOwn(value, part)
        ? (value as Readonly<Record<PropertyKey, unknown>>)[part]
        : undefined,
    content,
  );
}
