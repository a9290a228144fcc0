/** Less than a twentieth of a gram a day is nothing that anyone could find. */
export function leakInWords(leak_gPerDay: number): string {
  return leak_gPerDay < 0.05 ? "none seen" : `${Number(leak_gPerDay.toPrecision(2))} g a day`;
}
