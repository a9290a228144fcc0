import { createChargePressureMap, type ChargePressureMap } from "../../lib/estimation/charge-pressure-map.js";
import { openSpansOfCalendars, type OpenSpans } from "../../lib/estimation/open-spans.js";
import { supplyEstimate, type SupplyEstimate } from "../../lib/estimation/supply-estimate.js";
import { firstSupplyState, stepSupply } from "../../lib/estimation/supply-filter.js";
import { chargeOf, createSupplyModel, type SupplyModel } from "../../lib/estimation/supply-model.js";
import { flowMultiplier } from "../../lib/estimation/supply-motion.js";
import { expectedGauge } from "../../lib/estimation/supply-observation.js";
import { supplyBelief } from "../../lib/estimation/supply-belief.js";
import { component as c, type SupplyState } from "../../lib/estimation/supply-state.js";
import type { SuppliedCharge, SupplyReading } from "../../lib/estimation/supply-trace.js";
import { createDosingCalendar, type DosingCalendar } from "../../lib/schedule/dosing-calendar.js";
import { overriddenCalendar, type OverriddenSpan } from "../../lib/schedule/overridden-calendar.js";
import type { DosingRule } from "../../lib/schedule/dosing-windows.js";
import { openedState } from "../../lib/estimation/opened-state.js";
import {
  createSupplyWatchModel,
  firstSupplyWatchState,
  pressurisingVerdictOf,
  stepSupplyWatch,
  watchWarnings,
  type SupplyWatchModel,
  type SupplyWatchState,
  type WatchedVessel,
} from "../../lib/supply-watch/supply-watch.js";
import {
  firstEndOfChargeState,
  patienceWithMeans,
  stepEndOfCharge,
  type EndOfChargeState,
} from "../../lib/supply-watch/end-of-charge.js";
import type { PressurisingVerdict } from "../../lib/supply-watch/pressurising-verdict.js";
import { surgeOutlook, type SurgeOutlook } from "../../lib/supply-watch/surge-outlook.js";
import {
  surgeVerdict,
  surgeWarningsOf,
  type SurgeSign,
  type SurgeVerdict,
} from "../../lib/supply-watch/surge-verdict.js";
import { untilSurge_days } from "../../lib/supply-watch/until-surge.js";
import { endLook } from "./end-look.js";
import { massDoubtOf, type MassDoubt } from "./mass-doubt.js";
import { doubtOf, type PressureDoubt } from "./pressure-doubt.js";
import { refillAdvice, type RefillAdvice, type RefillWishes } from "./refill-advice.js";
import { mergedReadings, type EnteredReading } from "./supply-rows.js";

/** A valve on the vessel: the rules of the tanks that it feeds. */
export interface SupplyValve {
  readonly valveId: string;
  readonly rules: readonly DosingRule[];
  readonly overrides: readonly OverriddenSpan[];
}

/** The filter with the row up to which it has been taken. */
export interface SupplyCheckpoint {
  readonly upTo_epochMs: number;
  readonly state: SupplyState;
  readonly watch: SupplyWatchState;
  readonly doubt: PressureDoubt | undefined;
  readonly end: EndOfChargeState;
  /** When a sensor last told the pressure; undefined: never. */
  readonly sensor_epochMs: number | undefined;
}

/** Everything that an estimate is made from: plain data, for a thread of its own. */
export interface SupplyJob {
  readonly vesselId: string;
  readonly charge: SuppliedCharge;
  readonly valves: readonly SupplyValve[];
  readonly vessel: WatchedVessel;
  /** Undefined: from the beginning of the charge. */
  readonly start: SupplyCheckpoint | undefined;
  readonly rows: readonly SupplyReading[];
  readonly entries: readonly EnteredReading[];
  readonly at_epochMs: number;
  /** The state after the last row at or before this is wanted too. */
  readonly checkpointAt_epochMs: number | undefined;
  /** What was seen behind the regulator. */
  readonly surgeSigns: readonly SurgeSign[];
  /** Advice on the refill is wanted too: it takes some tenths of a second. */
  readonly refill: RefillWishes | undefined;
}

/** What becomes of the flow as the vessel empties. */
export interface ToldSurge {
  readonly outlook: SurgeOutlook;
  readonly verdict: SurgeVerdict;
  readonly signs: readonly SurgeSign[];
  /** Until the flow is a third above what was set; undefined: never with this charge. */
  readonly untilSurge_days: number | undefined;
}

export interface SupplyUse {
  /** While dosing, over the whole day; leak not included. */
  readonly dosing_gPerDay: number;
  readonly byValve: readonly { readonly valveId: string; readonly co2_gPerDay: number }[];
}

