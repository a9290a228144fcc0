import { formatKeyPath, quoted, type KeyPath } from "./config-faults.js";
import type { SiteConfig } from "./config-schema.js";

/** Of these only that they have changed may be told. */
const secretKeys: readonly string[] = ["password", "headers", "url"];

/** What differs between two configs, one line for each key: `tanks.loach.limits.pHFloor: 6 -> 6.2`. */
export function configChanges(before: SiteConfig, after: SiteConfig): readonly string[] {
  return changesAt([], before, after);
}

function changesAt(path: KeyPath, before: unknown, after: unknown): readonly string[] {
  if (JSON.stringify(before) === JSON.stringify(after)) return [];
  const both = [partsOf(before), partsOf(after)] as const;
  const [old, next] = both;
  const isSameForm = Array.isArray(before) === Array.isArray(after);
  if (old === undefined || next === undefined || !isSameForm) return [lineOf(path, before, after)];
  const keys = [...new Set([...old.keys(), ...next.keys()])];
  return keys.flatMap((key) => changesAt([...path, key], old.get(key), next.get(key)));
}

function partsOf(value: unknown): ReadonlyMap<string | number, unknown> | undefined {
  if (Array.isArray(value)) return new Map(value.entries());
  return typeof value === "object" && value !== null ? new Map(Object.entries(value)) : undefined;
}

function lineOf(path: KeyPath, before: unknown, after: unknown): string {
  const place = formatKeyPath(path);
  if (path.some((step) => secretKeys.includes(String(step)))) return `${place}: changed`;
  if (before === undefined) return `${place}: added, ${shown(after)}`;
  if (after === undefined) return `${place}: removed, was ${shown(before)}`;
  return `${place}: ${shown(before)} -> ${shown(after)}`;
}

function shown(value: unknown): string {
  const text = typeof value === "string" ? value : JSON.stringify(value);
  return quoted(text).slice(1, -1);
}
