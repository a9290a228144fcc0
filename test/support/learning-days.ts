import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import { createRandomSource, drawNormal } from "../../lib/simulation/random-source.js";
import { advanceTank, tankPh } from "../../lib/simulation/simulated-tank.js";
import type { SimulatedTankSpec, SimulatedTankState } from "../../lib/simulation/simulated-tank.js";
import { co2FromHardness } from "../../lib/tank/co2-from-hardness.js";
import { runLearningJob, type LearningJob } from "../../lib/tank/tank-learning-job.js";
import { emptyTankLearning, type TankLearning } from "../../lib/tank/tank-learning-state.js";
import type { LearningMinute } from "../../lib/tank/learning-minute.js";
import { withLearningResult } from "../../lib/tank/learning-results.js";
import { stepLearning } from "../../lib/tank/tank-learning.js";

/** An invented tank with the finer water: k 0.22 per hour, 100 L. */
export const learningTank: SimulatedTankSpec = {
  volume_L: 100,
  kh_dKH: 5,
  ionicStrength_molPerL: 0.0065,
  gasExchange_perH: 0.22,
  aerationFactor: 5,
  diffuserEfficiency_ratio: 0.6,
  uptake_mgPerLPerH: 0.8,
  halfSaturation_mgPerL: 6,
  respiration_mgPerLPerH: 0.35,
  heater: { set_degC: 24.5, hysteresis_K: 0.2, power_W: 150 },
  lampHeat_W: 20,
  lossToRoom_WPerK: 6,
  layers: {
    surface_ratio: 0.2,
    mixing_perH: 4,
    reference_degC: 25,
    schmidtExponent: 0.5,
    respirationQ10: 2,
    probeLag_h: 0.05,
    lightRamp_h: 0.2,
  },
};

export const learningWater = { kh_dKH: learningTank.kh_dKH, salts: {} };

/** Midnight at the start of the first day. */
export const learningStart_epochMs = Date.UTC(2026, 4, 1);
const minute_ms = 60_000;

/** Minutes of the day: gas 540 less the longer lead to 1110, lights 600 to 1140. */
const lightsOn_min = 600;
export const lightsOff_min = 1140;
const gasOff_min = 1110;

export interface LearningDaysOptions {
  readonly lead_min?: number;
  /** What the minute shows in place of the ordinary; undefined for an ordinary one. */
  readonly shown?: (minuteOfAll: number) => Partial<LearningMinute> | undefined;
  /** Gas that flows at this minute over the ordinary flow; undefined for what the clock says. */
  readonly flow?: (minuteOfAll: number) => number | undefined;
  /** Whether the lights are on at a minute of the day, in place of the ordinary ten hours. */
  readonly lightsAt?: (minuteOfDay: number) => boolean;
  readonly tank?: SimulatedTankSpec;
  readonly state?: TankLearning;
  readonly seed?: number;
  /** Hears each fit as it is made. */
  readonly asked?: (job: LearningJob) => void;
  /** Hears each minute as it is taken. */
  readonly each?: (minute: LearningMinute) => void;
  /** Looks at the state after each minute, and may take it through a restart. */
  readonly after?: (state: TankLearning, minuteOfAll: number) => TankLearning;
}

/** Days of a simulated tank, minute by minute, seen through a probe with noise, an hour's wander and two decimals. */
export function runLearningDays(days: number, options: LearningDaysOptions = {}): TankLearning {
  const tank = options.tank ?? learningTank;
  const lead_min = options.lead_min ?? 90;
  const random = createRandomSource(options.seed ?? 11);
  const dose_mgPerLPerH = 5;
  const injection_mol =
    (dose_mgPerLPerH * tank.volume_L) / tank.diffuserEfficiency_ratio / molarMass_gPerMol.co2 / 1000 / 60;
  let water: SimulatedTankState = { co2_mgPerL: 4, temperature_degC: 24.6, heaterOn: false };
  let state = options.state ?? emptyTankLearning;
  let wanderPh = 0;
  for (let minute = 0; minute < days * 1440; minute += 1) {
    const ofDay = minute % 1440;
    const lightsAreOn = options.lightsAt?.(ofDay) ?? (ofDay >= lightsOn_min && ofDay < lightsOff_min);
    const isOpen = ofDay >= lightsOn_min - lead_min && ofDay < gasOff_min;
    const now_epochMs = learningStart_epochMs + minute * minute_ms;
    const dayStart_epochMs = learningStart_epochMs + Math.floor(minute / 1440) * 1440 * minute_ms;
    const nextOn_epochMs = dayStart_epochMs + (lightsOn_min + (ofDay >= lightsOn_min ? 1440 : 0)) * minute_ms;
    const memory = Math.exp(-1 / 60);
    wanderPh = wanderPh * memory + 0.004 * Math.sqrt(1 - memory ** 2) * drawNormal(random);
    const pH = Math.round((tankPh(tank, water) + wanderPh + 0.006 * drawNormal(random)) * 100) / 100;
    const temperature_degC = Math.round(water.temperature_degC * 10) / 10;
    const shown = options.shown?.(minute);
    const taken: LearningMinute = {
      now_epochMs,
      pH,
      temperature_degC,
      correction: "",
      water: learningWater,
      estimate: {
        co2_mgPerL: co2FromHardness({ pH, temperature_degC, ...learningWater, kh_dKH: tank.kh_dKH })
          .co2_mgPerL,
        co2Sigma_ln: 0.15,
      },
      gas: isOpen ? "on" : "confirmed off",
      lightsAreOn,
      lightsOn_epochMs: lightsAreOn ? undefined : nextOn_epochMs,
      lightsOff_epochMs: lightsAreOn
        ? undefined
        : dayStart_epochMs + (lightsOff_min - (ofDay < lightsOn_min ? 1440 : 0)) * minute_ms,
      opens_epochMs: isOpen ? undefined : nextOn_epochMs - lead_min * minute_ms,
      aeration: "off",
      waterChanges_epochMs: [],
      limits: { co2TargetLow_mgPerL: 15, co2Alarm_mgPerL: 40 },
      ...shown,
    };
    options.each?.(taken);
    state = stepLearning(state, taken);
    for (let [job] = state.due; job !== undefined; [job] = state.due) {
      options.asked?.(job);
      state = withLearningResult(state, job, runLearningJob(job));
    }
    state = options.after?.(state, minute) ?? state;
    water = advanceTank(tank, water, {
      duration_s: 60,
      injectedCo2_mol: injection_mol * (options.flow?.(minute) ?? (isOpen ? 1 : 0)),
      lightsOn: lightsAreOn,
      aerating: false,
      room_degC: 20,
      roomCo2_ppm: 650,
    });
  }
  return state;
}
