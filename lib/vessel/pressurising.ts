import { gaugeFromAbsolute_bar } from "../quantities/units.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";
import { chargeEquilibrium, type ChargeEquilibrium } from "./charge-equilibrium.js";
import type { Charge } from "./charge.js";
import { createHeatModel, type HeatModel, type HeatParts } from "./heat-balance.js";
import { hydratePressure_bar, type OutsideModel } from "./outside-model.js";
import { pressurisingCourse, type PressurisingCourse } from "./pressurising-course.js";
import type { ChargeProgress, PartlyReacted } from "./reacted-part.js";

/** The vessel's body, where it stands, and how it was filled. */
export interface Surroundings {
  /** 5 to 45. Body and crystals start at this temperature. */
  readonly room_degC: number;
  readonly heatLoss_WPerK: number;
  readonly mixing_h: number;
  readonly bodyHeatCapacity_JPerK: number;
  readonly startWater_degC: number;
  /** Left out: as from a household freezer. */
  readonly startIce_degC?: number;
}

export interface PressurisingPoint extends ChargeProgress {
  readonly at_h: number;
  /** With all liquid water mixed. */
  readonly pressureGauge_bar: number;
  /** Lower end of the cold range: layered or mixed, and with hydrate where it can form. */
  readonly lowGauge_bar: number;
  /** Upper end: only the water in which the reaction ran holds CO2, the rest lies unmixed over it. */
  readonly highGauge_bar: number;
  readonly hydratePossible: boolean;
  readonly carbon: CarbonLedger;
}

/** Where all the carbon is. */
export interface CarbonLedger {
  readonly gas_mol: number;
  readonly dissolved_mol: number;
  /** Dissolved or crystallised bicarbonate in the liquor, and carbonate. */
  readonly bicarbonate_mol: number;
  /** Crystals that the liquor has not reached. */
  readonly unreacted_mol: number;
}

/** What the person at the vessel must do or must not do. */
export interface PressurisingCaution {
  readonly kind: "upright" | "neck" | "cold-reading" | "hydrate";
  readonly text: string;
}

export interface Pressurising {
  readonly points: readonly PressurisingPoint[];
  /** From then on within `readyBand_ratio` of the settled pressure; undefined: not within the time asked for. */
  readonly ready_h: number | undefined;
  /** Settled, at room temperature. */
  readonly warmPressureGauge_bar: number;
  /** What the equilibrium at room temperature leaves out. */
  readonly outsideModel: readonly OutsideModel[];
  readonly heat: {
    readonly fromRoom_J: number;
    readonly start: HeatParts;
    readonly end: HeatParts;
  };
  readonly cautions: readonly PressurisingCaution[];
}

/** A charge is ready when its gauge pressure stays this close to the settled one. */
export const readyBand_ratio = 0.03;

/** A household freezer, common practice, no source. */
const freezer_degC = -18;

/**
 * Judgements, no source, for a 2 L vessel that stands free and is not shaken: 0.1 m2 of wall at 8 W/(m2 K); 2.5 kg of
 * steel at 460 J/(kg K); crystals under water mix within half an hour, under ice, where meltwater floats on dense liquor,
 * within hours. A factor of two either way is ordinary.
 */
export const usualPace = {
  vesselVolume_L: 2,
  heatLoss_WPerK: 0.8,
  bodyHeatCapacity_JPerK: 1150,
  mixingWater_h: 0.5,
  mixingIce_h: 6,
} as const;

export const surroundingsRanges = {
  room: { quantity: "room temperature", unit: "degC", minimum: 5, maximum: 45 },
  heatLoss: { quantity: "heat loss", unit: "W/K", minimum: 0.02, maximum: 50 },
  mixing: { quantity: "mixing time", unit: "h", minimum: 0.01, maximum: 200 },
  body: { quantity: "heat capacity of the body", unit: "J/K", minimum: 0, maximum: 50_000 },
  startWater: { quantity: "water temperature at the start", unit: "degC", minimum: 0, maximum: 45 },
  startIce: { quantity: "ice temperature at the start", unit: "degC", minimum: -40, maximum: 0 },
} as const satisfies Record<string, ValidRange>;

/**
 * The surroundings as they usually are: heat loss as the wall's area, body as the volume, mixing time between that of water
 * and that of ice by the share of ice. Judgements; fit them to a recorded curve where there is one.
 */
