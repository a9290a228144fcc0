import { distance } from "fastest-levenshtein";

/** How people write units whose name here is another; one letter is near to everything. */
const usualSpellings: Readonly<Record<string, string>> = {
  c: "degC",
  "\u00b0c": "degC",
  celsius: "degC",
  centigrade: "degC",
  f: "degF",
  "\u00b0f": "degF",
  fahrenheit: "degF",
  kelvin: "K",
  gram: "g",
  grams: "g",
  kilogram: "kg",
  kilograms: "kg",
};

/** The known name that was most likely meant, or undefined where none is near. */
export function nearestName(given: string, known: readonly string[]): string | undefined {
  const wanted = given.toLowerCase().slice(0, 80);
  const usual = Object.hasOwn(usualSpellings, wanted) ? usualSpellings[wanted] : undefined;
  if (usual !== undefined && known.includes(usual)) return usual;
  let nearest: string | undefined;
  let nearestDistance = Number.POSITIVE_INFINITY;
  for (const name of known) {
    const candidate = name.toLowerCase();
    if (candidate === wanted || withoutUnit(candidate) === withoutUnit(wanted)) return name;
    const steps = distance(wanted, candidate);
    const isBeginning = wanted.length >= 3 && (candidate.startsWith(wanted) || wanted.startsWith(candidate));
    const longer = Math.max(wanted.length, candidate.length);
    // Two letters exchanged count as two steps.
    const isNear = steps <= (longer <= 3 ? 1 : Math.max(2, Math.floor(longer / 3)));
    if ((isBeginning || isNear) && steps < nearestDistance) {
      nearest = name;
      nearestDistance = steps;
    }
  }
  return nearest;
}

/** "lead_h" and "lead_min" are the same quantity. */
function withoutUnit(name: string): string {
  const at = name.lastIndexOf("_");
  return at > 0 ? name.slice(0, at) : name;
}
