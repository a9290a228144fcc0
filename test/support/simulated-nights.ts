import { carbonateSpeciation } from "../../lib/chemistry/carbonate-speciation.js";
import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import { alkalinityFromKh_meqPerL } from "../../lib/quantities/units.js";
import { createRandomSource, drawNormal } from "../../lib/simulation/random-source.js";
import { advanceTank, airEquilibriumCo2_mgPerL, tankPh } from "../../lib/simulation/simulated-tank.js";
import type {
  SimulatedTankSpec,
  SimulatedTankState,
  SimulatedTankStep,
} from "../../lib/simulation/simulated-tank.js";
import type { Co2Reading } from "../../lib/tank/relaxation-fit.js";

/** A probe and its owner, as common practice has them (from memory): none of it is known to the fit. */
export interface ProbeErrors {
  readonly interval_min: number;
  readonly noisePh: number;
  /** Slow wander: standard deviation, and an hour of memory. */
  readonly wanderPh: number;
  readonly drift_pHPerDay: number;
  readonly offsetPh: number;
  readonly resolutionPh: number;
  readonly spike_ratio: number;
  readonly dropout_ratio: number;
  /** The hardness that the keeper's test shows over the true one. */
  readonly kh_ratio: number;
}

export interface SimulatedNight {
  readonly tank: SimulatedTankSpec;
  readonly probe: ProbeErrors;
  readonly night_h: number;
  readonly startCo2_mgPerL: number;
  readonly room: { readonly evening_ppm: number; readonly morning_ppm: number; readonly change_h: number };
  readonly room_degC: number;
  /** How much more animals and plants breathe at the night's start than later, settling in two hours. */
  readonly restless_ratio: number;
  readonly step?: (hour: number) => Partial<SimulatedTankStep>;
  readonly change?: (hour: number, state: SimulatedTankState) => SimulatedTankState;
}

export interface NightTruth {
  /** Loss through the surface over the excess of the whole tank, over the night. */
  readonly k_perH: number;
  readonly night_h: number;
  readonly startCo2_mgPerL: number;
  readonly endCo2_mgPerL: number;
  readonly respiration_mgPerLPerH: number;
  readonly airCo2_mgPerL: number;
}

/** The first instant of every simulated night: valve closed and lights off. */
export const nightStart_epochMs = Date.UTC(2026, 0, 5, 21);

function between(random: () => number, low: number, high: number): number {
  return low + (high - low) * random();
}

function betweenByFactor(random: () => number, low: number, high: number): number {
  return low * (high / low) ** random();
}

export function drawProbe(random: () => number): ProbeErrors {
  return {
    interval_min: [1, 2, 5, 5, 10][Math.floor(random() * 5)]!,
    noisePh: between(random, 0.004, 0.015),
    wanderPh: between(random, 0.002, 0.007),
    drift_pHPerDay: 0.01 * drawNormal(random),
    offsetPh: 0.06 * drawNormal(random),
    resolutionPh: random() < 0.7 ? 0.01 : 0.001,
    spike_ratio: between(random, 0, 0.01),
    dropout_ratio: between(random, 0, 0.1),
    kh_ratio: Math.exp(0.12 * drawNormal(random)),
  };
}

/** A tank, its probe and its room, drawn from what keepers have: k from 0.06 to 0.5 per hour, nights of 9 to 14 hours. */
export function drawNight(seed: number): { readonly night: SimulatedNight; readonly random: () => number } {
  const random = createRandomSource(seed);
  const kh_dKH = between(random, 2, 8);
  const set_degC = between(random, 22, 27);
  const night: SimulatedNight = {
    tank: {
      volume_L: between(random, 40, 300),
      kh_dKH,
      ionicStrength_molPerL: 0.002 + 0.0007 * kh_dKH,
      gasExchange_perH: betweenByFactor(random, 0.06, 0.5),
      aerationFactor: 5,
      diffuserEfficiency_ratio: 0.5,
      uptake_mgPerLPerH: between(random, 0.3, 1.5),
      halfSaturation_mgPerL: 6,
      respiration_mgPerLPerH: betweenByFactor(random, 0.1, 0.9),
      heater: { set_degC, hysteresis_K: 0.2, power_W: 150 },
      lampHeat_W: between(random, 10, 40),
      lossToRoom_WPerK: between(random, 3, 10),
      layers: {
        surface_ratio: between(random, 0.1, 0.3),
        mixing_perH: between(random, 1.5, 6),
        reference_degC: 25,
        schmidtExponent: between(random, 0.5, 0.667),
        respirationQ10: between(random, 1.5, 2.5),
        probeLag_h: between(random, 0.03, 0.2),
        lightRamp_h: between(random, 0.1, 0.3),
      },
    },
    probe: drawProbe(random),
    night_h: between(random, 9, 14),
    startCo2_mgPerL: between(random, 15, 40),
    room: {
      evening_ppm: between(random, 500, 1300),
      morning_ppm: between(random, 450, 1100),
      change_h: between(random, 0.5, 4),
    },
    room_degC: between(random, 17, 22),
    restless_ratio: between(random, 0, 0.5),
  };
  return { night, random };
}

