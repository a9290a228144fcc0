import type { SupplyModel } from "./supply-model.js";
import { settlingSpread } from "./supply-spreads.js";
import type { GatheredReadings } from "./supply-state.js";
import type { SupplyReading } from "./supply-trace.js";

const hour_ms = 3_600_000;
/** Rows further apart than this leave it open what the valve did; the calendar tells. */
export const seamless_ms = 20 * 60_000;
const longestHeld_ms = 4 * 24 * hour_ms;

/** Time constants after which a fiftieth still waits. */
const usableAfterTimeConstants = 4;

export type ValveRow = Pick<SupplyReading, "at_epochMs" | "valveOpen">;

/**
 * Hours that the valve was open between two rows. Close together, the earlier row's state held; so it did in a log that has a row
 * for every change of the valve. Else the windows tell, unless over a short gap one of the rows contradicts them.
 */
function openHours(
  model: SupplyModel,
  from: ValveRow,
  to: ValveRow,
  changesLogged: boolean,
): { readonly open_h: number; readonly guessedOpen_h: number } {
  const elapsed_ms = to.at_epochMs - from.at_epochMs;
  const held = { open_h: from.valveOpen ? elapsed_ms / hour_ms : 0, guessedOpen_h: 0 };
  if (elapsed_ms <= seamless_ms || (changesLogged && elapsed_ms < longestHeld_ms)) return held;
  const short = elapsed_ms <= 24 * hour_ms;
  if (!model.hasWindows) return { ...held, guessedOpen_h: held.open_h };
  const agrees =
    model.spans.hasOpenAt(from.at_epochMs) === from.valveOpen &&
    model.spans.hasOpenAt(to.at_epochMs) === to.valveOpen;
  if (short && !agrees) return { ...held, guessedOpen_h: held.open_h };
  const open_h = model.spans.openBetween_h(
    Math.min(to.at_epochMs, Math.max(from.at_epochMs, usableFrom_epochMs(model))),
    to.at_epochMs,
  );
  return { open_h, guessedOpen_h: elapsed_ms <= 2 * hour_ms ? 0 : open_h };
}

/** Before a fresh charge has all but reacted nobody doses from it, whatever the calendar says. */
function usableFrom_epochMs({ charge }: SupplyModel): number {
  if (charge.settled) return charge.closedAt_epochMs;
  const settling_h = charge.closedWith === "ice" ? settlingSpread.ice_h : settlingSpread.water_h;
  return charge.closedAt_epochMs + usableAfterTimeConstants * settling_h * hour_ms;
}

/** Differences that are no step of a gauge but its arithmetic. */
const leastStep_bar = 1e-4;

function pressureStepAfter(before: GatheredReadings, pressure_bar: number | undefined): number {
  const { lastPressure_bar, pressureStep_bar } = before;
  if (pressure_bar === undefined || lastPressure_bar === undefined) return pressureStep_bar;
  const difference_bar = Math.abs(pressure_bar - lastPressure_bar);
  if (difference_bar < leastStep_bar) return pressureStep_bar;
  return pressureStep_bar === 0 ? Math.min(0.5, difference_bar) : Math.min(pressureStep_bar, difference_bar);
}

/** How sure it is, 0 to 1, that the log has a row for every change: each change that falls on a row speaks for it. */
function changesLoggedAfter(model: SupplyModel, before: GatheredReadings, reading: SupplyReading): number {
  const elapsed_ms = reading.at_epochMs - before.last_epochMs;
  if (elapsed_ms <= seamless_ms) return before.changesLogged;
  if (reading.valveOpen !== before.lastOpen && reading.pressureGauge_bar === undefined) {
    return before.changesLogged + 0.3 * (1 - before.changesLogged);
  }
  const passed_h = model.spans.openBetween_h(before.last_epochMs, reading.at_epochMs);
  const wholeWindow = reading.valveOpen === before.lastOpen && passed_h >= 1 && !before.lastOpen;
  return wholeWindow && model.hasWindows ? 0.85 * before.changesLogged : before.changesLogged;
}

/** What is known of the log goes on; what waited has been taken. */
export function nothingGathered(
  after: ValveRow,
  known: Pick<GatheredReadings, "changesLogged" | "lastPressure_bar" | "pressureStep_bar">,
): GatheredReadings {
  const { changesLogged, lastPressure_bar, pressureStep_bar } = known;
  return {
    last_epochMs: after.at_epochMs,
    lastOpen: after.valveOpen,
    changesLogged,
    lastPressure_bar,
    pressureStep_bar,
    open_h: 0,
    guessedOpen_h: 0,
    pressureSum_bar: 0,
    pressureCount: 0,
    temperatureSum_degC: 0,
    temperatureCount: 0,
    massSum_g: 0,
    massCount: 0,
    byEye: false,
  };
}

/** A row put to those that wait, with the hours that the valve was open before it. */
export function gatheredWith(
  model: SupplyModel,
  before: GatheredReadings,
  reading: SupplyReading,
): GatheredReadings {
  const { open_h, guessedOpen_h } =
    reading.at_epochMs > before.last_epochMs
      ? openHours(
          model,
          { at_epochMs: before.last_epochMs, valveOpen: before.lastOpen },
          reading,
          before.changesLogged > 0.5,
        )
      : { open_h: 0, guessedOpen_h: 0 };
  const { pressureGauge_bar, temperature_degC, vesselMass_g } = reading;
  return {
    last_epochMs: Math.max(before.last_epochMs, reading.at_epochMs),
    lastOpen: reading.valveOpen,
    changesLogged: changesLoggedAfter(model, before, reading),
    lastPressure_bar: pressureGauge_bar ?? before.lastPressure_bar,
    pressureStep_bar: pressureStepAfter(before, pressureGauge_bar),
    open_h: before.open_h + open_h,
    guessedOpen_h: before.guessedOpen_h + guessedOpen_h,
    pressureSum_bar: before.pressureSum_bar + (pressureGauge_bar ?? 0),
    pressureCount: before.pressureCount + Number(pressureGauge_bar !== undefined),
    temperatureSum_degC: before.temperatureSum_degC + (temperature_degC ?? 0),
    temperatureCount: before.temperatureCount + Number(temperature_degC !== undefined),
    massSum_g: before.massSum_g + (vesselMass_g ?? 0),
    massCount: before.massCount + Number(vesselMass_g !== undefined),
    byEye: before.byEye || (reading.byEye === true && pressureGauge_bar !== undefined),
  };
}
