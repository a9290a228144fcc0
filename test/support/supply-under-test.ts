import { supplyEstimate, type EstimatedCo2 } from "../../lib/estimation/supply-estimate.js";
import { firstSupplyState, stepSupply } from "../../lib/estimation/supply-filter.js";
import { createSupplyModel } from "../../lib/estimation/supply-model.js";
import type { SupplyState } from "../../lib/estimation/supply-state.js";
import type { SuppliedCharge, SupplyReading } from "../../lib/estimation/supply-trace.js";

/** An amount, and the intervals that a method gives for it; a method without intervals leaves them out. */
export interface AmountUnderTest {
  readonly value_g: number;
  readonly interval80?: readonly [number, number];
  readonly interval95?: readonly [number, number];
}

export interface SupplyAnswer {
  readonly remaining: AmountUnderTest;
  readonly deliverable: AmountUnderTest;
  /** Undefined: the method does not know yet. */
  readonly runOut:
    { readonly median_epochMs: number; readonly interval80?: readonly [number, number] } | undefined;
}

/** Any method that says what is left in a vessel: ours, and those that people use. One object for each charge. */
export interface SupplyEstimatorUnderTest {
  step(reading: SupplyReading): void;
  /** At an instant not before the last reading; undefined before the first that it can use. */
  answerAt(at_epochMs: number): SupplyAnswer | undefined;
}

export interface SupplyMethod {
  readonly name: string;
  start(charge: SuppliedCharge): SupplyEstimatorUnderTest;
}

const amountOf = (amount: EstimatedCo2): AmountUnderTest => ({
  value_g: amount.value_g,
  interval80: [amount.low80_g, amount.high80_g],
  interval95: [amount.low95_g, amount.high95_g],
});

/** The estimator of lib/estimation, one row after the other. */
export const recursiveEstimator: SupplyMethod = {
  name: "recursive estimator",
  start(charge) {
    const model = createSupplyModel(charge);
    let state: SupplyState | undefined;
    return {
      step(reading) {
        state ??= firstSupplyState(model, reading);
        state = stepSupply(model, state, reading);
      },
      answerAt(at_epochMs) {
        if (state === undefined) return undefined;
        const { remaining, deliverable, runOut } = supplyEstimate(model, state, at_epochMs);
        return {
          remaining: amountOf(remaining),
          deliverable: amountOf(deliverable),
          runOut: {
            median_epochMs: runOut.median_epochMs,
            interval80: [runOut.low80_epochMs, runOut.high80_epochMs],
          },
        };
      },
    };
  },
};
