import { wallClockAt } from "../schedule/civil-time.js";
import type { Said, SaidPart } from "./said.js";

const weekdayNames = {
  mon: "Monday",
  tue: "Tuesday",
  wed: "Wednesday",
  thu: "Thursday",
  fri: "Friday",
  sat: "Saturday",
  sun: "Sunday",
} as const;

/** A sentence for those who want it plain, and for those who write it in a reader's units. */
export interface ToldBothWays {
  readonly text: string;
  readonly said?: Said;
}

export function bothWays(sentence: Said): { readonly text: string; readonly said: Said } {
  return { text: plainText(sentence), said: sentence };
}

export function saidOf({ text, said }: ToldBothWays): Said {
  return said ?? [text];
}

/**
 * As a terminal and a log have it: bar, degrees Celsius, grams, litres; dates as ISO 8601 writes them.
 * @param timeZone of the instants in it, where it has any
 */
export function plainText(sentence: Said, timeZone = "UTC"): string {
  return sentence.map((part) => plainPart(part, timeZone)).join("");
}

function plainPart(part: SaidPart, timeZone: string): string {
  if (typeof part === "string") return part;
  switch (part.kind) {
    case "pressure":
      return `${written(part.gauge_bar, part.places)} bar`;
    case "pressure as read": {
      const { value, unit } = part.asRead;
      return unit === "bar" ? `${value} bar` : `${value} ${unit} (${written(part.gauge_bar, 2)} bar)`;
    }
    case "temperature":
      return `${written(part.temperature_degC, part.places)} degC`;
    case "mass":
      return `${written(part.mass_g, part.places)} g`;
    case "volume":
      return `${written(part.volume_L, part.places)} L`;
    case "date":
      return part.date;
    case "instant": {
      const { weekday, date, timeOfDay } = wallClockAt(part.at_epochMs, timeZone);
      return `${weekdayNames[weekday]} ${date} ${timeOfDay.slice(0, 5)}`;
    }
  }
}

function written(value: number, places: number | undefined): string {
  return places === undefined ? String(value) : value.toFixed(places);
}
