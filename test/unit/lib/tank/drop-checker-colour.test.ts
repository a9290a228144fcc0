import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { dropCheckerColours } from "../../../../lib/journal/journal-entry.js";
import {
  colourBand,
  dropCheckerColourAt,
  dropCheckerSwatch,
  indicatorAbsorptivity_LPerMolCm,
} from "../../../../lib/tank/drop-checker-colour.js";

describe("the colour of bromothymol blue", () => {
  it("runs from yellow below pH 6.0 to blue above pH 7.6 (transition range of the handbooks)", () => {
    expect(dropCheckerColourAt(5.9)).toBe("yellow");
    expect(dropCheckerColourAt(7.7)).toBe("blue");
  });

  it("passes every colour once, in order, without a gap", () => {
    const seen: string[] = [];
    for (let pH = 8.5; pH > 5.5; pH -= 0.005) {
      const colour = dropCheckerColourAt(pH);
      if (seen.at(-1) !== colour) seen.push(colour);
    }
    expect(seen).toEqual([...dropCheckerColours]);
  });

  it.each(dropCheckerColours.map((colour) => ({ colour })))(
    "names $colour within its own band",
    ({ colour }) => {
      const { pHLow, pHHigh } = colourBand(colour);
      const inside = ((pHLow ?? 5) + (pHHigh ?? 9)) / 2;
      expect(dropCheckerColourAt(inside)).toBe(colour);
      if (pHLow !== undefined) expect(dropCheckerColourAt(pHLow - 0.01)).not.toBe(colour);
      if (pHHigh !== undefined) expect(dropCheckerColourAt(pHHigh + 0.01)).not.toBe(colour);
    },
  );

  it("moves with the pKa", () => {
    expect(colourBand("green", 7.3).pHLow).toBeCloseTo((colourBand("green", 7.1).pHLow ?? 0) + 0.2, 9);
  });

  it("absorbs alike in both forms near 500 nm, the isosbestic point (from memory: 498 to 501 nm)", () => {
    const base = indicatorAbsorptivity_LPerMolCm(500, 1);
    const acid = indicatorAbsorptivity_LPerMolCm(500, 0);
    expect(Math.abs(base / acid - 1)).toBeLessThan(0.1);
    expect(indicatorAbsorptivity_LPerMolCm(617, 1)).toBeGreaterThan(3.5e4);
    expect(indicatorAbsorptivity_LPerMolCm(617, 0)).toBeLessThan(100);
  });

  it("paints blue liquid blue, yellow liquid yellow and what lies between green", () => {
    const blue = dropCheckerSwatch(8.3);
    expect(blue.blue).toBeGreaterThan(blue.green);
    expect(blue.green).toBeGreaterThan(blue.red);
    const green = dropCheckerSwatch(6.8);
    expect(green.green).toBeGreaterThan(Math.max(green.red, green.blue));
    const yellow = dropCheckerSwatch(5.5);
    expect(Math.min(yellow.red, yellow.green)).toBeGreaterThan(yellow.blue + 80);
    expect(Math.abs(yellow.red - yellow.green)).toBeLessThan(20);
  });

  it("turns steadily: red rises and blue falls with every step towards yellow", () => {
    const swatches = Array.from({ length: 31 }, (_, step) => dropCheckerSwatch(8.5 - step * 0.1));
    for (const [index, swatch] of swatches.entries()) {
      const before = swatches[index - 1];
      if (before === undefined) continue;
      expect(swatch.red).toBeGreaterThanOrEqual(before.red);
      expect(swatch.blue).toBeLessThanOrEqual(before.blue);
      expect(swatch.hex).toMatch(/^#[0-9a-f]{6}$/);
    }
  });

  it("refuses a pH or a pKa that no drop checker has", () => {
    expect(() => dropCheckerColourAt(2)).toThrow(OutOfValidRangeError);
    expect(() => dropCheckerSwatch(7, 9)).toThrow(OutOfValidRangeError);
    expect(() => colourBand("green", Number.NaN)).toThrow(OutOfValidRangeError);
  });
});
