import { quoted } from "./config/config-faults.js";

const mostNamed = 20;

/** What is said to whoever names something that is not there, with what is. */
export function unknownName(kind: string, given: string, known: Iterable<string>): string {
  return `there is no ${kind} ${quoted(given)}; ${knownNames(kind, known)}`;
}

/** What the config has of a kind. */
export function knownNames(kind: string, known: Iterable<string>): string {
  const names = [...known];
  if (names.length === 0) return `the config has no ${kind}`;
  const more = names.length > mostNamed ? " and others" : "";
  return `the config has ${names.slice(0, mostNamed).join(", ")}${more}`;
}
