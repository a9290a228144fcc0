import type { SupplyOpening } from "../estimation/opened-state.js";
import type { SupplyBelief } from "../estimation/supply-belief.js";
import type { SupplyWarning } from "../estimation/supply-estimate.js";
import type { SupplyModel } from "../estimation/supply-model.js";
import type { SupplyReading } from "../estimation/supply-trace.js";
import { normalQuantile95 } from "../numerics/normal-distribution.js";
import { bothWays } from "../told/plain-text.js";
import { bar, grams, said, saidList } from "../told/said.js";
import { flowCandidates, stepCandidates, type Candidate } from "./change-candidates.js";
import { firstClosedLossState, stepClosedLoss, type ClosedLossState } from "./closed-loss.js";
import {
  firstFlowChangeState,
  flowChangeStands,
  stepFlowChange,
  type FlowChangeState,
} from "./flow-change.js";
import type { LossFit } from "./loss-fit.js";
import { lossVerdict, type LossKind } from "./loss-verdict.js";
import { createPressurisingGrid, type PressurisingGrid } from "./pressurising-grid.js";
import {
  pressurisingOutlook,
  pressurisingStrength,
  pressurisingVerdict,
  type PressurisingVerdict,
  type VesselRating,
} from "./pressurising-verdict.js";
import {
  firstPressurisingState,
  pressurisingSpan_h,
  stepPressurising,
  type PressurisingState,
} from "./pressurising-watch.js";
import { firstRefillState, stepRefill, type RefillState } from "./refill.js";
import { surgeOutlook } from "./surge-outlook.js";

/** What a watch is told of the vessel beside its charge. */
export interface WatchedVessel {
  readonly rating?: VesselRating;
  /** Lines behind the valve. */
  readonly branches?: number;
}

/** What does not change while a charge lasts. */
export interface SupplyWatchModel {
  readonly supply: SupplyModel;
  readonly vessel: WatchedVessel;
  readonly grid: PressurisingGrid | undefined;
  /** Until then a rising pressure is the reaction, and nothing is said of losses. */
  readonly settled_epochMs: number;
}

/** All that is watched beside the estimate; plain data that a store can keep as JSON. */
export interface SupplyWatchState {
  readonly version: 1;
  readonly pressurising: PressurisingState | undefined;
  readonly strength: ReturnType<typeof pressurisingStrength>;
  readonly closed: ClosedLossState | undefined;
  readonly loss: { readonly kind: LossKind; readonly fit: LossFit | undefined };
  readonly flow: FlowChangeState | undefined;
  readonly refill: RefillState;
  /** After a refill nothing is said of losses and flow until the reaction is over. */
  readonly quietUntil_epochMs: number;
  /** The last row that was looked at, for each of what a row may hold. */
  readonly looked?: {
    readonly at_epochMs: number;
    readonly valveOpen: boolean;
    readonly pressure_epochMs: number | undefined;
    readonly temperature_epochMs: number | undefined;
  };
}

export interface SupplyWatchStep {
  readonly state: SupplyWatchState;
  /** What the estimate should learn anew. */
  readonly openings: readonly SupplyOpening[];
}

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const settling_h = { water: 36, ice: 72 } as const;
/** Readings closer together share most of their error, and are passed over. */
const lookEvery_ms = 30_000;
/** A step or a refill is news for so long. */
const news_ms = 4 * day_ms;

/** @throws OutOfValidRangeError for a charge that the vessel model refuses */
export function createSupplyWatchModel(supply: SupplyModel, vessel: WatchedVessel = {}): SupplyWatchModel {
  const { charge } = supply;
  return {
    supply,
    vessel,
    grid: charge.settled ? undefined : createPressurisingGrid(charge),
    settled_epochMs: settledFrom_epochMs(charge),
  };
}

/** From then on a charge's reaction is over, and a pressure that falls while closed tells of a loss. */
export function settledFrom_epochMs(
  charge: Pick<SupplyModel["charge"], "settled" | "closedAt_epochMs" | "closedWith">,
): number {
  const { settled, closedAt_epochMs, closedWith } = charge;
  return settled ? closedAt_epochMs : closedAt_epochMs + settling_h[closedWith] * hour_ms;
}

export const firstSupplyWatchState: SupplyWatchState = {
  version: 1,
  pressurising: undefined,
  strength: "too-early",
  closed: undefined,
  loss: { kind: "none", fit: undefined },
  flow: undefined,
  refill: firstRefillState,
  quietUntil_epochMs: 0,
};

