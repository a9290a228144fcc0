import type { PressureAsRead } from "../journal/journal-entry.js";

/**
 * A sentence that carries its quantities and dates as such, so that each reader sees them in his units and his calendar's form.
 * Plain data: it goes through JSON.
 */
export type Said = readonly SaidPart[];

export type SaidPart =
  | string
  | { readonly kind: "pressure"; readonly gauge_bar: number; readonly places?: number }
  /** As a person read or set it on a gauge's face. */
  | { readonly kind: "pressure as read"; readonly gauge_bar: number; readonly asRead: PressureAsRead }
  | { readonly kind: "temperature"; readonly temperature_degC: number; readonly places?: number }
  | { readonly kind: "mass"; readonly mass_g: number; readonly places?: number }
  | { readonly kind: "volume"; readonly volume_L: number; readonly places?: number }
  /** A day of the calendar, YYYY-MM-DD. */
  | { readonly kind: "date"; readonly date: string }
  /** On the clock of the site. */
  | { readonly kind: "instant"; readonly at_epochMs: number };

type Inside = string | number | SaidPart | Said;

/** A template whose holes take text, quantities and whole sentences: said`at ${bar(3)}, closed on ${day(date)}`. */
export function said(texts: TemplateStringsArray, ...inside: readonly Inside[]): Said {
  return joined(texts.flatMap((text, k) => [text, ...(k < inside.length ? partsOf(inside[k] ?? "") : [])]));
}

/** Sentences or pieces of them, with a text between. */
export function saidList(pieces: readonly Said[], between: string): Said {
  return joined(pieces.flatMap((piece, k) => (k === 0 ? piece : [between, ...piece])));
}

/** Quantities for the holes; without places they are written as they were entered. */
export const bar = (gauge_bar: number, places?: number): SaidPart => ({
  kind: "pressure",
  gauge_bar,
  ...placed(places),
});
export const celsius = (temperature_degC: number, places?: number): SaidPart => ({
  kind: "temperature",
  temperature_degC,
  ...placed(places),
});
export const grams = (mass_g: number, places?: number): SaidPart => ({
  kind: "mass",
  mass_g,
  ...placed(places),
});
export const litres = (volume_L: number, places?: number): SaidPart => ({
  kind: "volume",
  volume_L,
  ...placed(places),
});
export const day = (date: string): SaidPart => ({ kind: "date", date });
export const instant = (at_epochMs: number): SaidPart => ({ kind: "instant", at_epochMs });

function placed(places: number | undefined): { readonly places?: number } {
  return places === undefined ? {} : { places };
}

function partsOf(inside: Inside): readonly SaidPart[] {
  if (typeof inside === "number") return [String(inside)];
  return isSaid(inside) ? inside : [inside];
}

function isSaid(inside: Inside): inside is Said {
  return Array.isArray(inside);
}

/** Texts side by side become one. */
function joined(parts: readonly SaidPart[]): Said {
  const made: SaidPart[] = [];
  for (const part of parts) {
    const last = made.at(-1);
    if (typeof part === "string" && typeof last === "string") made[made.length - 1] = last + part;
    else if (part !== "") made.push(part);
  }
  return made;
}

const numberOf = {
  pressure: "gauge_bar",
  temperature: "temperature_degC",
  mass: "mass_g",
  volume: "volume_L",
  instant: "at_epochMs",
} as const satisfies Partial<Record<Exclude<SaidPart, string>["kind"], string>>;

/** A sentence that was kept as JSON; undefined where it is none that can be written. */
export function readSaid(kept: unknown): Said | undefined {
  if (!Array.isArray(kept) || !kept.every(isPart)) return undefined;
  return kept;
}

function isPart(part: unknown): part is SaidPart {
  if (typeof part === "string") return true;
  if (typeof part !== "object" || part === null) return false;
  const { kind, places, ...rest } = part as Readonly<Record<string, unknown>>;
  const hasPlaces =
    places === undefined || (Number.isInteger(places) && Number(places) >= 0 && Number(places) <= 6);
  if (!hasPlaces || typeof kind !== "string") return false;
  if (kind === "date") return /^\d{4}-\d\d-\d\d$/.test(String(rest["date"]));
  const key = Object.entries(numberOf).find(([name]) => name === kind)?.[1];
  return key !== undefined && Number.isFinite(rest[key]);
}
