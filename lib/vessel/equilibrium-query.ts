import { NoConvergenceError, OutOfValidRangeError } from "../errors.js";
import { vesselInventory, type Charge } from "./charge.js";
import { chargeEquilibrium, type ChargeEquilibrium } from "./charge-equilibrium.js";
import { depletionCurve, type Withdrawal } from "./depletion.js";
import type { OutsideModel } from "./outside-model.js";

export interface EquilibriumQuery {
  readonly charge: Charge;
  readonly temperature_degC: number;
  readonly removedCo2_mol: number;
  readonly withdrawal: Withdrawal;
}

export interface EquilibriumAnswer {
  readonly kind: "equilibrium";
  readonly pressureAbsolute_bar: number;
  readonly pressureGauge_bar: number;
  readonly pH: number;
  readonly co2Gas_mol: number;
  readonly co2Dissolved_mol: number;
  readonly bicarbonate_mol: number;
  readonly solidBicarbonate_mol: number;
  readonly ionicStrength_molPerKg: number;
  readonly co2Remaining_mol: number;
  readonly outsideModel: readonly OutsideModel[];
}

/** A question the model does not answer: which quantity, what it was, and the span in which there is an answer. */
export interface EquilibriumRefusal {
  readonly kind: "refused";
  readonly quantity: string;
  /** Undefined when a balance did not close, and minimum and maximum are the bracket it was left in. */
  readonly value: number | undefined;
  readonly unit: string;
  readonly minimum: number;
  readonly maximum: number;
  readonly message: string;
}

/**
 * One equilibrium, or the reason why there is none, as a value: for callers that pass on what others typed.
 * Ranges as chargeEquilibrium and depletionCurve.
 * @see [Grenthe1997], [ThermoChimie2014], [SpanWagner1996]
 */
export function answerEquilibriumQuery(query: EquilibriumQuery): EquilibriumAnswer | EquilibriumRefusal {
  try {
    return answer(query);
  } catch (error) {
    if (error instanceof OutOfValidRangeError) {
      const { quantity, value, unit, minimum, maximum, message } = error;
      return { kind: "refused", quantity, value, unit, minimum, maximum, message };
    }
    if (error instanceof NoConvergenceError) {
      const { quantity, low, high, message } = error;
      return { kind: "refused", quantity, value: undefined, unit: "", minimum: low, maximum: high, message };
    }
    throw error;
  }
}

function answer(query: EquilibriumQuery): EquilibriumAnswer {
  const { charge, temperature_degC, removedCo2_mol, withdrawal } = query;
  if (removedCo2_mol === 0) {
    const { co2Available_mol } = vesselInventory(charge);
    return inWords(chargeEquilibrium(charge, temperature_degC), co2Available_mol);
  }
  const state = depletionCurve(charge, { temperature_degC, withdrawal }).afterRemoving(removedCo2_mol);
  return inWords(state, state.co2Remaining_mol);
}

function inWords(state: ChargeEquilibrium, co2Remaining_mol: number): EquilibriumAnswer {
  return {
    kind: "equilibrium",
    pressureAbsolute_bar: state.pressureAbsolute_bar,
    pressureGauge_bar: state.pressureGauge_bar,
    pH: state.pH,
    co2Gas_mol: state.co2Gas_mol,
    co2Dissolved_mol: state.co2Dissolved_mol,
    bicarbonate_mol: state.bicarbonate_mol,
    solidBicarbonate_mol: state.solidBicarbonate_mol,
    ionicStrength_molPerKg: state.ionicStrength_molPerKg,
    co2Remaining_mol,
    outsideModel: state.outsideModel,
  };
}
