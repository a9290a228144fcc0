import type { DailyWindow, SuppliedCharge } from "../estimation/supply-trace.js";
import { NoConvergenceError } from "../errors.js";
import {
  gasConstant_JPerMolK,
  molarMass_gPerMol,
  standardAtmosphere_bar,
} from "../quantities/physical-constants.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { needleFlow_molPerH, regulatorOutletGauge_bar, type RegulatorSpec } from "./gas-path.js";
import { createRandomSource, drawNormal } from "./random-source.js";
import type { RoomClimateSpec } from "./room-climate.js";
import { gasVolume_L, type SimulatedFilling } from "./simulated-contents.js";
import type { SimulatedGaugeSpec } from "./simulated-gauge.js";
import type { UseHabits } from "./simulated-use.js";
import { createSimulatedVessel, deliverableCo2_mol, type SimulatedVesselPace } from "./simulated-vessel.js";

/** How the pressure is read, and how often. */
export type GaugeReadBy = "device" | "transducer" | "eye";

/** What an experiment holds fast; the rest is drawn. */
export interface ChargeConditions {
  readonly readBy: GaugeReadBy;
  readonly settled?: boolean;
  readonly closedWith?: "water" | "ice";
  /** Of the room, highest less lowest of a day. */
  readonly dailySwing_K?: number;
  readonly leastDays?: number;
  readonly mostDays?: number;
  readonly scale?: boolean;
  /** What was put in over what is told, acid and bicarbonate alike. */
  readonly weighed_ratio?: number;
}

/** Errors of nature and of people that no estimator is told. */
export interface DrawnErrors {
  readonly co2Pressure_ratio: number;
  readonly retainedBicarbonate_ratio: number;
  readonly lostBeforeClosing_ratio: number;
  /** Air in the gas space when the lid was closed, of an atmosphere; the rest is CO2. */
  readonly trappedAir_ratio: number;
}

export interface TemperatureSensorSpec {
  readonly place: "room" | "steel";
  readonly bias_K: number;
  readonly noise_K: number;
  readonly resolution_K: number;
}

/** One charge with its surroundings, all of it decided by a seed. */
export interface DrawnCharge {
  readonly seed: number;
  /** What a keeper would tell, and an estimator gets. */
  readonly told: SuppliedCharge;
  readonly errors: DrawnErrors;
  readonly filling: SimulatedFilling;
  readonly air_mol: number;
  readonly pace: SimulatedVesselPace;
  readonly regulator: RegulatorSpec;
  readonly needle_molPerHBar: number;
  readonly diffuserGauge_bar: number;
  readonly climate: RoomClimateSpec;
  readonly habits: UseHabits;
  readonly readBy: GaugeReadBy;
  readonly gauge: SimulatedGaugeSpec;
  readonly temperatureSensor: TemperatureSensorSpec;
  readonly scale: { readonly noise_g: number; readonly resolution_g: number } | undefined;
  readonly traceFrom_epochMs: number;
  readonly dosingFrom_epochMs: number;
  /** By the recipe as told, at 20 degC, without any error: for sizing a plan. */
  readonly plannedGauge_bar: number;
  readonly planned_days: number;
}

const hour_ms = 3_600_000;
const timeZones = ["UTC", "Europe/Berlin", "America/New_York", "Australia/Sydney", "Asia/Kolkata"] as const;

/** 1 January 2025, 00:00 UTC: a year with the usual clock changes. */
const firstDay_epochMs = 1_735_689_600_000;

const emptyMass_g = 2600;

interface Chance {
  between(low: number, high: number): number;
  logBetween(low: number, high: number): number;
  normal(): number;
  happens(share: number): boolean;
  oneOf<T>(items: readonly [T, ...T[]]): T;
}

function createChance(random: () => number): Chance {
  return {
    between: (low, high) => low + (high - low) * random(),
    logBetween: (low, high) => low * (high / low) ** random(),
    normal: () => drawNormal(random),
    happens: (share) => random() < share,
    oneOf: (items) => items[Math.floor(random() * items.length)] ?? items[0],
  };
}

const roundTo = (value: number, step: number): number =>
  Number((Math.round(value / step) * step).toPrecision(9));

export interface Recipe {
  readonly vesselVolume_L: number;
  readonly sodiumBicarbonate_g: number;
  readonly citricAcidAnhydrous_g: number;
  readonly water_kg: number;
}

