import type { SupplyModel } from "./supply-model.js";
import { useSpread } from "./supply-spreads.js";
import type { SupplyState, WindowUse } from "./supply-state.js";

const hour_ms = 3_600_000;

/** How much of the windows is used, after a span in which the valve was open for so long: a day counts when it is over. */
export function usedWindows(
  model: SupplyModel,
  state: SupplyState,
  at_epochMs: number,
  open_h: number,
): WindowUse {
  const { use } = state;
  const total = {
    ...use,
    open_h: use.open_h + open_h,
    scheduled_h: use.scheduled_h + model.spans.openBetween_h(state.at_epochMs, at_epochMs),
  };
  if (at_epochMs - use.since_epochMs < 24 * hour_ms) return total;
  const days = (at_epochMs - use.since_epochMs) / (24 * hour_ms);
  const fresh = { since_epochMs: at_epochMs, open_h: 0, scheduled_h: 0 };
  // A vessel that has not begun to dose says nothing about how it will be used.
  if (total.scheduled_h < 0.5 || (!state.hasDosed && total.open_h === 0)) return { ...use, ...fresh };
  const today = total.open_h / total.scheduled_h;
  const { worth_days, memory_days } = useSpread.windowUse;
  const counted = Math.min(memory_days, use.days + days);
  const gain = Math.min(1, days / (counted + (model.hasWindows ? worth_days : 1)));
  const miss = today - use.mean_ratio;
  return {
    ...fresh,
    mean_ratio: use.mean_ratio + gain * miss,
    variance: use.variance + gain * (miss * miss * days - use.variance),
    days: counted,
  };
}
