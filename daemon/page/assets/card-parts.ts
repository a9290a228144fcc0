import { el, type Child } from "./dom.js";
import { mark, type MarkName } from "./svg.js";
import type { SensorPicture } from "../page-contract.js";
import type { PageContext } from "./view.js";

/** One sentence on how it stands, with a sign of another shape for each kind. */
export function stateLine(name: MarkName, sentence: string): HTMLElement {
  return el("p", { class: `state state-${name}` }, mark(name), el("span", {}, sentence));
}

/** A line that asks for a look, below the state. */
export function careLine(sentence: string): HTMLElement {
  return el("p", { class: "care-line" }, mark("care"), el("span", {}, sentence));
}

/** Names with values. */
export function facts(
  rows: readonly (readonly [string, Child | readonly Child[]] | undefined)[],
): HTMLElement {
  return el(
    "dl",
    { class: "readings" },
    rows
      .filter((row) => row !== undefined)
      .map(([name, value]) => el("div", {}, el("dt", {}, name), el("dd", {}, ...[value].flat()))),
  );
}

/** The colour and its name; the name alone tells. */
export function colourName(hex: string, name: string): HTMLElement {
  const swatch = el("span", { class: "swatch", "aria-hidden": "true" });
  swatch.style.backgroundColor = hex;
  return el("span", { class: "colour-name" }, swatch, name);
}

/** A name from the config stays as it is written there, as far as it can be told from a word. */
export function sentenceCase(text: string): string {
  const [first = ""] = text.split(/[\s,.:]/);
  return /[^\p{L}]/u.test(first) ? text : text.charAt(0).toUpperCase() + text.slice(1);
}

const fresh_ms = 60_000;

/** How old, in plain words. */
export function ageOf(at_epochMs: number, now_epochMs: number, { texts, formats }: PageContext): string {
  const age_ms = now_epochMs - at_epochMs;
  return age_ms < fresh_ms ? texts.justNow : texts.age(formats().span(age_ms));
}

/** A reading as it is written; one that is too old says so. */
export function readingText(
  reading: SensorPicture | undefined,
  written: (value: number) => string,
  now_epochMs: number,
  context: PageContext,
): string {
  if (reading === undefined) return context.texts.unknown;
  const value = written(reading.value);
  return reading.isFresh ? value : context.texts.old(value, ageOf(reading.at_epochMs, now_epochMs, context));
}
