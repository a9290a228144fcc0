import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import type { Charge } from "../../../../lib/vessel/charge.js";
import { chargeEquilibrium } from "../../../../lib/vessel/charge-equilibrium.js";
import { iceHeatOfFusion_kJPerKg, reactionHeat_kJPerMol } from "../../../../lib/vessel/heat-balance.js";
import {
  pressurise,
  readyBand_ratio,
  usualPace,
  usualSurroundings,
  type PressurisingPoint,
  type Surroundings,
} from "../../../../lib/vessel/pressurising.js";

const withWater: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 88 },
  sodiumBicarbonate_g: 110,
  sealedAt_degC: 15,
};
const withIce: Charge = { ...withWater, water_kg: 0, ice_kg: 0.5 };
/** A cool room. */
const temperatures = { room_degC: 15, startWater_degC: 15 };
const surroundingsOf = (charge: Charge, change: Partial<Surroundings> = {}): Surroundings => ({
  ...usualSurroundings(charge, temperatures),
  ...change,
});
const readyAfter_h = (charge: Charge, change: Partial<Surroundings> = {}): number =>
  pressurise(charge, surroundingsOf(charge, change), { until_h: 200, pointCount: 2 }).ready_h ?? Infinity;

/** Heat from the room by the trapezoidal rule over the points, apart from the integrator. */
function heatFromRoom_J(points: readonly PressurisingPoint[], surroundings: Surroundings): number {
  return points.slice(1).reduce((sum, point, k) => {
    const before = points[k] ?? point;
    const span_s = 3600 * (point.at_h - before.at_h);
    const mean_degC = (point.temperature_degC + before.temperature_degC) / 2;
    return sum + span_s * surroundings.heatLoss_WPerK * (surroundings.room_degC - mean_degC);
  }, 0);
}