/** As weighed: without any of the errors that a filling has. */
export function fillingOf(recipe: Recipe, weighed_ratio: number): SimulatedFilling {
  return {
    volume_L: recipe.vesselVolume_L,
    citricAcid_mol: (weighed_ratio * recipe.citricAcidAnhydrous_g) / molarMass_gPerMol.citricAcidAnhydrous,
    sodiumBicarbonate_mol: (weighed_ratio * recipe.sodiumBicarbonate_g) / molarMass_gPerMol.sodiumBicarbonate,
    water_kg: recipe.water_kg,
    lostBeforeClosing_mol: 0,
    co2Pressure_ratio: 1,
    retainedBicarbonate_ratio: 1,
  };
}

/** Air in the gas space when the lid is closed, the share of it that was not driven out by CO2. */
export function airIn_mol(filling: SimulatedFilling, air_ratio: number, at_degC: number): number {
  const volume_L = gasVolume_L(filling, {
    carbon_mol: 0,
    air_mol: 0,
    contents_degC: at_degC,
    reacted_ratio: 0,
    melted_ratio: 1,
  });
  return (
    (air_ratio * standardAtmosphere_bar * volume_L) /
    ((gasConstant_JPerMolK / 100) * kelvinFromCelsius(at_degC))
  );
}

const plainPace: SimulatedVesselPace = {
  contentsLag_h: 1,
  outsideResistance_ratio: 0.5,
  steelHeatCapacity_JPerK: 1150,
  mixing_h: 0.5,
  airFirst_ratio: 1,
};

function drawRecipe(chance: Chance): Recipe {
  const sodiumBicarbonate_g = Math.round(chance.between(60, 250));
  const stoichiometric_g =
    (sodiumBicarbonate_g / molarMass_gPerMol.sodiumBicarbonate / 3) * molarMass_gPerMol.citricAcidAnhydrous;
  return {
    vesselVolume_L: roundTo(chance.between(1, 3), 0.1),
    sodiumBicarbonate_g,
    citricAcidAnhydrous_g: Math.round(stoichiometric_g * chance.between(0.9, 1.1)),
    water_kg: roundTo(chance.between(0.3, 0.6), 0.05),
  };
}

/** One or two spans a day, 6 to 10 hours together, on half hours. */
function drawWindows(chance: Chance): readonly DailyWindow[] {
  const opens_min = 30 * Math.floor(chance.between(12, 22));
  const open_min = 30 * Math.round(chance.between(12, 20));
  if (chance.happens(0.7)) return [{ opens_min, closes_min: opens_min + open_min }];
  const first_min = 30 * Math.round(open_min / 60);
  const pause_min = 30 * Math.round(chance.between(2, 6));
  const second_min = opens_min + first_min + pause_min;
  return [
    { opens_min, closes_min: opens_min + first_min },
    { opens_min: second_min, closes_min: Math.min(1410, second_min + open_min - first_min) },
  ];
}

function drawGauge(chance: Chance, readBy: GaugeReadBy): { gauge: SimulatedGaugeSpec; accuracy_bar: number } {
  if (readBy === "transducer") {
    const accuracy_bar = chance.oneOf([0.06, 0.1, 0.16]);
    return {
      accuracy_bar,
      gauge: {
        bias_bar: drawBias_bar(chance, accuracy_bar),
        hysteresis_bar: chance.between(0, 0.01),
        stiction_bar: 0,
        noise_bar: chance.between(0.004, 0.015),
        resolution_bar: chance.oneOf([0.01, 0.02]),
      },
    };
  }
  const resolution_bar =
    readBy === "eye" ? chance.oneOf([0.1, 0.2, 0.5]) : chance.oneOf([0.02, 0.05, 0.1, 0.2, 0.5]);
  const class_bar = readBy === "eye" ? chance.oneOf([0.4, 0.5, 0.63]) : chance.oneOf([0.16, 0.25, 0.4]);
  const accuracy_bar = Math.max(class_bar, resolution_bar / 2);
  return {
    accuracy_bar,
    gauge: {
      bias_bar: drawBias_bar(chance, accuracy_bar),
      hysteresis_bar: chance.between(0.02, 0.12),
      stiction_bar: chance.between(0, 0.08),
      noise_bar: readBy === "eye" ? chance.between(0.05, 0.15) : chance.between(0.005, 0.04),
      resolution_bar,
    },
  };
}

/** The class is a limit that a gauge keeps: half of it as standard deviation, cut off at the limit. */
function drawBias_bar(chance: Chance, accuracy_bar: number): number {
  return Math.max(-accuracy_bar, Math.min(accuracy_bar, 0.5 * accuracy_bar * chance.normal()));
}

