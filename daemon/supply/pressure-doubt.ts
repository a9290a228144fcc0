import { expectedGauge } from "../../lib/estimation/supply-observation.js";
import type { SupplyModel } from "../../lib/estimation/supply-model.js";
import type { SupplyWarning } from "../../lib/estimation/supply-estimate.js";
import { bothWays } from "../../lib/told/plain-text.js";
import { bar, said } from "../../lib/told/said.js";
import { supplyBelief } from "../../lib/estimation/supply-belief.js";
import { component as c, componentCount, type SupplyState } from "../../lib/estimation/supply-state.js";

/** Why a pressure says nothing of what is left, however often it is repeated. */
export type PressureDoubt = SupplyWarning;

/** What a cut wire shows, and a vessel that stands open for a refill. */
const openAir_bar = 0.2;
/** Above the full charge at the top of the table's span of temperature, by the model's error and a gauge's. */
const impossibly_ratio = 1.3;
const hottest_degC = 44.9;
/** Readings this near to what is expected need no second look; further off, a unit may be mistaken. */
const alike = { ratio: 0.35, least_bar: 1 } as const;
const asExpected = { ratio: 0.12, least_bar: 0.3 } as const;

/** Reading in bar over true value, where a number in one unit is taken for another. Exact by definition, or the pound's. */
const mistakenUnits = [
  { ratio: 14.5038, what: "psi taken for bar" },
  { ratio: 1 / 14.5038, what: "bar taken for psi" },
  { ratio: 100, what: "kPa taken for bar" },
  { ratio: 1 / 100, what: "bar taken for kPa" },
  { ratio: 0.1, what: "MPa taken for bar" },
] as const;

/** Undefined for a pressure that the filter may judge. */
export function doubtOf(
  model: SupplyModel,
  state: SupplyState,
  pressureGauge_bar: number,
): PressureDoubt | undefined {
  const { mean } = supplyBelief(state);
  const expected_bar = expectedGauge(model, mean).gauge_bar;
  if (pressureGauge_bar < openAir_bar && expected_bar > alike.least_bar) {
    return {
      id: "pressure-of-open-air",
      ...bothWays(
        said`The pressure of ${bar(pressureGauge_bar, 1)} is that of open air: a sensor that has failed, a slip of the pen, or a vessel that has been opened. It is not used; a refill is entered in the journal.`,
      ),
    };
  }
  const most_bar = impossibly_ratio * fullGauge_bar(model);
  const away_bar = Math.abs(pressureGauge_bar - expected_bar);
  if (away_bar > Math.max(alike.least_bar, alike.ratio * expected_bar)) {
    const near_bar = Math.max(asExpected.least_bar, asExpected.ratio * expected_bar);
    const mistaken = mistakenUnits.find(
      ({ ratio }) => Math.abs(pressureGauge_bar / ratio - expected_bar) < near_bar,
    );
    if (mistaken !== undefined) {
      return {
        id: "pressure-in-another-unit",
        ...bothWays(
          said`The pressure of ${bar(pressureGauge_bar, 1)} looks like ${mistaken.what}; about ${bar(expected_bar, 1)} is expected. It is not used.`,
        ),
      };
    }
  }
  return pressureGauge_bar > most_bar
    ? {
        id: "pressure-beyond-charge",
        ...bothWays(
          said`The pressure of ${bar(pressureGauge_bar, 1)} is more than this charge can make when it is hot. It is not used. If the gauge on the vessel shows it too, keep away, remove heat, ventilate the room.`,
        ),
      }
    : undefined;
}

function fullGauge_bar(model: SupplyModel): number {
  const mean = new Array<number>(componentCount).fill(0);
  mean[c.contents] = hottest_degC;
  mean[c.pressureFactor] = 1;
  mean[c.retained] = 1;
  mean[c.air] = 1;
  mean[c.airHaste] = 1;
  return expectedGauge(model, mean, model.map.co2Available_g).gauge_bar;
}
