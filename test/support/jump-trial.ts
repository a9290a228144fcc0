import { drawNormal } from "../../lib/simulation/random-source.js";
import {
  advanceTank,
  tankPh,
  type SimulatedTankState,
  type SimulatedTankStep,
} from "../../lib/simulation/simulated-tank.js";
import { defaultCo2Limits, fastRise } from "../../lib/tank/co2-bands.js";
import { co2FromHardness } from "../../lib/tank/co2-from-hardness.js";
import { co2Jump, type JumpPoint } from "../../lib/tank/co2-jump.js";
import { createProbe, drawNight, holdingDose_mgPerLPerH, minuteInjection_mol } from "./simulated-nights.js";

/** What is done to a tank on one of its days. */
export type JumpDay =
  | "nothing"
  /** The probe hangs in air or stands in a rinsing glass for 3 to 150 minutes, then settles with a time constant of 0.5 to 4. */
  | "probe out and back"
  /** The probe is silent for a quarter of an hour to hours, and comes back from somewhere, slower. */
  | "probe unplugged"
  /** A third of the water, of another hardness and CO2; in the journal when it is done. */
  | "water change"
  /** The flow goes to so much that CO2 climbs by 12 to 40 mg/L in ten minutes. */
  | "flow bursts"
  /** One reading in fifty is off by 0.3 pH. */
  | "spikes";

export interface JumpRow {
  readonly k_perH: number;
  readonly interval_min: number;
  /** Of the day's first trip by a jump; undefined where there was none. */
  readonly told_min: number | undefined;
  /** When the CO2 had really gone up by more than the limit within half an hour, above the target. */
  readonly due_min: number | undefined;
}

/** Gas flows for so many minutes; the first two hours bring the tank to its day. */
const day_min = 600;
const base_monotonicMs = 0;

/** One day with gas and light on, above the target of 30, through the probe of a keeper. */
export function jumpRow(seed: number, day: JumpDay): JumpRow {
  const { night, random } = drawNight(seed);
  const start_mgPerL = 31 + 6 * random();
  const held = { ...night, startCo2_mgPerL: start_mgPerL };
  const { tank } = held;
  const probe = {
    ...night.probe,
    offsetPh: 0,
    kh_ratio: 1,
    spike_ratio: day === "spikes" ? 0.02 : night.probe.spike_ratio,
  };
  const show = createProbe(probe, random);
  const dose_mgPerLPerH = holdingDose_mgPerLPerH(held);
  const at_min = 200 + Math.floor(200 * random());
  const out_min = Math.round(3 * 50 ** random());
  const settling_min = 0.5 * 8 ** random();
  const slowSettling_min = 2 * 4 ** random();
  const silent_min = 15 + Math.round(150 * random());
  const outsidePh = 6.9 + 1.8 * random();
  const burst_mgPerLPerH = 6 * (12 + 28 * random());
  const burst_min = 10 + Math.round(5 * random());
  const changed = {
    share: 0.2 + 0.3 * random(),
    co2_mgPerL: 2 + 38 * random(),
    kh_ratio: 0.7 + 0.5 * random(),
  };
  let spec = tank;
  let state: SimulatedTankState = {
    co2_mgPerL: start_mgPerL,
    temperature_degC: tank.heater.set_degC + 0.2,
    heaterOn: false,
  };
  const step: SimulatedTankStep = {
    duration_s: 60,
    injectedCo2_mol: 0,
    lightsOn: true,
    aerating: false,
    room_degC: held.room_degC,
    roomCo2_ppm: held.room.evening_ppm,
  };
  let seen: { readonly pH: number; readonly at_min: number } | undefined;
  let points: JumpPoint[] = [];
  const truth: number[] = [];
  let told_min: number | undefined;
  let due_min: number | undefined;
  for (let minute = 0; minute < day_min; minute += 1) {
    const isBurst = day === "flow bursts" && minute >= at_min && minute < at_min + burst_min;
    if (day === "water change" && minute === at_min) {
      const { share } = changed;
      spec = { ...spec, kh_dKH: spec.kh_dKH * (1 - share + share * changed.kh_ratio) };
      const mixed = (co2_mgPerL: number): number => (1 - share) * co2_mgPerL + share * changed.co2_mgPerL;
      const { temperature_degC, heaterOn } = state;
      state = { co2_mgPerL: mixed(state.co2_mgPerL), temperature_degC, heaterOn };
    }
    state = advanceTank(spec, state, {
      ...step,
      injectedCo2_mol: minuteInjection_mol(tank, dose_mgPerLPerH + (isBurst ? burst_mgPerLPerH : 0)),
    });
    truth.push(state.co2_mgPerL);
    const before = Math.min(...truth.slice(-30));
    if (state.co2_mgPerL > 30 && state.co2_mgPerL - before > defaultCo2Limits.co2Rise_mgPerLPer30Min) {
      due_min ??= minute;
    }
    const truePh = tankPh(spec, state);
    const sinceOut_min = minute - at_min;
    const isOut = day === "probe out and back" && sinceOut_min >= 0 && sinceOut_min < out_min;
    const isSilent = day === "probe unplugged" && sinceOut_min >= 0 && sinceOut_min < silent_min;
    const back_min =
      day === "probe out and back"
        ? sinceOut_min - out_min
        : day === "probe unplugged"
          ? sinceOut_min - silent_min
          : -1;
    const settles_min = day === "probe out and back" ? settling_min : slowSettling_min;
    const fromOutside = back_min < 0 ? 0 : Math.exp(-(back_min + 1) / settles_min);
    const wettedPh = isOut
      ? outsidePh + 0.05 * drawNormal(random)
      : truePh + (outsidePh - truePh) * fromOutside;
    if (minute % probe.interval_min === 0 && !isSilent) {
      const pH = show(wettedPh, minute / 60);
      if (pH !== undefined) seen = { pH, at_min: minute };
    }
    if (isSilent || seen === undefined || minute - seen.at_min > 30) continue;
    // As the daemon keeps it: each minute for half an hour, and each five before.
    points = points.filter(
      ({ at_monotonicMs }) =>
        at_monotonicMs > base_monotonicMs + (minute - 35) * 60_000 || (at_monotonicMs / 60_000) % 5 === 0,
    );
    points.push({ at_monotonicMs: minute * 60_000, pH: seen.pH, readAt_epochMs: seen.at_min * 60_000 });
    const { co2_mgPerL } = co2FromHardness({
      pH: seen.pH,
      kh_dKH: tank.kh_dKH,
      temperature_degC: tank.heater.set_degC,
    });
    const estimate = { co2_mgPerL, co2High80_mgPerL: co2_mgPerL };
    if (told_min !== undefined || co2_mgPerL <= defaultCo2Limits.co2TargetHigh_mgPerL) continue;
    const jump = co2Jump(points, {
      now_monotonicMs: minute * 60_000,
      present: { co2_mgPerL, pH: seen.pH },
      waterChanged_monotonicMs: day === "water change" && minute >= at_min ? at_min * 60_000 : undefined,
    });
    if (fastRise({ estimate, rise: undefined, jump }, defaultCo2Limits) !== undefined) told_min = minute;
  }
  return { k_perH: tank.gasExchange_perH, interval_min: probe.interval_min, told_min, due_min };
}