describe("heat of a charge", () => {
  it("takes the heats of reaction that formation enthalpies give", () => {
    // kJ/mol at 25 degC after Wagman et al. 1982, from memory; citric acid's heat of solution from memory.
    const formed = {
      bicarbonate: -691.99,
      sodium: -240.12,
      nahcolite: -950.81,
      gas: -393.51,
      dissolved: -413.8,
    };
    const water = -285.83;
    const dissolving = formed.sodium + formed.bicarbonate - formed.nahcolite;
    const acidThird = 18.5 / 3 + 1;
    const freeing = formed.dissolved + water - formed.bicarbonate;
    expect(reactionHeat_kJPerMol.asBicarbonate).toBeCloseTo(dissolving, 1);
    const { intoGas, intoSolution } = reactionHeat_kJPerMol;
    expect(intoGas - intoSolution).toBeCloseTo(formed.gas - formed.dissolved, 0);
    const gas_ratio = intoGas / (dissolving + acidThird + freeing + formed.gas - formed.dissolved);
    expect(gas_ratio).toBeGreaterThan(0.9);
    expect(gas_ratio).toBeLessThan(1.1);
  });

  it.each([
    { charge: withWater, until_h: 3, because: "water, still cold" },
    { charge: withIce, until_h: 8, because: "ice, melted, half reacted" },
    { charge: withIce, until_h: 60, because: "ice, settled" },
    { charge: { ...withWater, water_kg: 0.2, ice_kg: 0.3 }, until_h: 40, because: "both" },
    {
      charge: { ...withWater, acid: { kind: "citric-acid-monohydrate" as const, mass_g: 100 } },
      until_h: 20,
      because: "acid with crystal water",
    },
  ])("closes to 0.1 % against handbook heats: $because", ({ charge, until_h }) => {
    const surroundings = surroundingsOf(charge);
    const run = pressurise(charge, surroundings, { until_h, pointCount: 2500 });
    const last = run.points.at(-1);
    if (last === undefined) throw new Error("no points");
    // Everything is liquid at the end: J/(kg K) and J/kg from handbooks, 0 degC liquid water as zero.
    const ice_kg = charge.ice_kg ?? 0;
    const dry_JPerK = 1150 + 1.2 * charge.acid.mass_g + 1.04 * charge.sodiumBicarbonate_g;
    const before_J = dry_JPerK * 15 + charge.water_kg * 4180 * 15 - ice_kg * (333_550 + 2100 * 18);
    const { gas_mol, dissolved_mol, bicarbonate_mol } = last.carbon;
    const after_J =
      (dry_JPerK + (charge.water_kg + ice_kg) * 4180) * last.temperature_degC +
      37_000 * gas_mol +
      17_000 * dissolved_mol +
      18_700 * bicarbonate_mol;
    const turnover_J = 333_550 * ice_kg + 37_000 * gas_mol;
    expect(last.melted_ratio).toBe(1);
    const gap_J = after_J - before_J - heatFromRoom_J(run.points, surroundings);
    expect(Math.abs(gap_J) / turnover_J).toBeLessThan(1e-3);
    expect(
      Math.abs(run.heat.fromRoom_J - heatFromRoom_J(run.points, surroundings)) / turnover_J,
    ).toBeLessThan(1e-3);
  });

  it("melts and warms bare ice as the textbook solution of a lumped body does", () => {
    // Heat of melting 333.55 kJ/kg over 1 W/K and 20 K; then exp(-t / (2090 J/K / 1 W/K)). [CRC2016]
    const ice: Charge = {
      ...withIce,
      acid: { kind: "citric-acid-anhydrous", mass_g: 0 },
      sodiumBicarbonate_g: 0,
    };
    const run = pressurise(
      ice,
      surroundingsOf(ice, {
        room_degC: 20,
        heatLoss_WPerK: 1,
        bodyHeatCapacity_JPerK: 0,
        startIce_degC: 0,
      }),
      { until_h: 6, pointCount: 200 },
    );
    const melted_h = (iceHeatOfFusion_kJPerKg * 500) / 20 / 3600;
    for (const point of run.points) {
      expect(point.melted_ratio).toBeCloseTo(Math.min(1, point.at_h / melted_h), 3);
      const warmed_degC = 20 * (1 - Math.exp((-3600 * Math.max(0, point.at_h - melted_h)) / 2090));
      expect(Math.abs(point.temperature_degC - warmed_degC)).toBeLessThan(0.02);
    }
  });

  it("cools a full water charge by some 10 to 15 K when no heat comes in", () => {
    // 1.5 mol of CO2 at about 30 kJ over 3.4 kJ/K of water and steel.
    const full: Charge = {
      ...withWater,
      acid: { kind: "citric-acid-anhydrous", mass_g: 104 },
      sodiumBicarbonate_g: 130,
    };
    const run = pressurise(
      full,
      surroundingsOf(full, { room_degC: 25, startWater_degC: 25, heatLoss_WPerK: 0.02, mixing_h: 0.05 }),
      { until_h: 1 },
    );
    const coldest_degC = Math.min(...run.points.map((point) => point.temperature_degC));
    expect(25 - coldest_degC).toBeGreaterThan(10);
    expect(25 - coldest_degC).toBeLessThan(17);
  });
});

