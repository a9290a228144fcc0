import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Charge } from "../../lib/vessel/charge.js";
import { chargeEquilibrium } from "../../lib/vessel/charge-equilibrium.js";
import { depletionCurve, type Withdrawal } from "../../lib/vessel/depletion.js";

const settings = { seed: 20_240_611, numRuns: 200 };
/** Rounding and the closing of the balances. */
const noise = 1e-8;

interface Recipe {
  readonly vesselVolume_L: number;
  readonly water_kg: number;
  readonly acid_g: number;
  readonly bicarbonate_g: number;
  readonly temperature_degC: number;
}

/** Charges as people make them and some way beyond: 0.2 to 6 L, a fifth to a half water, up to about 35 bar. */
const recipe: fc.Arbitrary<Recipe> = fc
  .record({
    vesselVolume_L: fc.double({ min: 0.2, max: 6, noNaN: true }),
    waterShare: fc.double({ min: 0.15, max: 0.5, noNaN: true }),
    bicarbonate_gPerL: fc.double({ min: 5, max: 90, noNaN: true }),
    acidPerBicarbonate: fc.double({ min: 0.2, max: 1.6, noNaN: true }),
    temperature_degC: fc.double({ min: 0, max: 45, noNaN: true }),
  })
  .map((drawn) => ({
    vesselVolume_L: drawn.vesselVolume_L,
    water_kg: drawn.waterShare * drawn.vesselVolume_L,
    acid_g: drawn.acidPerBicarbonate * drawn.bicarbonate_gPerL * drawn.vesselVolume_L,
    bicarbonate_g: drawn.bicarbonate_gPerL * drawn.vesselVolume_L,
    temperature_degC: drawn.temperature_degC,
  }));

const chargeOf = (drawn: Recipe): Charge => ({
  vesselVolume_L: drawn.vesselVolume_L,
  water_kg: drawn.water_kg,
  acid: { kind: "citric-acid-anhydrous", mass_g: drawn.acid_g },
  sodiumBicarbonate_g: drawn.bicarbonate_g,
  sealedAt_degC: 20,
});

const pressureOf = (drawn: Recipe, more: Partial<Charge> = {}): number =>
  chargeEquilibrium({ ...chargeOf(drawn), ...more }, drawn.temperature_degC).pressureAbsolute_bar;

describe("the closed vessel, whatever the recipe", () => {
  it("has more pressure when it is warmer", () => {
    fc.assert(
      fc.property(recipe, fc.double({ min: 0.01, max: 20, noNaN: true }), (drawn, warmer) => {
        const temperature_degC = Math.min(45, drawn.temperature_degC + warmer);
        expect(pressureOf({ ...drawn, temperature_degC })).toBeGreaterThanOrEqual(
          pressureOf(drawn) * (1 - noise),
        );
      }),
      settings,
    );
  });

  it("has more pressure with more bicarbonate, up to what the acid can take", () => {
    fc.assert(
      fc.property(recipe, fc.double({ min: 1.01, max: 1.3, noNaN: true }), (drawn, factor) => {
        const limit_g = (drawn.acid_g * 3 * 84.006) / 192.123;
        fc.pre(drawn.bicarbonate_g * factor <= limit_g);
        expect(pressureOf({ ...drawn, bicarbonate_g: drawn.bicarbonate_g * factor })).toBeGreaterThan(
          pressureOf(drawn),
        );
      }),
      settings,
    );
  });

  it("has more pressure with more acid, up to what the bicarbonate can take", () => {
    fc.assert(
      fc.property(recipe, fc.double({ min: 1.01, max: 1.3, noNaN: true }), (drawn, factor) => {
        const limit_g = (drawn.bicarbonate_g * 192.123) / (3 * 84.006);
        fc.pre(drawn.acid_g * factor <= limit_g);
        expect(pressureOf({ ...drawn, acid_g: drawn.acid_g * factor })).toBeGreaterThan(pressureOf(drawn));
      }),
      settings,
    );
  });

  it("has less pressure in a larger vessel", () => {
    fc.assert(
      fc.property(recipe, fc.double({ min: 1.01, max: 2, noNaN: true }), (drawn, factor) => {
        const larger = pressureOf({ ...drawn, vesselVolume_L: drawn.vesselVolume_L * factor });
        const smaller = pressureOf(drawn);
        // Where nearly no CO2 is freed the pressure is that of the air, which each vessel shuts in at 1 atm.
        fc.pre(smaller > 1.5);
        expect(larger).toBeLessThan(smaller);
      }),
      settings,
    );
  });

  it("holds all of its carbon, and all of its space, in the parts it names", () => {
    fc.assert(
      fc.property(recipe, (drawn) => {
        const state = chargeEquilibrium(chargeOf(drawn), drawn.temperature_degC);
        const carbon_mol =
          state.co2Gas_mol +
          state.co2Dissolved_mol +
          state.bicarbonate_mol +
          state.carbonate_mol +
          state.solidBicarbonate_mol +
          state.liquidCo2_mol;
        expect(Math.abs(carbon_mol / (drawn.bicarbonate_g / 84.006) - 1)).toBeLessThan(1e-9);
        const solid_L = (state.solidBicarbonate_mol * 84.006) / 2200;
        if (state.liquidCo2_mol === 0) {
          expect(state.gasVolume_L + state.liquidVolume_L + solid_L).toBeCloseTo(drawn.vesselVolume_L, 9);
        }
      }),
      settings,
    );
  });
});

