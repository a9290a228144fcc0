import { describe, expect, it } from "vitest";
import { formatFault } from "../../../../daemon/config/config-faults.js";
import { parseConfig } from "../../../../daemon/config/load-config.js";
import { edited, exampleText } from "../../../support/marked-config.js";

function faultsOf(from: string, to: string): string {
  const parsed = parseConfig(edited(exampleText, [[from, to]]), "f");
  return parsed.kind === "valid" ? "" : parsed.faults.map((fault) => formatFault("f", fault)).join("\n");
}

const rated = "ratedPressureGauge_bar: 20";

describe("a number that stands with a unit", () => {
  // Factors of NIST SP 811 (2008), appendix B.8: 1 psi = 6.894757 kPa, 1 kgf/cm2 = 98.0665 kPa, 1 atm = 101.325 kPa,
  // 1 lb = 453.59237 g, 1 oz = 28.34952 g, 1 inch = 25.4 mm.
  it.each([
    { from: rated, given: "300 psi", says: "300 psi is 20.68 bar: write 20.68", because: "20.684 downwards" },
    { from: rated, given: "300psig", says: "write 20.68", because: "gauge is what the key means" },
    { from: rated, given: "300 PSI", says: "write 20.68", because: "plates are in capitals" },
    { from: rated, given: "20 kgf/cm2", says: "write 19.61", because: "19.613 downwards" },
    { from: rated, given: "15 kg/cm2", says: "write 14.7", because: "14.70998 downwards" },
    { from: rated, given: "2.2 MPa", says: "2.2 MPa is 22 bar: write 22", because: "a megapascal is 10 bar" },
    { from: rated, given: "2200 kPa", says: "write 22", because: "100 kPa are a bar" },
    { from: rated, given: "20000 mbar", says: "write 20", because: "1000 mbar are a bar" },
    { from: rated, given: "19 atm", says: "write 19.25", because: "19.25175 downwards" },
    { from: rated, given: "20 bar", says: "write the number alone: 20", because: "it is the key's own unit" },
    {
      from: rated,
      given: "20,5 bar",
      says: "write the number alone: 20.5",
      because: "a comma is a point here",
    },
    { from: "volume_L: 2.0", given: "2000 ml", says: "write 2", because: "1000 mL are a litre" },
    { from: "sodiumBicarbonate_g: 80", given: "0.18 lb", says: "write 81.65", because: "0.18 x 453.592" },
    { from: "sodiumBicarbonate_g: 80", given: "3 oz", says: "write 85.05", because: "3 x 28.3495" },
    { from: "neckWidth_mm: 25", given: "1 inch", says: "write 25.4", because: "by definition" },
    { from: "sealedAt_degC: 20", given: "68 F", says: "write 20", because: "(68 - 32) x 5 / 9" },
    { from: "lead_min: 90", given: "1.5 h", says: "write 90", because: "60 minutes an hour" },
    { from: "supplyPressureEffect_ratio: 0.03", given: "3 %", says: "write 0.03", because: "a share of 1" },
    { from: "share: 0.6", given: "60%", says: "write 0.6", because: "a share of 1" },
  ])("is turned into the key's unit: $given, $because", ({ from, given, says }) => {
    const key = from.slice(0, from.indexOf(":") + 1);
    expect(faultsOf(from, `${key} ${given}`)).toContain(says);
  });

  it.each([
    { from: rated, given: "300 psia", unit: "in bar", because: "absolute is not what the key means" },
    { from: rated, given: "20 mpa", unit: "in bar", because: "milli or mega" },
    { from: rated, given: "1,500 psi", unit: "in bar", because: "a comma for thousands, or for decimals" },
    { from: rated, given: "20 bar (290 psi)", unit: "in bar", because: "two numbers" },
    { from: rated, given: "20-25 bar", unit: "in bar", because: "a span" },
    { from: "volume_L: 2.0", given: "0.5 gal", unit: "in litres", because: "of one country or another" },
    { from: "kh_dKH: 4\n", given: "71 ppm\n", unit: "in German degrees", because: "of what is not said" },
    { from: "spikeGate: 30", given: "2 bar", unit: "in psi", because: "the sensor speaks in psi" },
    {
      from: "sugar_perKg: 1.10",
      given: "1.10 EUR/lb",
      unit: "without a unit",
      because: "not for a kilogram",
    },
  ])("names the unit and no number where it is not certain: $given, $because", ({ from, given, unit }) => {
    const fault = faultsOf(from, `${from.slice(0, from.indexOf(":") + 1)} ${given}`);
    const [, todo = ""] = /; (write[^;]*)$/.exec(fault) ?? [];
    expect(todo).toContain(unit);
    expect(todo).not.toMatch(/\d/);
  });
});

describe("a plate that was read in psi", () => {
  const warningsOf = (edits: readonly (readonly [string, string])[]): string => {
    const parsed = parseConfig(edited(exampleText, edits), "f");
    return parsed.warnings.map((fault) => formatFault("f", fault)).join("\n");
  };

  it("is asked about on a vessel that is charged at home", () => {
    const warning = warningsOf([[rated, "ratedPressureGauge_bar: 290"]]);
    // 290 psi = 19.995 bar.
    expect(warning).toContain("is your plate in psi? 290 psi is 19.9 bar");
    expect(warningsOf([["reliefOpeningGauge_bar: 18", "reliefOpeningGauge_bar: 261"]])).toContain("in psi?");
    expect(warningsOf([[rated, "ratedPressureGauge_bar: 100"]])).not.toContain("psi?");
  });

  it("is not asked about on a bought cylinder, which is made for such a pressure", () => {
    const [chargeText = ""] = /^ {4}charge:\n(?: {6}.*\n)+/m.exec(exampleText) ?? [];
    const edits = [
      ["kind: generator", "kind: liquid"],
      [chargeText, ""],
      [rated, "ratedPressureGauge_bar: 250"],
      ["reliefOpeningGauge_bar: 18", "reliefOpeningGauge_bar: 190"],
    ] as const;
    expect(warningsOf(edits)).not.toContain("psi?");
  });
});
