import { assertInRange } from "../quantities/valid-range.js";
import { planCharge, type ChargePlan, type RefusedPlan } from "./plan-charge.js";
import { exactAcidPerBicarbonate_ratio, type PlanRequest } from "./plan-request.js";

/** A recipe to try. What it leaves out comes from the request. */
export interface Candidate {
  readonly label: string;
  readonly sodiumBicarbonate_g: number;
  /** In the acid form of the request. */
  readonly citricAcid_g?: number;
  readonly filling?: { readonly kind: "water" | "ice"; readonly mass_kg: number };
}

export interface ComparedCandidate {
  readonly candidate: Candidate;
  readonly outcome: ChargePlan | RefusedPlan;
}

/**
 * Each recipe planned for the same vessel, room and use, in the order given.
 * @throws OutOfValidRangeError, NoConvergenceError as planCharge; and for an acid from a tenth to six times the exact amount
 * @see [Grenthe1997]
 */
export function compareCandidates(
  request: Omit<PlanRequest, "wanted">,
  candidates: readonly Candidate[],
): readonly ComparedCandidate[] {
  return candidates.map((candidate) => {
    const { sodiumBicarbonate_g, citricAcid_g, filling } = candidate;
    return {
      candidate,
      outcome: planCharge({
        ...request,
        wanted: { kind: "bicarbonate", sodiumBicarbonate_g },
        ...(citricAcid_g === undefined
          ? {}
          : { acidExcess_ratio: acidExcess_ratio(request.acidForm, sodiumBicarbonate_g, citricAcid_g) }),
        ...(filling === undefined ? {} : { filling }),
      }),
    };
  });
}

function acidExcess_ratio(
  acidForm: PlanRequest["acidForm"],
  sodiumBicarbonate_g: number,
  citricAcid_g: number,
): number {
  assertInRange(sodiumBicarbonate_g, {
    quantity: "sodium bicarbonate",
    unit: "g",
    minimum: 1,
    maximum: 110_000,
  });
  const exact_g = sodiumBicarbonate_g * exactAcidPerBicarbonate_ratio(acidForm);
  assertInRange(citricAcid_g, {
    quantity: "citric acid",
    unit: "g",
    minimum: 0.1 * exact_g,
    maximum: 6 * exact_g,
  });
  return citricAcid_g / exact_g - 1;
}
