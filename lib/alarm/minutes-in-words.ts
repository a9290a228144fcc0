/** A time to act in the unit that a person counts it in. */
export function minutesInWords(span_min: number): string {
  if (span_min < 120) return `${span_min} min`;
  return span_min < 2880 ? `${Math.round(span_min / 60)} h` : `${Math.round(span_min / 1440)} days`;
}