describe("pressure against time", () => {
  it("follows the mixing alone where all water is liquid", () => {
    const run = pressurise(withWater, surroundingsOf(withWater, { mixing_h: 0.7 }), { until_h: 6 });
    for (const point of run.points) {
      expect(point.reacted_ratio).toBeCloseTo(1 - Math.exp(-point.at_h / 0.7), 4);
    }
  });

  it.each([
    { charge: withWater, because: "water" },
    { charge: withIce, because: "ice" },
  ])("ends at the equilibrium of the whole charge at room temperature: $because", ({ charge }) => {
    const run = pressurise(charge, surroundingsOf(charge), { until_h: 150 });
    const settled_bar = chargeEquilibrium(charge, 15).pressureGauge_bar;
    expect(run.warmPressureGauge_bar).toBe(settled_bar);
    const last = run.points.at(-1);
    expect((last?.pressureGauge_bar ?? 0) / settled_bar).toBeCloseTo(1, 4);
    expect((last?.highGauge_bar ?? 0) / settled_bar).toBeCloseTo(1, 4);
  });

  it("is ready when the pressure has come within the band, and not a minute before", () => {
    const ready_h = readyAfter_h(withIce);
    for (const [shift_h, inBand] of [
      [-1 / 60, false],
      [1 / 60, true],
    ] as const) {
      const run = pressurise(withIce, surroundingsOf(withIce), { until_h: ready_h + shift_h });
      const last_bar = run.points.at(-1)?.pressureGauge_bar ?? 0;
      const miss_ratio = Math.abs(last_bar / run.warmPressureGauge_bar - 1);
      expect(miss_ratio <= readyBand_ratio).toBe(inBand);
    }
  });

  it("gives no ready time when the span asked for is too short", () => {
    const run = pressurise(withIce, surroundingsOf(withIce), { until_h: 10 });
    expect(run.ready_h).toBeUndefined();
    expect(run.warmPressureGauge_bar).toBeGreaterThan(12);
  });

  it("shows the cold pressure of ice as a range that closes as the charge settles", () => {
    const run = pressurise(withIce, surroundingsOf(withIce), { until_h: 100 });
    const at = (time_h: number): PressurisingPoint | undefined =>
      run.points.find((point) => point.at_h >= time_h);
    const width_bar = (point: PressurisingPoint | undefined): number =>
      (point?.highGauge_bar ?? NaN) - (point?.lowGauge_bar ?? NaN);
    expect(width_bar(at(4))).toBeGreaterThan(0.5);
    expect(width_bar(at(90))).toBeLessThan(0.01);
  });

  it("flags hydrate while CO2 is above 12.6 bar near 0 degC, and not when warm", () => {
    // 12.6 / 23 / 45 bar at 0 / 5 / 10 degC in pure water, from memory.
    const large: Charge = {
      ...withIce,
      acid: { kind: "citric-acid-anhydrous", mass_g: 130 },
      sodiumBicarbonate_g: 160,
    };
    const run = pressurise(large, surroundingsOf(large, { heatLoss_WPerK: 0.5, mixing_h: 0.1 }), {
      until_h: 60,
      pointCount: 200,
    });
    const flagged = run.points.filter((point) => point.hydratePossible);
    expect(flagged.length).toBeGreaterThan(0);
    for (const point of flagged) {
      expect(point.temperature_degC).toBeLessThan(10);
      expect(point.highGauge_bar).toBeGreaterThan(11.6);
      expect(point.lowGauge_bar).toBeLessThanOrEqual(point.pressureGauge_bar);
    }
    expect(run.points.at(-1)?.hydratePossible).toBe(false);
    expect(run.cautions.map((caution) => caution.kind)).toContain("hydrate");
  });

  it("tells with ice that it must pass the neck, and always to stay upright and not to trust a cold reading", () => {
    const kindsOf = (charge: Charge): readonly string[] =>
      pressurise(charge, surroundingsOf(charge), { until_h: 1, pointCount: 2 }).cautions.map(
        (caution) => caution.kind,
      );
    expect(kindsOf(withWater)).toEqual(["upright", "cold-reading"]);
    expect(kindsOf(withIce)).toEqual(["upright", "cold-reading", "neck"]);
  });

  it("takes longer with ice colder than melting", () => {
    expect(readyAfter_h(withIce, { startIce_degC: -18, mixing_h: 0.5 })).toBeGreaterThan(
      readyAfter_h(withIce, { startIce_degC: 0, mixing_h: 0.5 }),
    );
  });

  it("counts residual liquor that stayed in the vessel", () => {
    const residualLiquor = {
      volume_L: 0.1,
      citrate_mol: 0.08,
      sodium_mol: 0.24,
      inorganicCarbon_mol: 0.01,
      waterBasis_mol: 5.2,
    };
    const charge: Charge = { ...withWater, residualLiquor };
    const run = pressurise(charge, surroundingsOf(charge), { until_h: 100 });
    expect(run.points.at(-1)?.pressureGauge_bar).toBeCloseTo(
      chargeEquilibrium(charge, 15).pressureGauge_bar,
      2,
    );
  });
});

