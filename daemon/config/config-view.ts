import {
  type ConfigFault,
  formatKeyPath,
  inFileOrder,
  type KeyPath,
  type Position,
} from "./config-faults.js";
import type { LocatedMap, LocatedNode } from "./yaml-tree.js";

/**
 * The file as it was written, asked by path. A place that is absent or of another type answers undefined: the schema
 * says so already, and the checks that compare places go on with the rest.
 */
export interface ConfigView {
  node(path: KeyPath): LocatedNode | undefined;
  has(path: KeyPath): boolean;
  keys(path: KeyPath): readonly string[];
  length(path: KeyPath): number;
  text(path: KeyPath): string | undefined;
  /** The default stands in for an absent key, never for one of another type. */
  number(path: KeyPath, whenAbsent?: number): number | undefined;
  /** Where the key of a path stands; for a place in a list, its value. The nearest group where the path is absent. */
  positionOfKey(path: KeyPath): Position;
  /** Where a single value stands; for a group or a list, its key. */
  positionOfValue(path: KeyPath): Position;
}

export function createConfigView(root: LocatedMap, positionAt: (offset: number) => Position): ConfigView {
  function node(path: KeyPath): LocatedNode | undefined {
    let here: LocatedNode | undefined = root;
    for (const step of path) {
      if (here?.kind === "map" && typeof step === "string") here = here.entries.get(step)?.value;
      else if (here?.kind === "list" && typeof step === "number") here = here.items[step];
      else return undefined;
    }
    return here;
  }

  function scalar(path: KeyPath): string | number | boolean | null | undefined {
    const found = node(path);
    return found?.kind === "scalar" ? found.value : undefined;
  }

  function offsetOfKey(path: KeyPath): number {
    const step = path.at(-1);
    if (step === undefined) return root.offset;
    const parent = node(path.slice(0, -1));
    if (parent?.kind === "map" && typeof step === "string") {
      const entry = parent.entries.get(step);
      if (entry !== undefined) return entry.keyOffset;
    }
    if (parent?.kind === "list" && typeof step === "number") {
      const item = parent.items[step];
      if (item !== undefined) return item.offset;
    }
    return offsetOfKey(path.slice(0, -1));
  }

  return {
    node,
    has: (path) => node(path) !== undefined,
    keys(path) {
      const found = node(path);
      return found?.kind === "map" ? [...found.entries.keys()] : [];
    },
    length(path) {
      const found = node(path);
      return found?.kind === "list" ? found.items.length : 0;
    },
    text(path) {
      const value = scalar(path);
      return typeof value === "string" ? value : undefined;
    },
    number(path, whenAbsent) {
      if (node(path) === undefined) return whenAbsent;
      const value = scalar(path);
      return typeof value === "number" && Number.isFinite(value) ? value : undefined;
    },
    positionOfKey: (path) => positionAt(offsetOfKey(path)),
    positionOfValue(path) {
      const found = node(path);
      return positionAt(found?.kind === "scalar" ? found.offset : offsetOfKey(path));
    },
  };
}

export interface FaultWords {
  readonly what: string;
  readonly allowed: string;
  readonly todo: string;
}

/** What one check is given: the file, and where to put what it finds. */
export interface CheckContext {
  readonly view: ConfigView;
  /** Of the value at the path, or of the nearest group where there is none. */
  fault(path: KeyPath, words: FaultWords): void;
  faultOfKey(path: KeyPath, words: FaultWords): void;
  warning(path: KeyPath, words: FaultWords): void;
  faults(): readonly ConfigFault[];
  warnings(): readonly ConfigFault[];
}

export function createCheckContext(view: ConfigView): CheckContext {
  const faults: ConfigFault[] = [];
  const warnings: ConfigFault[] = [];
  const at = (position: Position, path: KeyPath, words: FaultWords): ConfigFault => ({
    ...position,
    keyPath: formatKeyPath(path),
    ...words,
  });
  return {
    view,
    fault: (path, words) => void faults.push(at(view.positionOfValue(path), path, words)),
    faultOfKey: (path, words) => void faults.push(at(view.positionOfKey(path), path, words)),
    warning: (path, words) => void warnings.push(at(view.positionOfValue(path), path, words)),
    faults: () => inFileOrder(faults),
    warnings: () => inFileOrder(warnings),
  };
}