/** What a slow probe error does over time: an hour's wander and a drift, drawn as it goes. */
export function createProbe(
  probe: ProbeErrors,
  random: () => number,
): (truePh: number, hour: number) => number | undefined {
  let wanderPh = probe.wanderPh * drawNormal(random);
  let last_h = 0;
  return (truePh, hour) => {
    const memory = Math.exp(-(hour - last_h));
    wanderPh = wanderPh * memory + probe.wanderPh * Math.sqrt(1 - memory ** 2) * drawNormal(random);
    last_h = hour;
    if (random() < probe.dropout_ratio) return undefined;
    const spikePh = random() < probe.spike_ratio ? (random() < 0.5 ? -0.3 : 0.3) : 0;
    const shown =
      truePh +
      probe.offsetPh +
      (probe.drift_pHPerDay * hour) / 24 +
      wanderPh +
      probe.noisePh * drawNormal(random) +
      spikePh;
    return Math.round(shown / probe.resolutionPh) * probe.resolutionPh;
  };
}

/** Dose that holds the start against surface and plants, so that the evening before the night is an ordinary one. */
export function holdingDose_mgPerLPerH(night: SimulatedNight): number {
  const { tank, startCo2_mgPerL } = night;
  const air_mgPerL = airEquilibriumCo2_mgPerL({
    temperature_degC: tank.heater.set_degC,
    co2_ppm: night.room.evening_ppm,
  });
  const uptake_mgPerLPerH =
    (tank.uptake_mgPerLPerH * startCo2_mgPerL) / (tank.halfSaturation_mgPerL + startCo2_mgPerL);
  return (
    tank.gasExchange_perH * (startCo2_mgPerL - air_mgPerL) + uptake_mgPerLPerH - tank.respiration_mgPerLPerH
  );
}

export function minuteInjection_mol(tank: SimulatedTankSpec, dose_mgPerLPerH: number): number {
  return (
    (dose_mgPerLPerH * tank.volume_L) / tank.diffuserEfficiency_ratio / molarMass_gPerMol.co2 / 1000 / 60
  );
}

/** The CO2 that the keeper's pH and hardness say. */
export function shownCo2_mgPerL(
  night: SimulatedNight,
  shown: { readonly pH: number; readonly temperature_degC: number },
): number {
  const { tank, probe } = night;
  return carbonateSpeciation({
    pH: shown.pH,
    alkalinity_meqPerL: alkalinityFromKh_meqPerL(tank.kh_dKH * probe.kh_ratio),
    temperature_degC: shown.temperature_degC,
    ionicStrength_molPerL: 0.005,
  }).co2_mgPerL;
}

/**
 * Three hours of an ordinary evening, then the night minute by minute, seen through the probe.
 * @param leak_ratio share of the evening's dose that goes on after the closing
 */
