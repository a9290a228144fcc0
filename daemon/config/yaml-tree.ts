import { isAlias, isMap, isNode, isScalar, isSeq, LineCounter, parseDocument } from "yaml";
import {
  type ConfigFault,
  formatKeyPath,
  inFileOrder,
  type KeyPath,
  type Position,
  quoted,
} from "./config-faults.js";
import { syntaxFaults } from "./yaml-syntax-faults.js";
import { maximumDepth, unusableText } from "./yaml-text-limits.js";

export type LocatedNode = LocatedScalar | LocatedMap | LocatedList;

export interface LocatedScalar {
  readonly kind: "scalar";
  readonly offset: number;
  readonly value: string | number | boolean | null;
  readonly isQuoted: boolean;
}

export interface LocatedMap {
  readonly kind: "map";
  readonly offset: number;
  readonly entries: ReadonlyMap<string, LocatedEntry>;
}

export interface LocatedEntry {
  readonly keyOffset: number;
  readonly value: LocatedNode;
}

export interface LocatedList {
  readonly kind: "list";
  readonly offset: number;
  readonly items: readonly LocatedNode[];
}

export type YamlTree =
  | {
      readonly kind: "readable";
      readonly root: LocatedMap;
      readonly positionAt: (offset: number) => Position;
      readonly faults: readonly ConfigFault[];
    }
  | { readonly kind: "unreadable"; readonly faults: readonly ConfigFault[] };

/** Aliases can make a short text unfold into billions of values. */
const maximumValues = 100_000;

const yamlTags = new Set(
  ["str", "int", "float", "bool", "null", "map", "seq"].map((name) => `tag:yaml.org,2002:${name}`),
);

/**
 * A YAML 1.2 text as plain nodes that know where they stand. Syntax faults make it unreadable; a repeated key, a
 * foreign tag or a key that is no name leaves a tree without that part, so that the rest can still be checked.
 */
export function readYamlTree(text: string): YamlTree {
  const unusable = unusableText(text);
  if (unusable !== undefined) return { kind: "unreadable", faults: [unusable] };

  const lineCounter = new LineCounter();
  const document = parseDocument(text, {
    lineCounter,
    prettyErrors: false,
    uniqueKeys: false,
    version: "1.2",
    schema: "core",
  });
  const positionAt = (offset: number): Position => {
    const { line, col } = lineCounter.linePos(Math.min(offset, text.length));
    return { line: Math.max(line, 1), column: Math.max(col, 1) };
  };
  const version = /^%YAML[ \t]+(\S+)/m.exec(text);
  if (document.directives.yaml.explicit === true && document.directives.yaml.version !== "1.2") {
    return {
      kind: "unreadable",
      faults: [
        {
          ...positionAt(version?.index ?? 0),
          keyPath: "",
          what: "the file asks for an older YAML, in which off means false and 10:00 means 600",
          allowed: "YAML 1.2",
          todo: "remove the %YAML line",
        },
      ],
    };
  }
  if (document.errors.length > 0 || document.warnings.length > 0) {
    return {
      kind: "unreadable",
      faults: syntaxFaults([...document.errors, ...document.warnings], text, positionAt),
    };
  }
  if (!isNode(document.contents)) return { kind: "unreadable", faults: [emptyFile(text)] };

  const walk = createWalk(positionAt);
  const root = walk.locate(document.contents, []);
  if (root === undefined || walk.isExhausted())
    return { kind: "unreadable", faults: inFileOrder(walk.faults) };
  if (root.kind === "scalar" && root.value === null) return { kind: "unreadable", faults: [emptyFile(text)] };
  if (root.kind !== "map") {
    return {
      kind: "unreadable",
      faults: [
        ...walk.faults,
        {
          ...positionAt(root.offset),
          keyPath: "",
          what: "the file does not begin with a key",
          allowed: "keys such as site: and broker:, each at the start of a line",
          todo: "begin with config/example.yaml and change its values",
        },
      ],
    };
  }
  return { kind: "readable", root, positionAt, faults: walk.faults };
}

function emptyFile(text: string): ConfigFault {
  return {
    line: 1,
    column: 1,
    keyPath: "",
    what: text.trim() === "" ? "the file is empty" : "the file holds nothing but comments",
    allowed: "at least the keys site and broker",
    todo: "begin with config/example.yaml and change its values",
  };
}

interface Walk {
  readonly faults: ConfigFault[];
  locate(node: unknown, path: KeyPath): LocatedNode | undefined;
  isExhausted(): boolean;
}