export function usualSurroundings(
  charge: Charge,
  temperatures: { readonly room_degC: number; readonly startWater_degC: number },
): Surroundings {
  const size = charge.vesselVolume_L / usualPace.vesselVolume_L;
  const ice_kg = charge.ice_kg ?? 0;
  const iceShare = ice_kg > 0 ? ice_kg / (ice_kg + charge.water_kg) : 0;
  return {
    ...temperatures,
    heatLoss_WPerK: usualPace.heatLoss_WPerK * size ** (2 / 3),
    mixing_h: usualPace.mixingWater_h + iceShare * (usualPace.mixingIce_h - usualPace.mixingWater_h),
    bodyHeatCapacity_JPerK: usualPace.bodyHeatCapacity_JPerK * size,
  };
}

/** @throws OutOfValidRangeError for a temperature, heat capacity or pace out of its range */
export function heatModelIn(charge: Charge, surroundings: Surroundings): HeatModel {
  const ice_degC = surroundings.startIce_degC ?? freezer_degC;
  assertInRange(surroundings.room_degC, surroundingsRanges.room);
  assertInRange(surroundings.heatLoss_WPerK, surroundingsRanges.heatLoss);
  assertInRange(surroundings.mixing_h, surroundingsRanges.mixing);
  assertInRange(surroundings.bodyHeatCapacity_JPerK, surroundingsRanges.body);
  assertInRange(surroundings.startWater_degC, surroundingsRanges.startWater);
  assertInRange(ice_degC, surroundingsRanges.startIce);
  return createHeatModel(charge, {
    body_degC: surroundings.room_degC,
    water_degC: surroundings.startWater_degC,
    ice_degC,
    bodyHeatCapacity_JPerK: surroundings.bodyHeatCapacity_JPerK,
  });
}

/**
 * The pressure against time of a freshly closed charge, and the settled pressure to come. Reaction takes heat and follows
 * the melting (a share of the water reaches the same share of the crystals, which is the slow side) and the mixing; heat
 * comes from the room. The cold pressure is a range: unmixed layers raise it, hydrate can lower it. Pressure is as good as
 * chargeEquilibrium where settled; times are as good as heat loss and mixing time, by default a factor of two. Points lie
 * closer together at the start. The heat balance closes to 0.1 %, carbon to 1e-9.
 *
 * Common practice, no source: a couple of hours with water, about a day with ice in a cool room. No single pair of heat loss
 * and mixing time gives both: at equal pace ice takes at most about 4 times as long as water, 0.3 W/K and 0.1 h giving 4.5 h and
 * 18 h at 15 degC. With the heat loss of a free-standing vessel, 0.8 W/K, mixing times of half an hour under water and 6 h
 * under ice give 2.5 h and 23 h.
 * @param run.until_h 0.1 to 1000
 * @param run.pointCount 2 to 10000, by default 60
 * @throws OutOfValidRangeError for such values out of range, and as chargeEquilibrium
 * @throws NoConvergenceError when a balance or the integration does not close
 * @see [BogackiShampine1989], [Wagman1982], [SloanKoh2008]
 */
export function pressurise(
  charge: Charge,
  surroundings: Surroundings,
  run: { readonly until_h: number; readonly pointCount?: number },
): Pressurising {
  const pointCount = Math.round(run.pointCount ?? 60);
  assertInRange(run.until_h, { quantity: "time after closing", unit: "h", minimum: 0.1, maximum: 1000 });
  assertInRange(pointCount, { quantity: "number of points", unit: "", minimum: 2, maximum: 10_000 });
  const model = heatModelIn(charge, surroundings);
  const course = pressurisingCourse(model, surroundings, run.until_h);
  const settled = chargeEquilibrium(charge, surroundings.room_degC);
  const points = Array.from({ length: pointCount }, (_, k) => {
    const at_h = run.until_h * (k / (pointCount - 1)) ** 2;
    return pointAt(model.part, course.at(at_h), at_h);
  });
  return {
    points,
    ready_h: readyAt_h(course, settled.pressureGauge_bar),
    warmPressureGauge_bar: settled.pressureGauge_bar,
    outsideModel: settled.outsideModel,
    heat: {
      fromRoom_J: course.heatFromRoom_J,
      start: model.heatOf(course.at(0)),
      end: model.heatOf(course.at(run.until_h)),
    },
    cautions: cautionsOf(charge, points, settled.pressureGauge_bar),
  };
}

