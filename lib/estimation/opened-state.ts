import { component, componentCount, type SupplyState } from "./supply-state.js";
import { addVariance } from "./symmetric-matrix.js";

/** A component that something has changed at once: what was learnt of it no longer holds. */
export interface SupplyOpening {
  readonly component: "flow" | "gaugeBias";
  /** Standard deviation of the change, in the component's unit, or as a share of its value. */
  readonly deviation: { readonly kind: "absolute" | "share"; readonly value: number };
}

/**
 * The state with its beliefs opened up where the supply has changed, so that a change of the needle or of the gauge's zero is
 * learnt anew from the next readings and not smeared over what is left.
 */
export function openedState(state: SupplyState, openings: readonly SupplyOpening[]): SupplyState {
  if (openings.length === 0) return state;
  return {
    ...state,
    hypotheses: state.hypotheses.map((hypothesis) => {
      const covariance = [...hypothesis.covariance];
      for (const opening of openings) {
        const index = component[opening.component];
        const { kind, value } = opening.deviation;
        const deviation = kind === "share" ? value * (hypothesis.mean[index] ?? 0) : value;
        addVariance(covariance, componentCount, index, deviation ** 2);
      }
      return { ...hypothesis, covariance };
    }),
  };
}