/**
 * Draws a charge: recipe, surroundings, people, instruments, and errors of model and filling. The same seed and
 * conditions give the same charge. Pressure of the CO2 4 % (standard deviation), retained bicarbonate 25 %, 0 to 8 % lost
 * before closing, 0 to 1 atm of trapped air; 1 to 3 L, 60 to 250 g of bicarbonate in 0.3 to 0.6 kg of water, acid within
 * 10 % of the stoichiometric; 8 to 22 bar at 20 degC; 1 to 6 g a day for 10 to 80 days.
 * @throws NoConvergenceError when no draw fits the conditions
 */
export function drawCharge(seed: number, conditions: ChargeConditions): DrawnCharge {
  const random = createRandomSource(seed);
  const chance = createChance(random);
  const leastDays = conditions.leastDays ?? 10;
  const mostDays = conditions.mostDays ?? 80;
  const attempts = 4000;
  for (let attempt = 0; attempt < attempts; attempt += 1) {
    const recipe = drawRecipe(chance);
    const use_gPerDay = chance.logBetween(1, 6);
    const setGauge_bar = roundTo(chance.between(1.5, 3), 0.1);
    const workingPressureGauge_bar = roundTo(setGauge_bar + chance.between(0.5, 1), 0.1);
    const exact = fillingOf(recipe, 1);
    // Crystals alone must leave room for gas, or there is no vessel to speak of.
    if (
      recipe.water_kg + 0.4e-3 * (recipe.sodiumBicarbonate_g + recipe.citricAcidAnhydrous_g) >
      0.7 * recipe.vesselVolume_L
    ) {
      continue;
    }
    const planned = createSimulatedVessel({
      filling: exact,
      pace: plainPace,
      air_mol: airIn_mol(exact, 1, 20),
      start: { kind: "settled", contents_degC: 20 },
      emptyMass_g,
    });
    const plannedGauge_bar = planned.pressureGauge_bar;
    if (plannedGauge_bar < 8 || plannedGauge_bar > 22) continue;
    const deliverable_g = deliverableCo2_mol(planned, workingPressureGauge_bar) * molarMass_gPerMol.co2;
    const planned_days = deliverable_g / use_gPerDay;
    if (planned_days < leastDays || planned_days > mostDays) continue;
    return finish(seed, conditions, chance, {
      recipe,
      use_gPerDay,
      setGauge_bar,
      workingPressureGauge_bar,
      plannedGauge_bar,
      planned_days,
    });
  }
  throw new NoConvergenceError("charge of a population", leastDays, mostDays, attempts);
}

interface Sized {
  readonly recipe: Recipe;
  readonly use_gPerDay: number;
  readonly setGauge_bar: number;
  readonly workingPressureGauge_bar: number;
  readonly plannedGauge_bar: number;
  readonly planned_days: number;
}

