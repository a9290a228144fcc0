import type { SuppliedCharge, SupplyReading } from "../../lib/estimation/supply-trace.js";
import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import type { SupplyMethod } from "./supply-under-test.js";

/** CO2 that a charge can give by its recipe, g. */
export function toldCo2_g(charge: SuppliedCharge): number {
  const acid_gPerMol =
    charge.acid.kind === "citric-acid-anhydrous"
      ? molarMass_gPerMol.citricAcidAnhydrous
      : molarMass_gPerMol.citricAcidMonohydrate;
  const co2_mol = Math.min(
    charge.sodiumBicarbonate_g / molarMass_gPerMol.sodiumBicarbonate,
    (3 * charge.acid.mass_g) / acid_gPerMol,
  );
  return co2_mol * molarMass_gPerMol.co2;
}

/** To this temperature people reduce their gauge. */
const reference_degC = 20;

/**
 * What people do with a gauge: what is left is what it shows, over what it showed when full; the end comes when the gauge,
 * falling as fast as it did so far, is at the working pressure. Common practice, no source.
 * @param shown the pressure that counts for a reading; undefined where it cannot be told
 */
function inProportion(name: string, shown: (reading: SupplyReading) => number | undefined): SupplyMethod {
  return {
    name,
    start(charge) {
      const charge_g = toldCo2_g(charge);
      const working_bar = charge.workingPressureGauge_bar;
      let full: { readonly at_epochMs: number; readonly shown_bar: number } | undefined;
      let latest: { readonly at_epochMs: number; readonly shown_bar: number } | undefined;
      let hasOpened = false;
      return {
        step(reading) {
          const shown_bar = shown(reading);
          if (shown_bar !== undefined) {
            latest = { at_epochMs: reading.at_epochMs, shown_bar };
            if (full === undefined || (!hasOpened && shown_bar > full.shown_bar)) full = latest;
            else if (!hasOpened) full = { at_epochMs: reading.at_epochMs, shown_bar: full.shown_bar };
          }
          hasOpened ||= reading.valveOpen;
        },
        answerAt() {
          if (full === undefined || latest === undefined || full.shown_bar <= 0) return undefined;
          const left_bar = latest.shown_bar - working_bar;
          const fallen_bar = full.shown_bar - latest.shown_bar;
          const passed_ms = latest.at_epochMs - full.at_epochMs;
          return {
            remaining: { value_g: (charge_g * latest.shown_bar) / full.shown_bar },
            deliverable: { value_g: Math.max(0, (charge_g * left_bar) / full.shown_bar) },
            runOut:
              fallen_bar > 0 && passed_ms > 0
                ? { median_epochMs: latest.at_epochMs + (Math.max(0, left_bar) * passed_ms) / fallen_bar }
                : undefined,
          };
        },
      };
    },
  };
}

export const proportionalToGauge: SupplyMethod = inProportion(
  "in proportion to the gauge",
  (reading) => reading.pressureGauge_bar,
);

/** The law of Gay-Lussac on the absolute pressure, with the temperature that the thermometer shows. */
export const proportionalToCorrectedGauge: SupplyMethod = inProportion(
  "gauge corrected for temperature",
  ({ pressureGauge_bar, temperature_degC }) =>
    pressureGauge_bar === undefined || temperature_degC === undefined
      ? undefined
      : ((pressureGauge_bar + 1.01325) * (reference_degC + 273.15)) / (temperature_degC + 273.15) - 1.01325,
);