export interface SupplyResult {
  readonly latest: SupplyCheckpoint;
  readonly checkpoint: SupplyCheckpoint | undefined;
  readonly estimate: SupplyEstimate;
  readonly use: SupplyUse;
  readonly refill: RefillAdvice | undefined;
  /** Undefined while the charge reacts. */
  readonly surge: ToldSurge | undefined;
  /** How a fresh charge comes on; undefined: its reaction is over, or nothing was read. */
  readonly pressurising: PressurisingVerdict | undefined;
  readonly pressureRead_epochMs: number | undefined;
  /** The charge as it was put in, g. */
  readonly charge_g: number;
}

/** Use per day is told over so many coming days. */
const useSpan_days = 28;
const day_ms = 86_400_000;
/** Of pressure maps and calendars; a home has few vessels. */
const keptModels = 8;

/** Where jobs are done: it keeps the tables that take long to make. */
export interface SupplyWorkshop {
  /** @throws OutOfValidRangeError, NoConvergenceError, UnknownNameError for a charge or calendar that cannot be */
  run(job: SupplyJob): SupplyResult;
}

export function createSupplyWorkshop(): SupplyWorkshop {
  const maps = createMemo<ChargePressureMap>();
  const spans = createMemo<ValveSpans>();
  const watches = createMemo<SupplyWatchModel>();
  return {
    run(job) {
      const { charge, valves, vessel } = job;
      const map = maps(JSON.stringify(chargeOf(charge)), () => createChargePressureMap(chargeOf(charge)));
      const calendars = spans(JSON.stringify([charge.timeZone, charge.closedAt_epochMs, valves]), () =>
        spansOf(job),
      );
      const model = createSupplyModel(charge, { map, spans: calendars.all });
      const watch = watches(JSON.stringify([charge, valves, vessel]), () =>
        createSupplyWatchModel(model, vessel),
      );
      return resultOf(job, { model, watch, calendars });
    },
  };
}

interface ValveSpans {
  readonly all: OpenSpans;
  readonly byValve: readonly {
    readonly valveId: string;
    readonly calendar: DosingCalendar;
    readonly spans: OpenSpans;
  }[];
}

function spansOf({ charge, valves }: SupplyJob): ValveSpans {
  const { closedAt_epochMs, timeZone } = charge;
  const calendars = valves.map(({ valveId, rules, overrides }) => ({
    valveId,
    calendar: overriddenCalendar(createDosingCalendar(rules, timeZone), overrides),
  }));
  return {
    all: openSpansOfCalendars(
      calendars.map(({ calendar }) => calendar),
      closedAt_epochMs,
    ),
    byValve: calendars.map(({ valveId, calendar }) => ({
      valveId,
      calendar,
      spans: openSpansOfCalendars([calendar], closedAt_epochMs),
    })),
  };
}

