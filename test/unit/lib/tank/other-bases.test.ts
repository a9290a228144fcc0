import { describe, expect, it } from "vitest";
import { carbonateSpeciation } from "../../../../lib/chemistry/carbonate-speciation.js";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { co2FromHardness } from "../../../../lib/tank/co2-from-hardness.js";
import { hardnessApart, otherBases_meqPerL } from "../../../../lib/tank/other-bases.js";
import { alkalinityFromKh_meqPerL } from "../../../../lib/quantities/units.js";

const tank = { pH: 6.8, temperature_degC: 25 };

describe("a hardness that is not all carbonate", () => {
  it.each([
    {
      kh_dKH: 4,
      bases: { phosphate_mgPerL: 2 },
      off: [0, 0.01],
      because: "ordinary fertilising hardly counts",
    },
    {
      kh_dKH: 4,
      bases: { phosphate_mgPerL: 100 },
      off: [0.25, 0.4],
      because: "a phosphate buffer makes a third too much",
    },
    {
      kh_dKH: 1,
      bases: { dissolvedOrganicCarbon_mgPerL: 20 },
      off: [0.2, 0.35],
      because: "brown water of one degree: a quarter to a third too much",
    },
    {
      kh_dKH: 6,
      bases: { dissolvedOrganicCarbon_mgPerL: 20 },
      off: [0.02, 0.06],
      because: "the same tannins vanish in six degrees",
    },
    {
      kh_dKH: 1,
      bases: { phosphate_mgPerL: 20, dissolvedOrganicCarbon_mgPerL: 30 },
      off: [0.8, 1.2],
      because: "soft brown water with phosphate: twice too much",
    },
  ])("$because", ({ kh_dKH, bases, off }) => {
    const apart = hardnessApart({ ...tank, kh_dKH, bases });
    expect(apart.co2Excess_ratio).toBeGreaterThanOrEqual(off[0]!);
    expect(apart.co2Excess_ratio).toBeLessThan(off[1]!);
    expect(apart.carbonateHardness_dKH + apart.otherHardness_dKH).toBeCloseTo(kh_dKH, 9);
  });

  it("puts the hardness method off by what it says: the CO2 of the carbonate alone against that of the kit's figure", () => {
    const kh_dKH = 2;
    const bases = { dissolvedOrganicCarbon_mgPerL: 15, phosphate_mgPerL: 10 };
    const { carbonateHardness_dKH, co2Excess_ratio } = hardnessApart({ ...tank, kh_dKH, bases });
    const estimate = co2FromHardness({ ...tank, kh_dKH });
    const { co2_mgPerL } = carbonateSpeciation({
      ...tank,
      alkalinity_meqPerL: alkalinityFromKh_meqPerL(carbonateHardness_dKH),
      ionicStrength_molPerL: estimate.ionicStrength_molPerL,
    });
    expect(estimate.co2_mgPerL / co2_mgPerL - 1).toBeCloseTo(co2Excess_ratio, 3);
  });

  it("counts less where the titration ends sooner", () => {
    const water = { ...tank, ionicStrength_molPerL: 0.003 };
    const bases = { dissolvedOrganicCarbon_mgPerL: 20 };
    expect(otherBases_meqPerL(water, bases, 4.8)).toBeLessThan(otherBases_meqPerL(water, bases, 4.3));
    expect(otherBases_meqPerL({ ...water, pH: 4.35 }, bases)).toBeCloseTo(0, 12);
  });

  it("refuses more of other bases than the kit found, and names how much that is", () => {
    const all = { ...tank, kh_dKH: 0.3, bases: { dissolvedOrganicCarbon_mgPerL: 60 } };
    expect(() => hardnessApart(all)).toThrow(OutOfValidRangeError);
    expect(() => hardnessApart(all)).toThrow("carbonate hardness is 0.3 dKH");
  });

  it.each([
    { bases: { phosphate_mgPerL: 201 }, quantity: "phosphate" },
    { bases: { dissolvedOrganicCarbon_mgPerL: 101 }, quantity: "dissolved organic carbon" },
    { bases: { boron_mgPerL: -1 }, quantity: "boron" },
  ])("refuses $quantity outside its range", ({ bases, quantity }) => {
    expect(() => hardnessApart({ ...tank, kh_dKH: 4, bases })).toThrow(quantity);
  });

  it("refuses an end point at which no hardness kit ends", () => {
    expect(() => hardnessApart({ ...tank, kh_dKH: 4, bases: {}, endPointPh: 8.3 })).toThrow("end point");
  });
});
