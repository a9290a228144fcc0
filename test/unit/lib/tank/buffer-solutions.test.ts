import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { bufferPh, bufferPhSigma, type BufferName } from "../../../../lib/tank/buffer-solutions.js";

describe("the pH of a buffer", () => {
  it.each<[BufferName, number, number, string]>([
    ["6.86", 22.5, (6.881 + 6.865) / 2, "half way between two rows"],
    ["7.00", 21, 7.016, "a fifth of the way"],
    ["10.01", 50, 9.83, "the last row"],
    ["9.18", 0, 9.464, "the first row"],
  ])("of %s at %d degC is %d (%s)", (buffer, temperature_degC, expected) => {
    expect(bufferPh(buffer, temperature_degC)).toBeCloseTo(expected, 9);
  });

  // Hetzer et al. (1977) state 4.006 for 25 degC; the equation at 0 and 60 degC stays within 4.00 and 4.10.
  it("of phthalate is least near 12 degC and 4.006 at 25", () => {
    expect(bufferPh("4.01", 25)).toBeCloseTo(4.006, 3);
    expect(bufferPh("4.01", 12)).toBeLessThan(bufferPh("4.01", 0));
    expect(bufferPh("4.01", 12)).toBeLessThan(bufferPh("4.01", 30));
  });

  it.each([-0.1, 50.1, 77, Number.NaN])("is refused at %d degC", (temperature_degC) => {
    expect(() => bufferPh("7.00", temperature_degC)).toThrow(OutOfValidRangeError);
  });

  it("is less sure the more alkaline it is: those take up CO2 from the air", () => {
    expect(bufferPhSigma("10.01")).toBeGreaterThan(bufferPhSigma("9.18"));
    expect(bufferPhSigma("9.18")).toBeGreaterThan(bufferPhSigma("6.86"));
  });
});
