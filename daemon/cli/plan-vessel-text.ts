import { plateCautions } from "../../lib/charge-plan/plate-cautions.js";
import { usualDosing, usualUse_gPerDay } from "../../lib/charge-plan/usual-use.js";
import type { PlanningConfig } from "../config/planning-config.js";
import { onePressureInUnits, row, wrapped } from "./plan-layout.js";
import type { GeneratorConfig } from "./plan-options.js";

type PlatedVessel = Pick<GeneratorConfig, "volume_L" | "ratedPressureGauge_bar" | "reliefOpeningGauge_bar">;

/** Stands under each answer. */
export const standsAbove =
  "The vessel's own plate and instructions, local codes, and people licensed for pressure equipment stand above all of this.";

/** What was taken for the vessel, so that a slip in it is seen. */
export function vesselRows(vessel: PlatedVessel): readonly string[] {
  const plate = (pressure_bar: number | undefined): string =>
    pressure_bar === undefined ? "not stated" : onePressureInUnits(pressure_bar);
  return [
    row("vessel", `${String(vessel.volume_L)} L`),
    row("rated pressure", plate(vessel.ratedPressureGauge_bar)),
    row("relief device opens", plate(vessel.reliefOpeningGauge_bar)),
  ];
}

/** What is doubtful about the plates. It stands before all else. */
export function plateLines(vessel: PlatedVessel): readonly string[] {
  return plateCautions({
    ratedPressureGauge_bar: vessel.ratedPressureGauge_bar,
    reliefOpeningGauge_bar: vessel.reliefOpeningGauge_bar,
  }).flatMap(({ text }) => [...wrapped(text, "! "), ""]);
}

/** What to begin with where nobody has measured what the tanks take, and how to measure it. */
export function usualUseText(config: PlanningConfig, vesselId: string): string {
  const valves = Object.values(config.valves).filter(({ vessel }) => vessel === vesselId);
  const behind = new Set(valves.flatMap(({ feeds }) => feeds.map(({ tank }) => tank)));
  const tanks = Object.entries(config.tanks).filter(([id]) => behind.has(id));
  const volume_L = tanks.reduce((sum, [, tank]) => sum + tank.volume_L, 0);
  const use = usualUse_gPerDay(volume_L > 0 ? volume_L : 100);
  const names = tanks.map(([id]) => id).join(", ");
  const whose = volume_L > 0 ? `your ${String(volume_L)} L (${names})` : "each 100 L of tank";
  const {
    tankPerBubblePerSecond_L: litres,
    co2PerBubblePerSecond_gPerH: grams,
    dosing_hPerDay,
  } = usualDosing;
  return (
    `A rule of thumb to begin with, common practice and no source: a bubble a second for ${String(litres.least)} to ` +
    `${String(litres.most)} L, which is ${String(grams.least)} to ${String(grams.most)} g of CO2 an hour, for ` +
    `${String(dosing_hPerDay)} hours a day. For ${whose} that is ${use.low.toFixed(1)} to ${use.high.toFixed(1)} g a day: ` +
    `try --use-per-day ${use.value.toFixed(1)}, then measure. Weigh the vessel a week apart; the grams it lost, divided by ` +
    "7, are its daily use. Bubbles do not tell, and the fish come first."
  );
}