function resultOf(
  job: SupplyJob,
  made: {
    readonly model: SupplyModel;
    readonly watch: SupplyWatchModel;
    readonly calendars: ValveSpans;
  },
): SupplyResult {
  const { at_epochMs, charge } = job;
  const { model, calendars } = made;
  let state = job.start?.state;
  let watch = job.start?.watch ?? firstSupplyWatchState;
  let doubt = job.start?.doubt;
  let massDoubt: MassDoubt | undefined;
  let end = job.start?.end ?? firstEndOfChargeState;
  let upTo_epochMs = job.start?.upTo_epochMs ?? charge.closedAt_epochMs;
  let sensor_epochMs = job.start?.sensor_epochMs;
  let checkpoint: SupplyCheckpoint | undefined;
  const merged = mergedReadings(
    job.rows,
    job.entries,
    { valveOpen: state?.gathered.lastOpen, sensor_epochMs },
    (at) => model.spans.hasOpenAt(at),
  );
  const checkpointAt_epochMs = job.checkpointAt_epochMs ?? Infinity;
  for (const { reading, fromSensor, from } of merged) {
    if (checkpoint === undefined && state !== undefined && reading.at_epochMs > checkpointAt_epochMs) {
      checkpoint = { upTo_epochMs, state, watch, doubt, end, sensor_epochMs };
    }
    state ??= begunSupply(model, reading);
    const { pressureGauge_bar, vesselMass_g, ...others } = reading;
    if (pressureGauge_bar !== undefined) doubt = doubtOf(model, state, pressureGauge_bar);
    if (vesselMass_g !== undefined) massDoubt = massDoubtOf(model, state, vesselMass_g);
    const isWeighed = vesselMass_g !== undefined && massDoubt === undefined;
    const rest = isWeighed ? { ...others, vesselMass_g } : others;
    if (fromSensor) sensor_epochMs = reading.at_epochMs;
    const believed =
      pressureGauge_bar === undefined || doubt !== undefined ? rest : { ...rest, pressureGauge_bar };
    const watched = stepSupplyWatch(made.watch, watch, believed);
    watch = watched.state;
    state = openedState(stepSupply(model, state, believed), watched.openings);
    const look = endLook(model, state, believed, end.held !== undefined);
    if (look !== undefined) end = stepEndOfCharge(end, { ...look, from }, patienceWithMeans);
    upTo_epochMs = reading.at_epochMs;
  }
  state ??= begunSupply(model, { at_epochMs, valveOpen: false });
  const estimate = supplyEstimate(model, state, at_epochMs, [
    (_model, at, belief) => watchWarnings(made.watch, watch, belief, at.at_epochMs),
  ]);
  const surge = surgeOf(job, model, state, estimate);
  const ofSurge = surge === undefined ? [] : surgeWarningsOf(surge.outlook, surge.verdict);
  const warnings = [
    // Of a flow that creeps the surge says more.
    ...estimate.warnings.filter(({ id }) => ofSurge.length === 0 || id !== "flow-creeps"),
    ...ofSurge,
    ...[doubt, massDoubt].filter((found) => found !== undefined),
  ];
  return {
    latest: { upTo_epochMs, state, watch, doubt, end, sensor_epochMs },
    checkpoint,
    estimate: { ...estimate, warnings },
    surge,
    pressurising:
      at_epochMs < made.watch.settled_epochMs ? pressurisingVerdictOf(made.watch, watch) : undefined,
    use: useOf(model, state, estimate, calendars),
    refill:
      job.refill === undefined
        ? undefined
        : refillAdvice(
            model,
            estimate,
            calendars.byValve.map(({ calendar }) => calendar),
            job.refill,
          ),
    pressureRead_epochMs: state.pressureRead_epochMs,
    charge_g: model.map.co2Available_g,
  };
}

function surgeOf(
  job: SupplyJob,
  model: SupplyModel,
  state: SupplyState,
  estimate: SupplyEstimate,
): ToldSurge | undefined {
  if (estimate.phase === "settling") return undefined;
  const belief = supplyBelief(state);
  const outlook = surgeOutlook(model, belief);
  const left_days = untilSurge_days(model, belief, outlook, estimate.dosingLeft_days);
  const at = { now_epochMs: job.at_epochMs, untilSurge_days: left_days };
  return {
    outlook,
    verdict: surgeVerdict(outlook, job.surgeSigns, at),
    signs: job.surgeSigns,
    untilSurge_days: left_days,
  };
}

/** The daemon has a row for every change of a valve, which a trace must first show. */
export function begunSupply(model: SupplyModel, first: SupplyReading): SupplyState {
  const state = firstSupplyState(model, first);
  return { ...state, gathered: { ...state.gathered, changesLogged: 1 } };
}

function useOf(
  model: SupplyModel,
  state: SupplyState,
  estimate: SupplyEstimate,
  calendars: ValveSpans,
): SupplyUse {
  const from_epochMs = estimate.at_epochMs;
  const perDay_h = (spans: OpenSpans): number =>
    spans.openBetween_h(from_epochMs, from_epochMs + useSpan_days * day_ms) / useSpan_days;
  const { mean } = supplyBelief(state);
  const multiplier = flowMultiplier(mean[c.supplyEffect] ?? 0, expectedGauge(model, mean).inletGauge_bar);
  const perHour_g = Math.max(0, estimate.flow_gPerH.value) * multiplier * state.use.mean_ratio;
  const dosing_gPerDay = perHour_g * perDay_h(calendars.all);
  const hours = calendars.byValve.map(({ valveId, spans }) => ({ valveId, open_h: perDay_h(spans) }));
  const total_h = hours.reduce((sum, { open_h }) => sum + open_h, 0);
  return {
    dosing_gPerDay,
    // The gauge sees all valves as one: each is given its share of the open hours.
    byValve: hours.map(({ valveId, open_h }) => ({
      valveId,
      co2_gPerDay: total_h > 0 ? (dosing_gPerDay * open_h) / total_h : 0,
    })),
  };
}

/** The newest few of what was made, by its key. */
function createMemo<Value>(): (key: string, make: () => Value) => Value {
  const kept = new Map<string, Value>();
  return (key, make) => {
    const known = kept.get(key);
    const value = known ?? make();
    kept.delete(key);
    kept.set(key, value);
    if (kept.size > keptModels) {
      for (const oldest of kept.keys()) {
        kept.delete(oldest);
        break;
      }
    }
    return value;
  };
}
