import { NoConvergenceError, OutOfValidRangeError } from "../errors.js";
import { assertInRange } from "../quantities/valid-range.js";
import { planCharge, type ChargePlan, type RefusedPlan } from "./plan-charge.js";
import { exactAcidPerBicarbonate_ratio, type Filling, type PlanRequest } from "./plan-request.js";
import { planSugarCharge, type RefusedSugarPlan, type SugarPlan } from "./plan-sugar.js";

/** A recipe of acid and bicarbonate to try. What it leaves out comes from the request. */
export interface AcidCandidate {
  readonly kind: "acid-and-bicarbonate";
  readonly label: string;
  readonly sodiumBicarbonate_g: number;
  /** In the acid form of the request. */
  readonly citricAcid_g?: number;
  readonly filling?: Filling;
}

export interface SugarCandidate {
  readonly kind: "sugar-and-yeast";
  readonly label: string;
  readonly sucrose_g: number;
  readonly water_kg?: number;
}

export type Candidate = AcidCandidate | SugarCandidate;

/** What a number in it keeps from being planned at all. */
export interface NoRecipe {
  readonly kind: "no-recipe";
  readonly reason: string;
}

export type ComparedCandidate =
  | { readonly candidate: AcidCandidate; readonly outcome: ChargePlan | RefusedPlan | NoRecipe }
  | { readonly candidate: SugarCandidate; readonly outcome: SugarPlan | RefusedSugarPlan | NoRecipe };

/** What all candidates share. */
export type ComparisonRequest = Omit<PlanRequest, "wanted"> & {
  /** As in SugarRequest. */
  readonly workingFromGauge_bar?: number;
};

/**
 * Each recipe planned for the same vessel, room and use, in the order given. One that is none by itself, as with less than a
 * tenth or more than six times the exact acid, says so in its place.
 * @throws OutOfValidRangeError, NoConvergenceError as planCharge and planSugarCharge, when no candidate could be planned
 * @see [Grenthe1997]
 */
export function compareCandidates(
  request: ComparisonRequest,
  candidates: readonly Candidate[],
): readonly ComparedCandidate[] {
  const errors: (OutOfValidRangeError | NoConvergenceError)[] = [];
  const orReason = <Outcome>(plan: () => Outcome): Outcome | NoRecipe => {
    try {
      return plan();
    } catch (error) {
      if (!(error instanceof OutOfValidRangeError || error instanceof NoConvergenceError)) throw error;
      errors.push(error);
      return { kind: "no-recipe", reason: error.message };
    }
  };
  const compared = candidates.map((candidate): ComparedCandidate =>
    candidate.kind === "acid-and-bicarbonate"
      ? { candidate, outcome: orReason(() => acidOutcome(request, candidate)) }
      : { candidate, outcome: orReason(() => sugarOutcome(request, candidate)) },
  );
  const [first] = errors;
  if (first !== undefined && errors.length === candidates.length) throw first;
  return compared;
}

function acidOutcome(request: ComparisonRequest, candidate: AcidCandidate): ChargePlan | RefusedPlan {
  const { sodiumBicarbonate_g, citricAcid_g, filling } = candidate;
  return planCharge({
    ...request,
    wanted: { kind: "bicarbonate", sodiumBicarbonate_g },
    ...(citricAcid_g === undefined
      ? {}
      : { acidExcess_ratio: acidExcess_ratio(request.acidForm, sodiumBicarbonate_g, citricAcid_g) }),
    ...(filling === undefined ? {} : { filling }),
  });
}

function sugarOutcome(
  { vessel, room_degC, hottest_degC, workingFromGauge_bar, prices, weighing }: ComparisonRequest,
  { sucrose_g, water_kg }: SugarCandidate,
): SugarPlan | RefusedSugarPlan {
  return planSugarCharge({
    vessel,
    sucrose_g,
    ...(water_kg === undefined ? {} : { water_kg }),
    ...(room_degC === undefined ? {} : { room_degC }),
    ...(hottest_degC === undefined ? {} : { hottest_degC }),
    ...(workingFromGauge_bar === undefined ? {} : { workingFromGauge_bar }),
    ...(prices === undefined ? {} : { prices }),
    ...(weighing === undefined ? {} : { weighing }),
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