/** The state after one more row. Pure: model, state and row make the next state. */
export function stepSupplyWatch(
  model: SupplyWatchModel,
  before: SupplyWatchState,
  reading: SupplyReading,
): SupplyWatchStep {
  const { at_epochMs, valveOpen } = reading;
  const { looked } = before;
  const isDue = (last_epochMs: number | undefined): boolean =>
    last_epochMs === undefined || !(at_epochMs - last_epochMs < lookEvery_ms);
  const pressureDue = reading.pressureGauge_bar !== undefined && isDue(looked?.pressure_epochMs);
  const temperatureDue = reading.temperature_degC !== undefined && isDue(looked?.temperature_epochMs);
  if (
    !pressureDue &&
    !temperatureDue &&
    !isDue(looked?.at_epochMs) &&
    looked?.valveOpen === valveOpen &&
    reading.byEye !== true
  ) {
    return { state: before, openings: [] };
  }
  const nowLooked = {
    at_epochMs,
    valveOpen,
    pressure_epochMs: pressureDue ? at_epochMs : looked?.pressure_epochMs,
    temperature_epochMs: temperatureDue ? at_epochMs : looked?.temperature_epochMs,
  };
  return lookedAt(model, { ...before, looked: nowLooked }, reading);
}

function lookedAt(
  model: SupplyWatchModel,
  before: SupplyWatchState,
  reading: SupplyReading,
): SupplyWatchStep {
  const fresh = steppedPressurising(model, before, reading);
  if (reading.at_epochMs < model.settled_epochMs) return { state: fresh, openings: [] };
  const { map, charge } = model.supply;
  const refill = stepRefill(fresh.refill, reading);
  if (refill.event !== undefined && refill.event !== fresh.refill.event) {
    const quietUntil_epochMs = reading.at_epochMs + settling_h[charge.closedWith] * hour_ms;
    const forgotten = { closed: undefined, flow: undefined, loss: firstSupplyWatchState.loss };
    return { state: { ...fresh, ...forgotten, refill, quietUntil_epochMs }, openings: [] };
  }
  if (reading.at_epochMs < fresh.quietUntil_epochMs) return { state: { ...fresh, refill }, openings: [] };
  const closed = stepClosedLoss(map, fresh.closed ?? firstClosedLossState(reading), reading);
  const newBin = closed.lastBin !== undefined && closed.lastBin !== fresh.closed?.lastBin;
  const loss = newBin ? lossVerdict(closed, charge.gaugeAccuracy_bar, fresh.loss.kind) : fresh.loss;
  const flow = stepFlowChange(
    map,
    closed,
    fresh.flow ?? firstFlowChangeState(reading),
    reading,
    charge.gaugeAccuracy_bar,
  );
  const step = closed.steps.at(-1);
  const openings: SupplyOpening[] = [];
  if (flow.odd !== undefined && flow.odd !== fresh.flow?.odd) {
    openings.push({
      component: "gaugeBias",
      deviation: { kind: "absolute", value: Math.abs(flow.odd.step_bar) },
    });
  }
  if (flow.change !== undefined && flow.change.since_epochMs !== fresh.flow?.change?.since_epochMs) {
    openings.push({
      component: "flow",
      deviation: { kind: "share", value: Math.max(0.3, Math.abs(1 - flow.change.flow_ratio)) },
    });
  }
  const isNewStep = step !== undefined && step.at_epochMs !== fresh.closed?.steps.at(-1)?.at_epochMs;
  if (isNewStep && refill.away === undefined) {
    openings.push({
      component: "gaugeBias",
      deviation: { kind: "absolute", value: Math.abs(step.step_bar) },
    });
  }
  return { state: { ...fresh, closed, loss, flow, refill }, openings };
}

function steppedPressurising(
  model: SupplyWatchModel,
  before: SupplyWatchState,
  reading: SupplyReading,
): SupplyWatchState {
  const { grid, vessel } = model;
  const { charge } = model.supply;
  if (
    grid === undefined ||
    reading.at_epochMs > charge.closedAt_epochMs + pressurisingSpan_h[charge.closedWith] * hour_ms
  ) {
    return before;
  }
  const pressurising = stepPressurising(
    grid,
    charge,
    before.pressurising ?? firstPressurisingState(grid, charge, reading),
    reading,
  );
  if (pressurising.at_epochMs === before.pressurising?.at_epochMs) return { ...before, pressurising };
  const outlook = pressurisingOutlook(grid, pressurising, vessel.rating);
  return { ...before, pressurising, strength: pressurisingStrength(charge, pressurising, outlook) };
}

/** The verdict on a fresh charge at its last reading; undefined: it was settled from the start, or nothing was read. */
export function pressurisingVerdictOf(
  model: SupplyWatchModel,
  state: SupplyWatchState,
): PressurisingVerdict | undefined {
  const { grid, supply, vessel } = model;
  if (grid === undefined || state.pressurising === undefined) return undefined;
  return pressurisingVerdict(grid, supply.charge, state.pressurising, vessel.rating);
}

const percent = (share: number): string => `${(100 * share).toFixed(0)} %`;

const inWords = (candidates: readonly Candidate[]): string =>
  candidates
    .filter(({ odds }) => odds >= 0.08)
    .map(({ text, odds }) => `${text} (${percent(odds)})`)
    .join(", or ");

/** What a keeper should know of it. The ids stay as they are from version to version. */
export function watchWarnings(
  model: SupplyWatchModel,
  state: SupplyWatchState,
  belief: SupplyBelief,
  at_epochMs: number,
): readonly SupplyWarning[] {
  return [
    ...pressurisingWarnings(model, state, at_epochMs),
    ...lossWarnings(state),
    ...changeWarnings(model, state, at_epochMs),
    ...surgeWarnings(model, belief, at_epochMs),
  ];
}