function pointAt(part: PartlyReacted, state: ChargeProgress, at_h: number): PressurisingPoint {
  const { temperature_degC, melted_ratio, reacted_ratio } = state;
  const progress = { temperature_degC: Math.max(0, temperature_degC), melted_ratio, reacted_ratio };
  const mixed = part.equilibrium(progress, "all-liquid");
  const layered = part.equilibrium(progress, "reacted-share");
  const hydrate = [mixed, layered].flatMap((found) => {
    const gauge_bar = hydrateGauge_bar(found);
    return gauge_bar === undefined ? [] : [gauge_bar];
  });
  return {
    at_h,
    temperature_degC,
    melted_ratio,
    reacted_ratio,
    pressureGauge_bar: mixed.pressureGauge_bar,
    lowGauge_bar: Math.min(mixed.pressureGauge_bar, layered.pressureGauge_bar, ...hydrate),
    highGauge_bar: Math.max(mixed.pressureGauge_bar, layered.pressureGauge_bar),
    hydratePossible: hydrate.length > 0,
    carbon: {
      gas_mol: mixed.co2Gas_mol + mixed.liquidCo2_mol,
      dissolved_mol: mixed.co2Dissolved_mol,
      bicarbonate_mol: mixed.bicarbonate_mol + mixed.carbonate_mol + mixed.solidBicarbonate_mol,
      unreacted_mol: (1 - reacted_ratio) * part.sodiumBicarbonate_mol,
    },
  };
}

/** Gauge pressure when hydrate has taken CO2 down to the line where it can form, where CO2 is above that line. */
function hydrateGauge_bar(state: ChargeEquilibrium): number | undefined {
  const line_bar = hydratePressure_bar(state.temperature_degC);
  if (line_bar === undefined || state.co2Pressure_bar <= line_bar) return undefined;
  return gaugeFromAbsolute_bar(state.pressureAbsolute_bar - state.co2Pressure_bar + line_bar);
}

/** When the pressure last came into the band around the settled one. */
function readyAt_h(course: PressurisingCourse, settledGauge_bar: number): number | undefined {
  const inBand = (time_h: number): boolean =>
    Math.abs(course.at(time_h).pressureGauge_bar - settledGauge_bar) <=
    readyBand_ratio * Math.abs(settledGauge_bar);
  const { stepEnds_h } = course;
  let lastOutside = stepEnds_h.length - 1;
  while (lastOutside >= 0 && inBand(stepEnds_h[lastOutside] ?? 0)) lastOutside -= 1;
  let low_h = stepEnds_h[lastOutside] ?? 0;
  let high_h = stepEnds_h[lastOutside + 1];
  if (high_h === undefined) return undefined;
  if (lastOutside < 0) return 0;
  while (high_h - low_h > 1e-3) {
    const middle_h: number = (low_h + high_h) / 2;
    if (inBand(middle_h)) high_h = middle_h;
    else low_h = middle_h;
  }
  return high_h;
}

function cautionsOf(
  charge: Charge,
  points: readonly PressurisingPoint[],
  settledGauge_bar: number,
): readonly PressurisingCaution[] {
  const cautions: PressurisingCaution[] = [
    {
      kind: "upright",
      text: "Keep the vessel upright, so that no liquor reaches the valve or the relief device.",
    },
    {
      kind: "cold-reading",
      text:
        `The pressure rises until the vessel is at room temperature, to about ${settledGauge_bar.toFixed(1)} bar: ` +
        "a low reading before that is no reason to add reactants, to heat the vessel or to open it.",
    },
  ];
  if ((charge.ice_kg ?? 0) > 0) {
    cautions.push({
      kind: "neck",
      text: "Every piece of ice must pass the neck freely: never force, hammer or melt one in with hot water.",
    });
  }
  if (points.some((point) => point.hydratePossible)) {
    cautions.push({
      kind: "hydrate",
      text:
        "While cold, CO2 can bind to water as a solid hydrate: the reading may be lower than the contents, and rises " +
        "as the vessel warms. Do not open the outlet until it has warmed; a solid plug may sit in it.",
    });
  }
  return cautions;
}
