import { z } from "zod";
import { pressureUnits, temperatureUnits } from "../../lib/quantities/units.js";
import { type KeyPath, quoted } from "./config-faults.js";
import { siteSchema } from "./config-schema.js";
import { oneOf } from "./config-values.js";
import type { CheckContext, FaultWords } from "./config-view.js";
import { describeNode } from "./describe-node.js";
import { nearestName } from "./nearest-name.js";
import { schemaOutline } from "./schema-outline.js";
import { onlyUnitOf } from "./sensor-schema.js";
import { remedyForUnit } from "./unit-hints.js";
import type { LocatedNode } from "./yaml-tree.js";

type Issue = z.core.$ZodIssue;

/** Says in words, and with its place, what the schema found. */
export function reportSchemaIssues(context: CheckContext, plain: unknown, issues: readonly Issue[]): void {
  for (const issue of issues) reportIssue(context, issue, []);
  reportBehindMisspelledKinds(context, plain, issues);
}

/** A sensor whose kind is misspelled is judged as the kind that was likely meant, so that its other faults show too. */
function reportBehindMisspelledKinds(context: CheckContext, plain: unknown, issues: readonly Issue[]): void {
  const mended: KeyPath[] = [];
  for (const issue of issues) {
    const options = issue.code === "invalid_union" ? kindNames(issue) : undefined;
    if (options === undefined) continue;
    const path = keyPathOf(issue.path);
    const given = context.view.text(path);
    const meant = given === undefined ? undefined : nearestName(given, options);
    if (meant === undefined) continue;
    if (setAt(plain, path, meant)) mended.push(path.slice(0, -1));
  }
  if (mended.length === 0) return;
  for (const issue of siteSchema.safeParse(plain).error?.issues ?? []) {
    const isBehind = mended.some((group) => group.every((step, index) => step === issue.path[index]));
    if (isBehind) reportIssue(context, issue, []);
  }
}

function setAt(plain: unknown, path: KeyPath, value: string): boolean {
  let here = plain;
  for (const step of path.slice(0, -1)) {
    if (typeof here !== "object" || here === null) return false;
    here = (here as Record<string | number, unknown>)[step];
  }
  const last = path.at(-1);
  if (typeof here !== "object" || here === null || last === undefined) return false;
  (here as Record<string | number, unknown>)[last] = value;
  return true;
}

function kindNames(issue: z.core.$ZodIssueInvalidUnion): readonly string[] | undefined {
  if (!("discriminator" in issue) || issue.discriminator === undefined) return undefined;
  const options: unknown = (issue as { readonly options?: unknown }).options;
  return Array.isArray(options) ? options.map(String) : [];
}

function keyPathOf(path: readonly PropertyKey[]): KeyPath {
  return path.map((step) => (typeof step === "number" ? step : String(step)));
}

function reportIssue(context: CheckContext, issue: Issue, above: KeyPath): void {
  const path = [...above, ...keyPathOf(issue.path)];
  const node = context.view.node(path);
  switch (issue.code) {
    case "unrecognized_keys":
      for (const key of issue.keys) context.faultOfKey([...path, key], unknownKey(context, path, key));
      return;
    case "invalid_key":
      context.faultOfKey(path, badName(path, issue.issues[0]?.message ?? issue.message));
      return;
    case "invalid_union": {
      const kinds = kindNames(issue);
      if (kinds !== undefined) {
        context.fault(path, wrongValue(context, path, node, oneOf(kinds), kinds));
        return;
      }
      const branch = issue.errors.find((errors) =>
        errors.every((error) => error.path.length > 0 || error.code === "unrecognized_keys"),
      );
      if (branch !== undefined && branch.length > 0) {
        for (const error of branch) reportIssue(context, error, path);
        return;
      }
      context.fault(path, wrongValue(context, path, node, issue.message));
      return;
    }
    case "invalid_value":
      context.fault(path, wrongChoice(context, path, node, issue));
      return;
    case "invalid_type":
    case "too_small":
    case "too_big":
    case "invalid_format":
    case "not_multiple_of":
    case "invalid_element":
    case "custom":
      context.fault(path, wrongValue(context, path, node, issue.message, undefined, expectedOf(issue)));
  }
}

function expectedOf(issue: Issue): string | undefined {
  return issue.code === "invalid_type" ? issue.expected : undefined;
}

function wrongChoice(
  context: CheckContext,
  path: KeyPath,
  node: LocatedNode | undefined,
  issue: z.core.$ZodIssueInvalidValue,
): FaultWords {
  const names = issue.values.map(String);
  const words = wrongValue(context, path, node, issue.message, names, "string");
  const given = context.view.text(path);
  const measures = context.view.text([...path.slice(0, -1), "measures"]);
  if (path.at(-1) !== "unit" || given === undefined || measures === undefined) return words;
  const quantity = quantityOfUnit(given);
  if (quantity === undefined || quantity === measures) return words;
  return {
    what: `is ${given}, a unit of ${quantity}, but the sensor measures ${measures}`,
    allowed: issue.message,
    todo: `change the unit, or write measures: ${quantity}`,
  };
}

function quantityOfUnit(unit: string): string | undefined {
  if ((pressureUnits as readonly string[]).includes(unit)) return "pressure";
  if ((temperatureUnits as readonly string[]).includes(unit)) return "temperature";
  return ["g", "kg"].includes(unit) ? "mass" : undefined;
}

