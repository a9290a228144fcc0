import { JSONPathEnvironment, type JSONPathQuery, type JSONValue } from "json-p3";

/** Where in a payload a value stands. Made once by `compileSelector`. */
export type ValueSelector =
  | { readonly kind: "bare" }
  | { readonly kind: "jsonPath"; readonly text: string; readonly query: JSONPathQuery }
  | { readonly kind: "pointer"; readonly text: string; readonly tokens: readonly string[] };

export type CompiledSelector = ValueSelector | { readonly kind: "invalid"; readonly reason: string };

export type Selection =
  | { readonly kind: "selected"; readonly value: JSONValue }
  | { readonly kind: "nothing"; readonly detail: string };

/** Containers deeper than this are refused before they are parsed. */
export const DEEPEST_NESTING = 64;

const environment = new JSONPathEnvironment({ maxRecursionDepth: DEEPEST_NESTING + 1 });

/**
 * Reads a selector from the config: nothing for a payload that is the value itself, a JSONPath ("$...", RFC 9535)
 * or a JSON pointer ("/...", RFC 6901).
 */
export function compileSelector(text: string | undefined): CompiledSelector {
  if (text === undefined) return { kind: "bare" };
  if (text.startsWith("$")) {
    try {
      return { kind: "jsonPath", text, query: environment.compile(text) };
    } catch (error) {
      const why = error instanceof Error ? error.message : String(error);
      return { kind: "invalid", reason: `"${text}" is not a JSONPath (RFC 9535): ${why}` };
    }
  }
  if (text.startsWith("/")) {
    if (/~(?![01])/.test(text)) {
      const reason = `"${text}" is not a JSON pointer (RFC 6901): after "~" stands 0 or 1`;
      return { kind: "invalid", reason };
    }
    const tokens = text
      .slice(1)
      .split("/")
      .map((token) => token.replaceAll("~1", "/").replaceAll("~0", "~"));
    return { kind: "pointer", text, tokens };
  }
  const reason = `"${text}" is neither a JSONPath (it begins with "$") nor a JSON pointer (it begins with "/")`;
  return { kind: "invalid", reason };
}

function atPointer(document: JSONValue, tokens: readonly string[]): JSONValue | undefined {
  let here: JSONValue | undefined = document;
  for (const token of tokens) {
    if (Array.isArray(here)) {
      here = /^(0|[1-9]\d*)$/.test(token) ? (here as readonly JSONValue[])[Number(token)] : undefined;
    } else if (typeof here === "object" && here !== null && Object.hasOwn(here, token)) {
      here = (here as Readonly<Record<string, JSONValue>>)[token];
    } else {
      return undefined;
    }
  }
  return here;
}

/** Finds the one value that a selector names; several are as useless as none. */
export function selectValue(
  document: JSONValue,
  selector: Exclude<ValueSelector, { kind: "bare" }>,
): Selection {
  if (selector.kind === "pointer") {
    const value = atPointer(document, selector.tokens);
    return value === undefined
      ? { kind: "nothing", detail: `the payload holds nothing at ${selector.text}` }
      : { kind: "selected", value };
  }
  try {
    const nodes = selector.query.lazyQuery(document);
    const first = nodes.next();
    if (first.done === true)
      return { kind: "nothing", detail: `the payload holds nothing at ${selector.text}` };
    if (nodes.next().done !== true) {
      return { kind: "nothing", detail: `${selector.text} names several values; it must name one` };
    }
    return { kind: "selected", value: first.value.value };
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    return { kind: "nothing", detail: `${selector.text} cannot be applied: ${why}` };
  }
}