function createWalk(positionAt: (offset: number) => Position): Walk {
  const faults: ConfigFault[] = [];
  const anchors = new Map<string, unknown>();
  let values = 0;
  let isExhausted = false;
  /** Where the outermost alias stands that is being unfolded. */
  let unfolding: number | undefined;

  const fault = (offset: number, path: KeyPath, what: string, allowed: string, todo: string): void => {
    faults.push({ ...positionAt(offset), keyPath: formatKeyPath(path), what, allowed, todo });
  };

  function locate(node: unknown, path: KeyPath): LocatedNode | undefined {
    if (!isNode(node)) return { kind: "scalar", offset: 0, value: null, isQuoted: false };
    const offset = node.range?.[0] ?? 0;
    values += 1;
    if (isExhausted) return undefined;
    if (values > maximumValues || path.length > maximumDepth) {
      isExhausted = true;
      fault(
        unfolding ?? offset,
        [],
        "aliases (*) unfold this file without end",
        `at most ${maximumValues} values, ${maximumDepth} levels deep`,
        "write the values out",
      );
      return undefined;
    }
    if (isAlias(node)) {
      const target = anchors.get(node.source);
      if (target === undefined) {
        fault(
          offset,
          path,
          `is the alias *${printableAlias(node.source)}, which is not defined above`,
          "an alias of an anchor (&) further up, or a text in quotes",
          "put the value in quotes, or add the anchor",
        );
        return undefined;
      }
      const isOutermost = unfolding === undefined;
      unfolding ??= offset;
      const located = locate(target, path);
      if (isOutermost) unfolding = undefined;
      return located;
    }
    if (node.tag !== undefined && !yamlTags.has(node.tag)) {
      fault(offset, path, "names a type of its own with !", "plain values", "remove the word with !");
      return undefined;
    }
    if (unfolding === undefined && node.anchor !== undefined) anchors.set(node.anchor, node);

    if (isScalar(node)) {
      const { value } = node;
      const isPlain = typeof value === "string" || typeof value === "number" || typeof value === "boolean";
      const isQuoted = node.type === "QUOTE_DOUBLE" || node.type === "QUOTE_SINGLE";
      return { kind: "scalar", offset, value: isPlain ? value : null, isQuoted };
    }
    if (isSeq(node)) {
      const items: LocatedNode[] = [];
      node.items.forEach((item, index) => {
        const located = locate(item, [...path, index]);
        if (located !== undefined) items.push(located);
      });
      return { kind: "list", offset, items };
    }
    if (isMap(node)) return locateMap(node.items, offset, path);
    return undefined;
  }

  function locateMap(
    pairs: readonly { readonly key: unknown; readonly value: unknown }[],
    offset: number,
    path: KeyPath,
  ): LocatedMap {
    const entries = new Map<string, LocatedEntry>();
    for (const { key, value } of pairs) {
      const keyOffset = isNode(key) ? (key.range?.[0] ?? offset) : offset;
      const name = isScalar(key) && key.value !== null ? key.source : undefined;
      if (name === undefined || name === "") {
        fault(
          keyOffset,
          path,
          "holds a key that is no name",
          "a name before the colon",
          "write a name before the colon",
        );
        continue;
      }
      const keyPath = [...path, name];
      if (name === "__proto__") {
        fault(
          keyOffset,
          keyPath,
          "is no name that a key may have",
          "the keys of config/example.yaml",
          "remove the line",
        );
        continue;
      }
      if (name === "<<") {
        fault(
          keyOffset,
          keyPath,
          "is no key of YAML 1.2",
          "the keys of config/example.yaml",
          "write the keys out",
        );
        continue;
      }
      const first = entries.get(name);
      if (first !== undefined) {
        fault(
          keyOffset,
          keyPath,
          `stands here a second time (first in line ${positionAt(first.keyOffset).line}, again in line ${positionAt(keyOffset).line})`,
          "each key once in its group",
          "remove one of the two, or give it another name",
        );
        continue;
      }
      const located = locate(value, keyPath);
      // An empty value stands nowhere; its key does.
      const isEmpty = !isNode(value) || value.range?.[0] === value.range?.[1];
      const placed = isEmpty && located !== undefined ? { ...located, offset: keyOffset } : located;
      if (placed !== undefined) entries.set(name, { keyOffset, value: placed });
    }
    return { kind: "map", offset, entries };
  }

  return { faults, locate, isExhausted: () => isExhausted };
}

function printableAlias(source: string): string {
  return quoted(source).slice(1, -1);
}
