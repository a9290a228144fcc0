import { JSONPathEnvironment, JSONPointer, type JSONValue } from "json-p3";
import { describe, expect, it } from "vitest";
import {
  documentOf,
  inSpokenUnit,
  SelectorNotBuildableError,
  uncalibrated,
} from "../../../../daemon/demo/payload-encoding.js";
import type { SpokenUnit } from "../../../../daemon/demo/payload-encoding.js";

// Definitions: 1 psi = 6894.757 Pa, 1 kgf/cm2 = 98066.5 Pa, 1 atm = 101325 Pa; 0 degC = 273.15 K = 32 degF
// (NIST Special Publication 811, appendix B).
describe("a value in the unit in which its sensor speaks", () => {
  it.each<{ value: number; spoken: SpokenUnit; expected: number }>([
    { value: 14, spoken: { measures: "pressure", unit: "psi", reference: "gauge" }, expected: 203.053 },
    { value: 0.980665, spoken: { measures: "pressure", unit: "kgf/cm2", reference: "gauge" }, expected: 1 },
    { value: 0, spoken: { measures: "pressure", unit: "kPa", reference: "absolute" }, expected: 101.325 },
    { value: 2.5, spoken: { measures: "pressure", unit: "bar", reference: "gauge" }, expected: 2.5 },
    { value: 25, spoken: { measures: "temperature", unit: "degC" }, expected: 25 },
    { value: 25, spoken: { measures: "temperature", unit: "degF" }, expected: 77 },
    { value: 25, spoken: { measures: "temperature", unit: "K" }, expected: 298.15 },
    { value: 3150, spoken: { measures: "mass", unit: "kg" }, expected: 3.15 },
    { value: 3150, spoken: { measures: "mass", unit: "g" }, expected: 3150 },
    { value: 6.62, spoken: { measures: "pH" }, expected: 6.62 },
    { value: 650, spoken: { measures: "co2InAir" }, expected: 650 },
    { value: 74, spoken: { measures: "bubbleRate" }, expected: 74 },
  ])("$value is $expected in $spoken", ({ value, spoken, expected }) => {
    expect(inSpokenUnit(value, spoken)).toBeCloseTo(expected, 3);
  });
});

describe("the calibration turned round", () => {
  it("gives back what true = raw * gain + offset was made from", () => {
    const raw = uncalibrated(6.62, { kind: "linear", gain: 1.25, offset: -0.3 });
    expect(raw * 1.25 - 0.3).toBeCloseTo(6.62, 12);
  });

  it("goes through both buffers", () => {
    const calibration = {
      kind: "twoPoint",
      twoPoint: [
        { raw: 7.08, true: 7 },
        { raw: 4.11, true: 4.01 },
      ],
    } as const;
    expect(uncalibrated(7, calibration)).toBeCloseTo(7.08, 12);
    expect(uncalibrated(4.01, calibration)).toBeCloseTo(4.11, 12);
    expect(uncalibrated(5.505, calibration)).toBeCloseTo(5.595, 12);
  });
});

/** A general library's reading of the selector. */
function selected(document: string, selector: string): unknown {
  const value = JSON.parse(document) as JSONValue;
  return selector.startsWith("$")
    ? new JSONPathEnvironment().query(selector, value).values()
    : [new JSONPointer(selector).resolve(value)];
}

describe("a document built from selectors", () => {
  it.each([
    { selectors: ["$.gauge.reading"], because: "plain names" },
    { selectors: ["/ambient/f", "/at"], because: "pointers" },
    { selectors: ["/a~1b/c~0d", "/"], because: "pointer escapes and an empty name" },
    { selectors: ["$.channels[0].pH", "$.channels[2].kelvin"], because: "indices, with a gap between" },
    { selectors: ["$['a b']['it.is']", '$["a b"].x'], because: "names in quotes" },
    { selectors: ["$"], because: "the document is the value" },
    { selectors: ["$.données.température"], because: "names need not be ASCII" },
  ])("lets a standard reader find each value: $because", ({ selectors }) => {
    const document = documentOf(selectors.map((selector, index) => ({ selector, value: index + 0.5 })));
    selectors.forEach((selector, index) => expect(selected(document, selector)).toEqual([index + 0.5]));
  });

  it.each([
    { selectors: ["$..x"], because: "descendants may be anywhere" },
    { selectors: ["$.a[*]"], because: "a wildcard is no single place" },
    { selectors: ["$.a[?@.b > 1].c"], because: "a filter is no single place" },
    { selectors: ["$.a[-1]"], because: "the end of a list is not known beforehand" },
    { selectors: ["a.b"], because: "it is neither path nor pointer" },
    { selectors: ["$.a", "$.a.b"], because: "one place cannot hold a number and an object" },
    { selectors: ["$.a", "/a"], because: "one place cannot hold two values" },
    { selectors: ["$", "$.a"], because: "the whole cannot also be a part" },
  ])("is refused for $selectors: $because", ({ selectors }) => {
    expect(() => documentOf(selectors.map((selector) => ({ selector, value: 1 })))).toThrow(
      SelectorNotBuildableError,
    );
  });
});