export function runNight(
  night: SimulatedNight,
  random: () => number,
  leak_ratio = 0,
): { readonly readings: readonly Co2Reading[]; readonly truth: NightTruth } {
  const { tank, probe, room } = night;
  const minuteDose_mol = minuteInjection_mol(tank, holdingDose_mgPerLPerH(night));
  const step: SimulatedTankStep = {
    duration_s: 60,
    injectedCo2_mol: minuteDose_mol,
    lightsOn: true,
    aerating: false,
    room_degC: night.room_degC,
    roomCo2_ppm: room.evening_ppm,
  };
  let state: SimulatedTankState = {
    co2_mgPerL: night.startCo2_mgPerL,
    temperature_degC: tank.heater.set_degC + 0.2,
    heaterOn: false,
  };
  for (let minute = 0; minute < 180; minute += 1) state = advanceTank(tank, state, step);
  const evening = state;
  const show = createProbe(probe, random);
  const readings: Co2Reading[] = [];
  let air_mgHPerL = 0;
  const minutes = Math.round(night.night_h * 60);
  for (let minute = 0; minute <= minutes; minute += 1) {
    const hour = minute / 60;
    if (minute % probe.interval_min === 0) {
      const pH = show(tankPh(tank, state), hour);
      const temperature_degC = Math.round(state.temperature_degC * 10) / 10;
      if (pH !== undefined) {
        readings.push({
          at_epochMs: nightStart_epochMs + minute * 60_000,
          co2_mgPerL: shownCo2_mgPerL(night, { pH, temperature_degC }),
          temperature_degC,
        });
      }
    }
    const roomCo2_ppm =
      room.morning_ppm + (room.evening_ppm - room.morning_ppm) * Math.exp(-hour / room.change_h);
    air_mgHPerL +=
      airEquilibriumCo2_mgPerL({ temperature_degC: state.temperature_degC, co2_ppm: roomCo2_ppm }) / 60;
    state = advanceTank(tank, night.change?.(hour, state) ?? state, {
      ...step,
      injectedCo2_mol: minuteDose_mol * leak_ratio,
      lightsOn: false,
      roomCo2_ppm,
      extraRespiration_mgPerLPerH: tank.respiration_mgPerLPerH * night.restless_ratio * Math.exp(-hour / 2),
      ...night.step?.(hour),
    });
  }
  const lost_mgPerL = (state.layers?.lost_mgPerL ?? NaN) - (evening.layers?.lost_mgPerL ?? NaN);
  const excess_mgHPerL = (state.layers?.excess_mgHPerL ?? NaN) - (evening.layers?.excess_mgHPerL ?? NaN);
  return {
    readings,
    truth: {
      k_perH: lost_mgPerL / excess_mgHPerL,
      night_h: night.night_h,
      startCo2_mgPerL: evening.co2_mgPerL,
      endCo2_mgPerL: state.co2_mgPerL,
      respiration_mgPerLPerH: tank.respiration_mgPerLPerH,
      airCo2_mgPerL: air_mgHPerL / night.night_h,
    },
  };
}

/**
 * The end of a night, the opening and the dark hours with gas before the lights, seen through the probe. Readings begin at the
 * opening, which is nightStart_epochMs here.
 */
export function runMorning(
  night: SimulatedNight,
  random: () => number,
  morning: { readonly lead_h: number; readonly dose_mgPerLPerH: number },
): { readonly readings: readonly Co2Reading[]; readonly endCo2_mgPerL: number } {
  const { tank, probe } = night;
  const step: SimulatedTankStep = {
    duration_s: 60,
    injectedCo2_mol: 0,
    lightsOn: false,
    aerating: false,
    room_degC: night.room_degC,
    roomCo2_ppm: night.room.morning_ppm,
  };
  const rest_mgPerL = 0.7 + tank.respiration_mgPerLPerH / tank.gasExchange_perH;
  let state: SimulatedTankState = {
    co2_mgPerL: rest_mgPerL + 0.15 * night.startCo2_mgPerL,
    temperature_degC: tank.heater.set_degC - 0.1,
    heaterOn: false,
  };
  for (let minute = 0; minute < 120; minute += 1) state = advanceTank(tank, state, step);
  const show = createProbe(probe, random);
  const readings: Co2Reading[] = [];
  for (let minute = 0; minute <= morning.lead_h * 60; minute += 1) {
    if (minute % probe.interval_min === 0) {
      const pH = show(tankPh(tank, state), minute / 60);
      const temperature_degC = Math.round(state.temperature_degC * 10) / 10;
      if (pH !== undefined) {
        readings.push({
          at_epochMs: nightStart_epochMs + minute * 60_000,
          co2_mgPerL: shownCo2_mgPerL(night, { pH, temperature_degC }),
          temperature_degC,
        });
      }
    }
    state = advanceTank(tank, state, {
      ...step,
      injectedCo2_mol: minuteInjection_mol(tank, morning.dose_mgPerLPerH),
    });
  }
  return { readings, endCo2_mgPerL: state.co2_mgPerL };
}

/** By what the keeper's hardness test and the probe's offset make every reading wrong. */
export function readingFactor(night: SimulatedNight): number {
  return night.probe.kh_ratio * 10 ** -night.probe.offsetPh;
}