function pressurisingWarnings(
  model: SupplyWatchModel,
  state: SupplyWatchState,
  at_epochMs: number,
): readonly SupplyWarning[] {
  if (at_epochMs >= model.settled_epochMs) return [];
  const verdict = pressurisingVerdictOf(model, state);
  if (verdict === undefined || verdict.kind === "too-early" || verdict.kind === "on-plan") return [];
  const what = {
    slow: "The charge comes on more slowly than usual",
    stalled: "The pressure stands still far below the plan",
    "too-weak": "The charge is weaker than it was told to be",
    "too-strong": "The charge is stronger than it was told to be, or its warm pressure nears the rating",
  }[verdict.kind];
  return [
    {
      id: `pressurising-${verdict.kind}`,
      ...bothWays(saidList([said`${what}: ${verdict.said.evidence}.`, ...verdict.said.advice], " ")),
    },
  ];
}

function lossWarnings(state: SupplyWatchState): readonly SupplyWarning[] {
  const { kind, fit } = state.loss;
  if (kind === "none" || fit === undefined) return [];
  const perDay = 24 * fit.loss_gPerH;
  const half = 24 * normalQuantile95 * fit.deviation_gPerH;
  const loss = said`${grams(perDay, 1)} a day, ${grams(Math.max(0, perDay - half), 1)} to ${grams(perDay + half, 1)}`;
  const room = "Ventilate the room.";
  return kind === "valve-passes"
    ? [
        {
          id: "valve-passes",
          ...bothWays(
            said`Gas goes since the valve closed (${loss}): it hangs open or its seat leaks, unless a fitting does. Bubbles at the counter tell which: with bubbles it is the valve; shut the vessel by hand. ${room}`,
          ),
        },
      ]
    : [
        {
          id: "leak-while-closed",
          ...bothWays(
            said`The closed vessel loses gas beyond what its temperature explains (${loss}). Brush soapy water on the fittings with the vessel as it is, loosen nothing; bubbles at the counter while the valve is closed say that the valve passes. ${room}`,
          ),
        },
      ];
}

function changeWarnings(
  model: SupplyWatchModel,
  state: SupplyWatchState,
  at_epochMs: number,
): readonly SupplyWarning[] {
  const warnings: SupplyWarning[] = [];
  const { event } = state.refill;
  if (event !== undefined && at_epochMs - event.at_epochMs < news_ms) {
    const bars = said`from ${bar(event.from_bar, 1)} to ${bar(event.to_bar, 1)}`;
    warnings.push(
      event.kind === "refilled"
        ? {
            id: "refill-detected",
            ...bothWays(
              said`The pressure rose ${bars}: the vessel was filled again. Say so, so that the new charge is reckoned with.`,
            ),
          }
        : {
            id: "vessel-emptied",
            ...bothWays(
              said`The pressure fell ${bars} and stays there: gas was let out, or the gauge lost its line.`,
            ),
          },
    );
  }
  const { flow } = state;
  if (flow?.change !== undefined && flowChangeStands(flow, at_epochMs)) {
    const candidates = flowCandidates(flow.change, model.vessel.branches ?? 1);
    warnings.push({
      id: flow.change.flow_ratio < 1 ? "flow-fell" : "flow-rose",
      text: `The flow while open is ${percent(flow.change.flow_ratio)} of what it was: ${inWords(candidates)}. What would tell: ${candidates[0]?.separatedBy ?? ""}.`,
    });
  }
  const whileClosed = state.closed?.steps.at(-1);
  const odd = flow?.odd;
  const step = whileClosed !== undefined && at_epochMs - whileClosed.at_epochMs < news_ms ? whileClosed : odd;
  // A gauge far from where it was may be a refill that begins: the next readings tell.
  const waits = state.refill.away !== undefined;
  if (!waits && step !== undefined && at_epochMs - step.at_epochMs < news_ms) {
    const candidates = stepCandidates(step, true);
    warnings.push({
      id: "gauge-stepped",
      ...bothWays(
        said`The gauge jumped by ${bar(step.step_bar, 2)}${step === odd ? " beyond what was dosed" : " with the valve closed"}: ${inWords(candidates)}. What would tell: ${candidates[0]?.separatedBy ?? ""}.`,
      ),
    });
  }
  return warnings;
}

function surgeWarnings(
  model: SupplyWatchModel,
  belief: SupplyBelief,
  at_epochMs: number,
): readonly SupplyWarning[] {
  if (at_epochMs < model.settled_epochMs) return [];
  const outlook = surgeOutlook(model.supply, belief);
  if (!outlook.early) return [];
  const upTo = `${percent(outlook.atEnd.value)} (${percent(outlook.atEnd.low80)} to ${percent(outlook.atEnd.high80)})`;
  return [
    {
      id: "flow-creeps",
      text: `The regulator's outlet rises as the vessel empties: the flow is at ${percent(outlook.now.value)} of what was set and goes to ${upTo} if the needle stays as it is. Watch the bubble count and turn the needle back in small steps.`,
    },
  ];
}