function finish(seed: number, conditions: ChargeConditions, chance: Chance, sized: Sized): DrawnCharge {
  const { recipe, workingPressureGauge_bar, setGauge_bar, plannedGauge_bar } = sized;
  const errors: DrawnErrors = {
    co2Pressure_ratio: 1 + 0.04 * chance.normal(),
    retainedBicarbonate_ratio: Math.max(0.2, 1 + 0.25 * chance.normal()),
    lostBeforeClosing_ratio: chance.between(0, 0.08),
    trappedAir_ratio: chance.between(0, 1),
  };
  // Drawn whether wanted or not: a condition changes nothing but itself.
  const drawnSettled = chance.happens(0.5);
  const settled = conditions.settled ?? drawnSettled;
  const drawnIce = chance.happens(0.35);
  const closedWith = conditions.closedWith ?? (drawnIce ? "ice" : "water");
  const timeZone = chance.oneOf(timeZones);
  const windows = drawWindows(chance);
  const closedAt_epochMs = firstDay_epochMs + 5 * 60_000 * Math.floor(chance.between(0, 365 * 288));
  const reaction_h = closedWith === "ice" ? chance.between(26, 40) : chance.between(5, 12);
  const traceFrom_epochMs = closedAt_epochMs + (settled ? Math.round(chance.between(48, 120)) * hour_ms : 0);
  const dosingFrom_epochMs = Math.max(traceFrom_epochMs, closedAt_epochMs + Math.round(reaction_h) * hour_ms);
  const room_degC = chance.between(18.5, 25);
  const drawnSwing_K = chance.between(0.5, 3);
  const exact = fillingOf(recipe, conditions.weighed_ratio ?? 1);
  const filling: SimulatedFilling = {
    ...exact,
    co2Pressure_ratio: errors.co2Pressure_ratio,
    retainedBicarbonate_ratio: errors.retainedBicarbonate_ratio,
    lostBeforeClosing_mol:
      errors.lostBeforeClosing_ratio * Math.min(exact.sodiumBicarbonate_mol, 3 * exact.citricAcid_mol),
  };
  const open_min = windows.reduce((sum, window) => sum + window.closes_min - window.opens_min, 0);
  const flow_molPerH = sized.use_gPerDay / (open_min / 60) / molarMass_gPerMol.co2;
  const regulator: RegulatorSpec = {
    setGauge_bar,
    setAtInletGauge_bar: plannedGauge_bar,
    supplyPressureEffect_ratio: chance.between(0.02, 0.07),
    wideOpenDrop_bar: chance.between(0.1, 0.4),
  };
  const diffuserGauge_bar = chance.between(0.1, 0.6);
  const perBar_molPerH = needleFlow_molPerH({
    conductance_molPerHBar: 1,
    inletGauge_bar: regulatorOutletGauge_bar(regulator, (plannedGauge_bar + workingPressureGauge_bar) / 2),
    outletGauge_bar: diffuserGauge_bar,
  });
  const { gauge, accuracy_bar } = drawGauge(chance, conditions.readBy);
  const wantsScale = chance.happens(conditions.readBy === "device" ? 0.2 : 0);
  const monohydrate = chance.happens(0.3);
  const acid_ratio = molarMass_gPerMol.citricAcidMonohydrate / molarMass_gPerMol.citricAcidAnhydrous;
  return {
    seed,
    told: {
      acid: monohydrate
        ? {
            kind: "citric-acid-monohydrate",
            mass_g: roundTo(recipe.citricAcidAnhydrous_g * acid_ratio, 0.1),
          }
        : { kind: "citric-acid-anhydrous", mass_g: recipe.citricAcidAnhydrous_g },
      sodiumBicarbonate_g: recipe.sodiumBicarbonate_g,
      water_kg: recipe.water_kg,
      vesselVolume_L: recipe.vesselVolume_L,
      sealedAt_degC: roundTo(room_degC, 0.5),
      closedAt_epochMs,
      closedWith,
      settled,
      workingPressureGauge_bar,
      gaugeAccuracy_bar: accuracy_bar,
      timeZone,
      windows,
    },
    errors,
    filling,
    air_mol: airIn_mol(exact, errors.trappedAir_ratio, room_degC),
    pace: {
      contentsLag_h: chance.logBetween(0.5, 6),
      outsideResistance_ratio: chance.between(0.25, 0.75),
      steelHeatCapacity_JPerK: 460 * chance.between(1.2, 1.8) * recipe.vesselVolume_L,
      mixing_h: closedWith === "ice" ? chance.logBetween(2, 6) : chance.logBetween(0.2, 1.2),
      airFirst_ratio: chance.between(1, 1.6),
    },
    regulator,
    needle_molPerHBar: flow_molPerH / perBar_molPerH,
    diffuserGauge_bar,
    climate: {
      yearMean_degC: room_degC,
      season_K: chance.between(0.5, 3),
      dailySwing_K: conditions.dailySwing_K ?? drawnSwing_K,
      wander_K: chance.between(0.2, 0.9),
      wanderMemory_h: chance.between(24, 96),
      warmestAtUtc_h: chance.between(0, 24),
    },
    habits: {
      skippedDay_ratio: chance.between(0, 0.03),
      openedByHand_ratio: chance.between(0, 0.05),
      closedByHand_ratio: chance.between(0, 0.05),
      needleTouched_days: chance.between(15, 60),
      needleTouch_ln: 0.06,
      flowWander_ln: 0.005,
    },
    readBy: conditions.readBy,
    gauge,
    temperatureSensor: {
      place: chance.happens(0.5) ? "steel" : "room",
      bias_K: 0.3 * chance.normal(),
      noise_K: 0.05,
      resolution_K: conditions.readBy === "eye" ? 0.5 : 0.1,
    },
    scale:
      (conditions.scale ?? wantsScale)
        ? { noise_g: chance.between(0.3, 1), resolution_g: chance.oneOf([0.1, 1]) }
        : undefined,
    traceFrom_epochMs,
    dosingFrom_epochMs,
    plannedGauge_bar,
    planned_days: sized.planned_days,
  };
}
