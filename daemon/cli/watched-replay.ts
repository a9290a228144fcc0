import { createSupplyReplay, type SupplyReplay } from "../../lib/estimation/replay-trace.js";
import type { SupplyModel } from "../../lib/estimation/supply-model.js";
import type { SupplyState } from "../../lib/estimation/supply-state.js";
import {
  createSupplyWatchModel,
  firstSupplyWatchState,
  stepSupplyWatch,
  watchWarnings,
  type SupplyWatchState,
  type WatchedVessel,
} from "../../lib/supply-watch/supply-watch.js";

/** The estimator with all that watches beside it, over recorded rows, as the daemon has it. */
export function createWatchedReplay(
  model: SupplyModel,
  vessel: WatchedVessel,
  start?: SupplyState,
): SupplyReplay {
  const watch = createSupplyWatchModel(model, vessel);
  let watched: SupplyWatchState = firstSupplyWatchState;
  return createSupplyReplay(model, {
    ...(start === undefined ? {} : { start }),
    watchers: [(_model, { at_epochMs }, belief) => watchWarnings(watch, watched, belief, at_epochMs)],
    companion: {
      take: (reading) => {
        const step = stepSupplyWatch(watch, watched, reading);
        watched = step.state;
        return step.openings;
      },
    },
  });
}