describe("a couple of hours with water, about a day with ice (common practice, no source)", () => {
  const aCouple_h = { minimum: 1.5, maximum: 3 };
  const aDay_h = { minimum: 18, maximum: 30 };
  const within = (value: number, span: { readonly minimum: number; readonly maximum: number }): boolean =>
    value >= span.minimum && value <= span.maximum;

  it("comes from the usual heat loss with two mixing times", () => {
    expect(usualPace).toMatchObject({ heatLoss_WPerK: 0.8, mixingWater_h: 0.5, mixingIce_h: 6 });
    expect(within(readyAfter_h(withWater), aCouple_h)).toBe(true);
    expect(within(readyAfter_h(withIce), aDay_h)).toBe(true);
  });

  it.each([
    { heatLoss_WPerK: 0.5, mixing_h: 0.25, becauseWater_h: 2.9, becauseIce_h: 10.8 },
    { heatLoss_WPerK: 0.8, mixing_h: 0.5, becauseWater_h: 2.5, becauseIce_h: 6.8 },
    { heatLoss_WPerK: 1.2, mixing_h: 0.5, becauseWater_h: 2.2, becauseIce_h: 4.7 },
  ])(
    "is missed by one pair for both: $heatLoss_WPerK W/K and $mixing_h h give $becauseWater_h h and $becauseIce_h h",
    ({ heatLoss_WPerK, mixing_h, becauseWater_h, becauseIce_h }) => {
      const water_h = readyAfter_h(withWater, { heatLoss_WPerK, mixing_h });
      const ice_h = readyAfter_h(withIce, { heatLoss_WPerK, mixing_h });
      expect(water_h).toBeCloseTo(becauseWater_h, 0);
      expect(ice_h).toBeCloseTo(becauseIce_h, 0);
      expect(ice_h / water_h).toBeGreaterThan(2);
      expect(ice_h / water_h).toBeLessThan(4);
    },
  );

  it("is given by no single pair between 0.1 and 3 W/K and 0.05 and 12 h", () => {
    const both: string[] = [];
    for (const heatLoss_WPerK of [0.1, 0.2, 0.3, 0.45, 0.6, 0.8, 1.2, 2, 3]) {
      for (const mixing_h of [0.05, 0.2, 0.5, 1, 2, 4, 8, 12]) {
        const pair = { heatLoss_WPerK, mixing_h };
        if (within(readyAfter_h(withWater, pair), aCouple_h) && within(readyAfter_h(withIce, pair), aDay_h)) {
          both.push(`${String(heatLoss_WPerK)} W/K, ${String(mixing_h)} h`);
        }
      }
    }
    expect(both).toEqual([]);
  });
});

describe("values out of range", () => {
  it.each([
    { change: { room_degC: 3 }, quantity: "room temperature", because: "liquor would freeze" },
    { change: { heatLoss_WPerK: 0 }, quantity: "heat loss", because: "it would never warm" },
    { change: { mixing_h: 0 }, quantity: "mixing time", because: "a division by zero" },
    { change: { mixing_h: NaN }, quantity: "mixing time", because: "not a number" },
    { change: { bodyHeatCapacity_JPerK: -1 }, quantity: "heat capacity of the body", because: "negative" },
    { change: { startWater_degC: 60 }, quantity: "water temperature at the start", because: "hot water" },
    { change: { startIce_degC: 2 }, quantity: "ice temperature at the start", because: "no ice above 0" },
  ])("names $quantity: $because", ({ change, quantity }) => {
    const act = (): unknown => pressurise(withWater, surroundingsOf(withWater, change), { until_h: 5 });
    expect(act).toThrow(OutOfValidRangeError);
    expect(act).toThrow(quantity);
  });

  it("names the span, the number of points and what is wrong with the charge", () => {
    const surroundings = surroundingsOf(withWater);
    expect(() => pressurise(withWater, surroundings, { until_h: 0 })).toThrow("time after closing");
    expect(() => pressurise(withWater, surroundings, { until_h: 5, pointCount: 1 })).toThrow(
      "number of points",
    );
    expect(() => pressurise({ ...withWater, water_kg: 3 }, surroundings, { until_h: 5 })).toThrow("water");
  });
});
