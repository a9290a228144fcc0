import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";
import { carbonDioxideDensity_molPerL } from "../../lib/chemistry/carbon-dioxide-gas.js";
import { carbonateSpeciation } from "../../lib/chemistry/carbonate-speciation.js";
import { airEquilibriumCo2_mgPerL } from "../../lib/tank/air-equilibrium.js";
import { timeConstantFromDepth_h } from "../../lib/tank/drop-checker.js";
import { ruleOfThumbCo2_mgPerL } from "../../lib/tank/rule-of-thumb.js";
import { absoluteFromGauge_bar, alkalinityFromKh_meqPerL } from "../../lib/quantities/units.js";
import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import type { Charge } from "../../lib/vessel/charge.js";
import { chargeEquilibrium } from "../../lib/vessel/charge-equilibrium.js";
import { depletionCurve } from "../../lib/vessel/depletion.js";
import { criticalPressure_ratio } from "../../lib/vessel/needle-valve.js";

const read = (path: string): string =>
  readFileSync(fileURLToPath(new URL(`../../${path}`, import.meta.url)), "utf8");
const page = read("deploy/docs/physics.md");
const references = [...read("lib/REFERENCES.md").matchAll(/^- \[(\w+)\]/gm)].map(([, key]) => key);

const tank = {
  alkalinity_meqPerL: alkalinityFromKh_meqPerL(4),
  temperature_degC: 25,
  ionicStrength_molPerL: 0.005,
};
const co2 = carbonateSpeciation({ ...tank, pH: 6.6 }).co2_mgPerL;
const charge: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  sodiumBicarbonate_g: 140,
  acid: { kind: "citric-acid-anhydrous", mass_g: 112 },
  sealedAt_degC: 20,
};
const at20 = chargeEquilibrium(charge, 20);
const curve = depletionCurve(charge, { temperature_degC: 20, withdrawal: "headspace" });

/** As the page prints them: the figure's words, and what lib/ says. */
const figures: readonly (readonly [string, number])[] = [
  ["CO2 of a tank at pH 6.60, 4 dKH, 25 degC, I 0.005 mol/L", co2],
  ["the rule of thumb for it", ruleOfThumbCo2_mgPerL({ pH: 6.6, kh_dKH: 4 })],
  ["the same tank at pH 6.50", carbonateSpeciation({ ...tank, pH: 6.5 }).co2_mgPerL],
  [
    "CO2 of water at rest with air of 420 ppm, 25 degC",
    airEquilibriumCo2_mgPerL({ temperature_degC: 25, roomCo2_ppm: 420 }),
  ],
  ["time constant of a drop checker with 5 mm of liquid", timeConstantFromDepth_h(0.5)],
  ["gauge of 140 g bicarbonate, 112 g acid, 0.5 kg water in 2 L at 20 degC", at20.pressureGauge_bar],
  ["the same at 30 degC", chargeEquilibrium(charge, 30).pressureGauge_bar],
  ["CO2 of it in the gas", at20.co2Gas_mol * molarMass_gPerMol.co2],
  ["CO2 of it dissolved", at20.co2Dissolved_mol * molarMass_gPerMol.co2],
  ["CO2 of it kept back as bicarbonate", at20.bicarbonate_mol * molarMass_gPerMol.co2],
  ["share left at half of its gauge, 20 degC", leftAt(at20.pressureGauge_bar / 2)],
  ["share left at 2 bar gauge", leftAt(2)],
  [
    "gas at 20 bar and 20 degC over the ideal law's",
    (carbonDioxideDensity_molPerL({ pressureAbsolute_bar: 20, temperature_degC: 20 }) * 0.0831446 * 293.15) /
      20,
  ],
  ["outlet over inlet at which a needle chokes, g = 1.30", criticalPressure_ratio(1.3)],
];

function leftAt(gauge_bar: number): number {
  const left = curve.remainingAt(absoluteFromGauge_bar(gauge_bar));
  return left.kind === "on-the-curve" ? left.remaining_ratio : Number.NaN;
}

describe("the physics page", () => {
  it.each(figures)("gives %s as lib/ does", (words, value) => {
    const printed = new RegExp(`^\\| ${words.replace(/[.*+?()]/g, "\\$&")} +\\| ([\\d.]+) +\\|`, "m").exec(
      page,
    )?.[1];
    expect(printed).toBe(String(Number(value.toPrecision(3))));
  });

  it("has no figure that is not reckoned again", () => {
    const table = page.slice(page.indexOf("## 7 Worked figures"));
    expect(table.match(/^\| (?!figure|-)/gm)).toHaveLength(figures.length);
  });

  it("cites nothing that the references do not list", () => {
    const cited = [...page.matchAll(/\[([A-Z]\w*\d{3,4})\]/g)].map(([, key]) => key);
    expect(cited.filter((key) => !references.includes(key))).toEqual([]);
    expect(cited.length).toBeGreaterThan(30);
  });
});
