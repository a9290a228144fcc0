import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import type { DrawnCharge } from "./drawn-charge.js";
import { needleFlow_molPerH, regulatorOutletGauge_bar } from "./gas-path.js";
import { createRoomClimate } from "./room-climate.js";
import type { SupplyTruth } from "./simulated-charge.js";
import { plannedOpenSpans, type UseHabits } from "./simulated-use.js";

const step_s = 600;
const step_ms = step_s * 1000;
const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;

/** A hand on the valve lasts 30 to 175 minutes, as simulated-use draws it. */
const byHand_h = 1.7;

/** What skipped days and hands on the valve come to on average, as a factor on the flow. */
function expectedUse_ratio(drawn: DrawnCharge): number {
  const { habits, told } = drawn;
  const open_h = told.windows.reduce((sum, window) => sum + window.closes_min - window.opens_min, 0) / 60;
  const cut_ratio = Math.min(1, (byHand_h * told.windows.length) / open_h);
  return (
    (1 - habits.skippedDay_ratio) * (1 - habits.closedByHand_ratio * cut_ratio) +
    (habits.openedByHand_ratio * byHand_h) / open_h
  );
}

const noHabits: UseHabits = {
  skippedDay_ratio: 0,
  openedByHand_ratio: 0,
  closedByHand_ratio: 0,
  needleTouched_days: Infinity,
  needleTouch_ln: 0,
  flowWander_ln: 0,
};

/**
 * When the gauge falls to the working pressure for good, as somebody would forecast who knew all that is true at an instant
 * (contents, flow, regulator, habits, season) and nothing of the chance to come. No estimator can be expected to do
 * better; what it misses by is the part of a run-out's error that lies in people and weather. Undefined: not within
 * half a year.
 */
export function idealRunOut_epochMs(drawn: DrawnCharge, now: SupplyTruth): number | undefined {
  const until_epochMs = now.at_epochMs + 183 * day_ms;
  const steady = (): number => 0.5;
  const roomAt = createRoomClimate({ ...drawn.climate, wander_K: 0 }, steady);
  const spans = plannedOpenSpans(
    {
      windows: drawn.told.windows,
      timeZone: drawn.told.timeZone,
      // The window that is open now opened before now.
      from_epochMs: now.at_epochMs - day_ms,
      to_epochMs: until_epochMs,
      habits: noHabits,
    },
    steady,
  );
  const use_ratio = expectedUse_ratio(drawn);
  const working_bar = drawn.told.workingPressureGauge_bar;
  let { vessel } = now;
  let span = 0;
  let lastAbove_epochMs = now.at_epochMs;
  for (let at_epochMs = now.at_epochMs; at_epochMs < until_epochMs; at_epochMs += step_ms) {
    const { pressureGauge_bar } = vessel;
    if (pressureGauge_bar >= working_bar) lastAbove_epochMs = at_epochMs;
    else if (at_epochMs - lastAbove_epochMs > 36 * hour_ms) return lastAbove_epochMs + step_ms;
    while ((spans[span]?.to_epochMs ?? Infinity) <= at_epochMs) span += 1;
    const open =
      at_epochMs >= drawn.dosingFrom_epochMs && at_epochMs >= (spans[span]?.from_epochMs ?? Infinity);
    const flow_molPerH = needleFlow_molPerH({
      conductance_molPerHBar: drawn.needle_molPerHBar * now.opening_ratio,
      inletGauge_bar: regulatorOutletGauge_bar(drawn.regulator, pressureGauge_bar),
      outletGauge_bar: drawn.diffuserGauge_bar,
    });
    const leak_molPerH = now.leak_gPerDay / 24 / molarMass_gPerMol.co2;
    const withdrawn_mol = (((open ? use_ratio * flow_molPerH : 0) + leak_molPerH) * step_s) / 3600;
    ({ vessel } = vessel.advance({
      duration_s: step_s,
      room_degC: roomAt(at_epochMs + step_ms),
      withdrawn_mol,
    }));
  }
  return undefined;
}
