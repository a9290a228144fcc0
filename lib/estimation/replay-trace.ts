import { openedState, type SupplyOpening } from "./opened-state.js";
import type { SupplyReading } from "./supply-trace.js";
import { supplyEstimate, type SupplyEstimate, type SupplyWatcher } from "./supply-estimate.js";
import { firstSupplyState, stepSupply } from "./supply-filter.js";
import type { SupplyModel } from "./supply-model.js";
import type { SupplyState } from "./supply-state.js";

export interface SupplyReplay {
  /** Takes the next row; gives an estimate for each full hour that has gone by before it. */
  take(reading: SupplyReading): readonly SupplyEstimate[];
  /** The estimate at the last row, if that was not at a full hour already reported. */
  end(): readonly SupplyEstimate[];
  readonly state: SupplyState | undefined;
}

/** What goes through the rows beside the estimator, and tells it what has changed. */
export interface SupplyCompanion {
  take(reading: SupplyReading): readonly SupplyOpening[];
}

const hour_ms = 3_600_000;

/**
 * Runs the estimator over rows as if each had just come in: an estimate for every full hour from the first row to the last,
 * each from the rows up to it alone.
 * @param start a state that was kept, to go on where it was left
 */
export function createSupplyReplay(
  model: SupplyModel,
  options: {
    readonly start?: SupplyState;
    readonly watchers?: readonly SupplyWatcher[];
    readonly companion?: SupplyCompanion;
  } = {},
): SupplyReplay {
  const watchers = options.watchers ?? [];
  let state = options.start;
  let next_epochMs =
    state === undefined ? undefined : (Math.floor(state.gathered.last_epochMs / hour_ms) + 1) * hour_ms;
  return {
    take(reading) {
      const estimates: SupplyEstimate[] = [];
      state ??= firstSupplyState(model, reading);
      next_epochMs ??= Math.ceil(reading.at_epochMs / hour_ms) * hour_ms;
      while (next_epochMs < reading.at_epochMs) {
        estimates.push(supplyEstimate(model, state, next_epochMs, watchers));
        next_epochMs += hour_ms;
      }
      state = openedState(stepSupply(model, state, reading), options.companion?.take(reading) ?? []);
      return estimates;
    },
    end() {
      if (state === undefined || next_epochMs === undefined) return [];
      const { last_epochMs } = state.gathered;
      const due = next_epochMs <= last_epochMs || last_epochMs % hour_ms !== 0;
      return due ? [supplyEstimate(model, state, last_epochMs, watchers)] : [];
    },
    get state() {
      return state;
    },
  };
}
