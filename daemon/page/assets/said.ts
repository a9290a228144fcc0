import type { ToldBothWays } from "../../../lib/told/plain-text.js";
import type { Said, SaidPart } from "../../../lib/told/said.js";
import type { Formats } from "./formats.js";

/** A sentence of the daemon with its quantities in the reader's units and its dates in the reader's form. */
export function writtenSaid(sentence: Said, formats: Formats): string {
  return sentence.map((part) => writtenPart(part, formats)).join("");
}

/** The same of a text that may have none. */
export function writtenText({ text, said }: ToldBothWays, formats: Formats): string {
  return said === undefined ? text : writtenSaid(said, formats);
}

function writtenPart(part: SaidPart, formats: Formats): string {
  if (typeof part === "string") return part;
  switch (part.kind) {
    case "pressure":
      return formats.pressure(part.gauge_bar, part.places);
    case "pressure as read": {
      const { value, unit } = part.asRead;
      const read = `${formats.figure(value)} ${unit}`;
      return unit === formats.pressureUnit ? read : `${read} (${formats.pressure(part.gauge_bar, 2)})`;
    }
    case "temperature":
      return formats.temperature(part.temperature_degC, part.places);
    case "mass":
      return formats.mass(part.mass_g, part.places);
    case "volume":
      return formats.volume(part.volume_L, part.places);
    case "date":
      return formats.civilDate(part.date);
    case "instant":
      return formats.dateAndTime(part.at_epochMs);
  }
}