describe("the depletion curve, whatever the recipe", () => {
  const withdrawal = fc.constantFrom<Withdrawal>("co2-only", "headspace");
  const share = fc.double({ min: 0, max: 1, noNaN: true });
  const singlePhase = recipe.filter((drawn) => drawn.bicarbonate_g / drawn.vesselVolume_L < 70);

  it("falls in pressure as CO2 is removed", () => {
    fc.assert(
      fc.property(singlePhase, withdrawal, share, share, (drawn, way, one, other) => {
        const curve = depletionCurve(chargeOf(drawn), {
          temperature_degC: drawn.temperature_degC,
          withdrawal: way,
        });
        const [less, more] = one < other ? [one, other] : [other, one];
        const early = curve.afterRemoving(less * curve.co2Available_mol).pressureAbsolute_bar;
        const late = curve.afterRemoving(more * curve.co2Available_mol).pressureAbsolute_bar;
        expect(late).toBeLessThanOrEqual(early * (1 + noise));
      }),
      settings,
    );
  });

  it("reads back what was left, within 1e-6 of the charge", () => {
    fc.assert(
      fc.property(singlePhase, withdrawal, share, (drawn, way, removedShare) => {
        const curve = depletionCurve(chargeOf(drawn), {
          temperature_degC: drawn.temperature_degC,
          withdrawal: way,
        });
        const state = curve.afterRemoving(removedShare * curve.co2Available_mol);
        const answer = curve.remainingAt(state.pressureAbsolute_bar);
        const remaining_mol = answer.kind === "on-the-curve" ? answer.co2Remaining_mol : 0;
        expect(Math.abs(remaining_mol - state.co2Remaining_mol)).toBeLessThan(1e-6 * curve.co2Available_mol);
      }),
      settings,
    );
  });

  it("has more left at a higher pressure", () => {
    fc.assert(
      fc.property(singlePhase, withdrawal, share, share, (drawn, way, one, other) => {
        const curve = depletionCurve(chargeOf(drawn), {
          temperature_degC: drawn.temperature_degC,
          withdrawal: way,
        });
        const leftAt = (fraction: number): number => {
          const answer = curve.remainingAt(fraction * curve.fullPressureAbsolute_bar);
          return answer.kind === "on-the-curve" ? answer.co2Remaining_mol : 0;
        };
        expect(leftAt(Math.max(one, other))).toBeGreaterThanOrEqual(leftAt(Math.min(one, other)) - noise);
      }),
      settings,
    );
  });
});