function wrongValue(
  context: CheckContext,
  path: KeyPath,
  node: LocatedNode | undefined,
  allowed: string,
  names?: readonly string[],
  expected?: string,
): FaultWords {
  const key = path.at(-1);
  const name = typeof key === "string" ? key : "a value";
  if (node === undefined) return { what: "is missing", allowed, todo: `add ${name}` };
  if (node.kind === "scalar" && node.value === null) {
    return { what: "is empty", allowed, todo: "write a value behind the colon, or remove the line" };
  }
  return {
    what: `is ${describeNode(path, node)}`,
    allowed,
    todo: remedy(context, path, node, { names, expected }),
  };
}

function remedy(
  context: CheckContext,
  path: KeyPath,
  node: LocatedNode,
  {
    names,
    expected,
  }: { readonly names: readonly string[] | undefined; readonly expected: string | undefined },
): string {
  if (node.kind === "map")
    return expected === "string" ? "put the text in single quotes" : "write a single value";
  if (node.kind === "list")
    return expected === "object" ? "write keys below it, without hyphens" : "write one value";
  const { value } = node;
  if (typeof value === "string") {
    const nearest = names === undefined ? undefined : nearestName(value, names);
    if (nearest !== undefined) return `did you mean ${quoted(nearest)}?`;
    if (expected === "number" || expected === "int")
      return remedyForNumber(context, path, value, node.isQuoted);
    if (expected === "boolean") {
      if (/^(yes|on|y)$/i.test(value)) return "write true";
      if (/^(no|off|n)$/i.test(value)) return "write false";
    }
    if (expected === "array") return "write it as a list, in square brackets";
    if (expected === "object") return "write its keys on the lines below, indented";
    const time = /^(\d):([0-5]\d)$/.exec(value);
    if (time !== null && /lights/.test(String(path.at(-1)))) return `write "0${value}"`;
    return "correct the text";
  }
  if (typeof value === "number" && expected !== "string") {
    if (expected === "array") return "write it as a list, in square brackets";
    if (expected === "object") return "write its keys on the lines below, indented";
    return "write a value in that range";
  }
  return expected === "string" || expected === undefined ? "put it in quotes" : "write a value of that form";
}

function remedyForNumber(context: CheckContext, path: KeyPath, text: string, isQuoted: boolean): string {
  if (/^-?\d+(\.\d+)?$/.test(text)) return isQuoted ? "remove the quotes" : "write a plain number";
  if (/^-?\d+,\d+$/.test(text)) return `write a point in place of the comma: ${text.replace(",", ".")}`;
  return remedyForUnit(text, path, unitOfSensor(context, path)) ?? "write a number";
}

/** The unit that a sensor's own keys are in, as those of `plausible`. */
function unitOfSensor(context: CheckContext, path: KeyPath): string | undefined {
  const [section, id] = path;
  if (section !== "sensors" || id === undefined) return undefined;
  const measures = context.view.text([section, id, "measures"]);
  return measures !== undefined && Object.hasOwn(onlyUnitOf, measures)
    ? onlyUnitOf[measures]
    : context.view.text([section, id, "unit"]);
}

function unknownKey(context: CheckContext, path: KeyPath, key: string): FaultWords {
  const outline = schemaOutline();
  const known = outline.keysAt(path, (place) => context.view.text(place));
  const free = known.filter((name) => !context.view.has([...path, name]));
  const allowed = `${path.length === 0 ? "" : "here "}${known.join(", ")}`;

  const measures = context.view.text([...path, "measures"]);
  const onlyUnit =
    measures === undefined || !Object.hasOwn(onlyUnitOf, measures) ? undefined : onlyUnitOf[measures];
  if (key === "unit" && onlyUnit !== undefined) {
    return {
      what: `is not needed: a sensor of ${measures ?? ""} speaks in ${onlyUnit}`,
      allowed,
      todo: "remove the line",
    };
  }
  const kinds = outline.kindsWith(path, key);
  const [kind] = kinds;
  if (kind !== undefined) {
    const values = kinds.map(({ value }) => value).join(" or ");
    return {
      what: `is only for ${kind.discriminator}: ${values}`,
      allowed,
      todo: `remove the line, or write ${kind.discriminator}: ${values}`,
    };
  }
  const nearest = nearestName(key, free);
  if (nearest !== undefined)
    return { what: "is not a known key", allowed, todo: `did you mean ${quoted(nearest)}?` };
  const [place] = outline.placesOf(key);
  if (place !== undefined) {
    return {
      what: "is not known here",
      allowed,
      todo: `it belongs to ${place}: move the line or mend its indentation`,
    };
  }
  const spent = nearestName(key, known);
  const todo =
    spent === undefined
      ? "remove the line, or look for the key in config/example.yaml"
      : `${quoted(spent)} stands here already: remove the line`;
  return { what: "is not a known key", allowed, todo };
}

function badName(path: KeyPath, allowed: string): FaultWords {
  const name = String(path.at(-1));
  const proposal = name
    .toLowerCase()
    .replace(/[^a-z0-9-]+/g, "-")
    .replace(/^-+|-+$/g, "")
    .slice(0, 40);
  const isProposal = proposal !== "" && proposal !== "constructor";
  return {
    what: "cannot be used as a name",
    allowed,
    todo: isProposal ? `write ${quoted(proposal)} here and wherever it is named` : "choose another name",
  };
}
