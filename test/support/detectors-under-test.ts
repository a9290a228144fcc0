import { createSupplyModel } from "../../lib/estimation/supply-model.js";
import {
  createSupplyWatchModel,
  firstSupplyWatchState,
  stepSupplyWatch,
  type SupplyWatchState,
} from "../../lib/supply-watch/supply-watch.js";
import type { SupplyDetectorMaker, SupplyFinding } from "./charge-experiments.js";

/** The watch of lib/supply-watch, one row after the other. */
const supplyWatch: SupplyDetectorMaker = ({ charge, ratedPressureGauge_bar }) => {
  const model = createSupplyWatchModel(createSupplyModel(charge), { rating: { ratedPressureGauge_bar } });
  let state: SupplyWatchState = firstSupplyWatchState;
  return {
    step(reading) {
      ({ state } = stepSupplyWatch(model, state, reading));
      const findings: SupplyFinding[] = [];
      if (state.strength === "too-weak") findings.push("charge-too-weak");
      if (state.strength === "too-strong") findings.push("charge-too-strong");
      if (state.loss.kind !== "none") findings.push(state.loss.kind);
      return findings;
    },
  };
};

/** The detectors that exist: what they can find, and how to make one. */
export const detectorsUnderTest:
  { readonly maker: SupplyDetectorMaker; readonly finds: readonly SupplyFinding[] } | undefined = {
  maker: supplyWatch,
  finds: ["leak", "valve-passes", "charge-too-weak", "charge-too-strong"],
};
