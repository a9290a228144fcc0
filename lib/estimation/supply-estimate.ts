import { normalQuantile80, normalQuantile95 } from "../numerics/normal-distribution.js";
import type { ToldBothWays } from "../told/plain-text.js";
import { forecastRunOut, type RunOut } from "./run-out.js";
import {
  believedComponent,
  believedDeliverable,
  believedRemaining,
  supplyBelief,
  type Believed,
  type SupplyBelief,
} from "./supply-belief.js";
import { supplyStateAt } from "./supply-filter.js";
import type { SupplyModel } from "./supply-model.js";
import { component as c, type SupplyState } from "./supply-state.js";

/** An amount with the intervals that hold it in 80 and in 95 of 100 cases. */
export interface EstimatedCo2 {
  readonly value_g: number;
  readonly low80_g: number;
  readonly high80_g: number;
  readonly low95_g: number;
  readonly high95_g: number;
}

/**
 * - settling: the reaction may still be going on
 * - ready: settled, nothing drawn off yet
 * - dosing: in use
 * - spent: the gauge, or the pressure as it is believed to be, is at or below the working pressure
 */
export type SupplyPhase = "settling" | "ready" | "dosing" | "spent";

/** Something that a keeper should know. The id stays as it is from version to version. */
export interface SupplyWarning extends ToldBothWays {
  readonly id: string;
}

export interface SupplyEstimate {
  readonly at_epochMs: number;
  readonly charge_g: number;
  readonly remaining: EstimatedCo2;
  readonly deliverable: EstimatedCo2;
  readonly leak_gPerDay: Believed;
  /** While open, at the inlet pressure of now. */
  readonly flow_gPerH: Believed;
  readonly contents_degC: Believed;
  readonly runOut: RunOut;
  /** Until the median run-out. */
  readonly dosingLeft_days: number;
  readonly phase: SupplyPhase;
  readonly warnings: readonly SupplyWarning[];
}

/** What else looks at a state: verdicts on pressurising, changes of regime, leak tests. */
export type SupplyWatcher = (
  model: SupplyModel,
  state: SupplyState,
  belief: SupplyBelief,
) => readonly SupplyWarning[];

const day_ms = 86_400_000;
/** Share of the charge that may be waiting when it is called settled. */
const settled_ratio = 0.02;

/**
 * What is known of a vessel at an instant that is not before its last reading.
 * Grams of CO2; intervals by the normal distribution, cut to what is possible.
 */
export function supplyEstimate(
  model: SupplyModel,
  before: SupplyState,
  at_epochMs: number,
  watchers: readonly SupplyWatcher[] = [],
): SupplyEstimate {
  const state = supplyStateAt(model, before, at_epochMs);
  const belief = supplyBelief(state);
  const charge_g = model.map.co2Available_g;
  const deliverable = believedDeliverable(model, belief);
  const runOut = forecastRunOut(model, state, belief);
  const leak_gPerH = believedComponent(belief, c.leak);
  return {
    at_epochMs: state.at_epochMs,
    charge_g,
    remaining: estimated(believedRemaining(model, belief), charge_g),
    deliverable: estimated(deliverable, charge_g),
    leak_gPerDay: { value: 24 * Math.max(0, leak_gPerH.value), deviation: 24 * leak_gPerH.deviation },
    flow_gPerH: believedComponent(belief, c.flow),
    contents_degC: believedComponent(belief, c.contents),
    runOut,
    dosingLeft_days: Math.max(0, (runOut.median_epochMs - state.at_epochMs) / day_ms),
    phase: phaseOf(model, state, belief, deliverable.value),
    warnings: [ownWarnings, ...watchers].flatMap((watch) => watch(model, state, belief)),
  };
}

function estimated(believed: Believed, most_g: number): EstimatedCo2 {
  const within = (value_g: number): number => Math.min(most_g, Math.max(0, value_g));
  const { value, deviation } = believed;
  return {
    value_g: within(value),
    low80_g: within(value - normalQuantile80 * deviation),
    high80_g: within(value + normalQuantile80 * deviation),
    low95_g: within(value - normalQuantile95 * deviation),
    high95_g: within(value + normalQuantile95 * deviation),
  };
}

function phaseOf(
  model: SupplyModel,
  state: SupplyState,
  belief: SupplyBelief,
  deliverable_g: number,
): SupplyPhase {
  const pending = believedComponent(belief, c.pending);
  if (pending.value + pending.deviation > settled_ratio * model.map.co2Available_g) return "settling";
  if (deliverable_g <= 0 || state.spentSince_epochMs !== undefined) return "spent";
  return state.hasDosed ? "dosing" : "ready";
}

const staleAfter_days = 8;
const mostSurprise = 3;

function ownWarnings(_model: SupplyModel, state: SupplyState): readonly SupplyWarning[] {
  const warnings: SupplyWarning[] = [];
  const { pressureRead_epochMs } = state;
  if (
    pressureRead_epochMs === undefined ||
    state.at_epochMs - pressureRead_epochMs > staleAfter_days * day_ms
  ) {
    warnings.push({
      id: "pressure-not-read",
      text:
        pressureRead_epochMs === undefined
          ? "No pressure counts for this charge yet: what is left is reckoned from what was put in and the valve's open time."
          : "No pressure has been read for a while: what is left is reckoned from the valve's open time.",
    });
  }
  if (Math.abs(state.firstSurprise) > mostSurprise) {
    warnings.push({
      id: "pressure-unlike-charge",
      text: "The first pressure does not belong to this charge: weighed amounts, temperature or gauge are not what was stated.",
    });
  }
  if (state.refused.count > 0) {
    warnings.push({
      id: "pressure-not-believed",
      text: "The last pressure is too far from all that was read before; it is not used until it is confirmed.",
    });
  }
  return warnings;
}
