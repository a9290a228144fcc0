import type { Bounded } from "../charge-plan/plan-request.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { assertInRange } from "../quantities/valid-range.js";
import type { ChargeEnd, ChargeRecord, DeliveredPart } from "./charge-record.js";

/** A forecast beside what came. */
export interface Verified {
  readonly predicted: number;
  readonly actual: number;
  /** Actual less predicted. */
  readonly error: number;
  readonly isInside: boolean;
}

/** Something about a charge that its keeper should look at. */
export interface ChargeRemark {
  readonly kind: "more-than-possible" | "weighed-unlike-plan" | "not-run-to-its-end" | "lost-otherwise";
  readonly text: string;
}

export interface ChargeReport {
  readonly chargeId: string;
  readonly vesselId: string;
  readonly recipe: string;
  readonly closedWith: "water" | "ice";
  readonly closed_epochMs: number;
  readonly workingPressureGauge_bar: number;
  readonly ended: ChargeEnd;
  /** What the weights could give: the lesser of the bicarbonate and three times the acid. */
  readonly theoretical_g: Bounded;
  readonly delivered_g: Bounded;
  readonly byValve: readonly DeliveredPart[];
  readonly byTank: readonly DeliveredPart[];
  /** Delivered over theoretical; of a charge that has not ended: so far. */
  readonly yield_ratio: Bounded;
  /** Delivered over what the plan foresaw. */
  readonly ofPlan_ratio: Bounded | undefined;
  readonly leak_gPerDay: Bounded | undefined;
  readonly leaked_g: Bounded | undefined;
  readonly left_g: Bounded | undefined;
  /** Theoretical less delivered, leaked and left: lost before closing, or not made, or an error. */
  readonly missing_g: Bounded | undefined;
  /** From closing to the end; of a charge that has not ended undefined. */
  readonly life_days: number | undefined;
  readonly dosing_days: number;
  readonly ready_h: Verified | undefined;
  readonly actualReady_h: number | undefined;
  readonly settledGauge_bar: Verified | undefined;
  /** Days from the forecast at half of the charge to the end. */
  readonly runOut_days: (Verified & { readonly error_ratio: number }) | undefined;
  readonly cost:
    | {
        readonly currency: string;
        readonly total: number;
        /** For each dosing day; undefined where there was none. */
        readonly perDay: number | undefined;
        readonly perGram: Bounded | undefined;
      }
    | undefined;
  readonly remarks: readonly ChargeRemark[];
}

const day_ms = 86_400_000;
const hour_ms = 3_600_000;
/** Weights this far from the plan are told. A judgement, no source. */
const unlikePlan_ratio = 0.05;

/**
 * CO2 that weighed acid and bicarbonate could give, g, with the bounds of the weighing: three bicarbonate to one citric acid.
 * @throws OutOfValidRangeError for weights outside 0 to 5000 g or a weighing error outside 0 to 500 g
 * @see [IUPAC2021] molar masses; [JCGM100] section 5.1
 */
export function theoreticalCo2_g(
  weighed: Pick<ChargeRecord, "acid" | "sodiumBicarbonate_g" | "weighing_g">,
): Bounded {
  const { acid, sodiumBicarbonate_g, weighing_g } = weighed;
  assertInRange(sodiumBicarbonate_g, {
    quantity: "sodium bicarbonate",
    unit: "g",
    minimum: 0,
    maximum: 5000,
  });
  assertInRange(acid.mass_g, { quantity: "citric acid", unit: "g", minimum: 0, maximum: 5000 });
  assertInRange(weighing_g, { quantity: "weighing error", unit: "g", minimum: 0, maximum: 500 });
  const acid_gPerMol =
    acid.kind === "citric-acid-anhydrous"
      ? molarMass_gPerMol.citricAcidAnhydrous
      : molarMass_gPerMol.citricAcidMonohydrate;
  const given_g = (error_g: number): number =>
    molarMass_gPerMol.co2 *
    Math.min(
      Math.max(0, sodiumBicarbonate_g + error_g) / molarMass_gPerMol.sodiumBicarbonate,
      (3 * Math.max(0, acid.mass_g + error_g)) / acid_gPerMol,
    );
  return { value: given_g(0), low: given_g(-weighing_g), high: given_g(weighing_g) };
}

/**
 * What one charge was planned to do and did: where its CO2 went, how the forecasts held, what it cost. Bounds are 95 %; errors
 * of weighing, delivery, leak and rest are taken as independent.
 * @throws OutOfValidRangeError as theoreticalCo2_g, and for a charge that could give nothing
 * @see [JCGM100] section 5.1
 */
export function reportCharge(record: ChargeRecord, now_epochMs: number): ChargeReport {
  const { delivered_g, ended, closed_epochMs, planned, left_g } = record;
  const theoretical_g = theoreticalCo2_g(record);
  assertInRange(theoretical_g.value, {
    quantity: "CO2 of the charge",
    unit: "g",
    minimum: 0.01,
    maximum: 5000,
  });
  const end_epochMs = ended.kind === "running" ? now_epochMs : ended.at_epochMs;
  const age_days = Math.max(0, (end_epochMs - closed_epochMs) / day_ms);
  const leaked_g = record.leak_gPerDay === undefined ? undefined : times(record.leak_gPerDay, age_days);
  const missing_g =
    left_g === undefined ? undefined : less(theoretical_g, [delivered_g, left_g, leaked_g ?? exactly(0)]);
  const yield_ratio = over(delivered_g, theoretical_g);
  const actualReady_h =
    record.ready_epochMs === undefined ? undefined : (record.ready_epochMs - closed_epochMs) / hour_ms;
  return {
    chargeId: record.chargeId,
    vesselId: record.vesselId,
    recipe: record.recipe ?? recipeOf(record),
    closedWith: record.closedWith,
    closed_epochMs,
    workingPressureGauge_bar: record.workingPressureGauge_bar,
    ended,
    theoretical_g,
    delivered_g,
    byValve: record.byValve,
    byTank: record.byTank,
    yield_ratio,
    ofPlan_ratio: planned?.deliverable_g === undefined ? undefined : over(delivered_g, planned.deliverable_g),
    leak_gPerDay: record.leak_gPerDay,
    leaked_g,
    left_g,
    missing_g,
    life_days: ended.kind === "running" ? undefined : age_days,
    dosing_days: record.dosing_days,
    ready_h: verified(planned?.ready_h, actualReady_h),
    actualReady_h,
    settledGauge_bar: verified(
      planned?.settledGauge_bar,
      record.settledGauge_bar?.value,
      record.settledGauge_bar,
    ),
    runOut_days: verifiedRunOut(record),
    cost: costOf(record),
    remarks: remarksOf(record, yield_ratio, missing_g),
  };
}

/** A name by rounded proportions: charges of one recipe in vessels of any size get the same. */
export function recipeOf(
  weighed: Pick<ChargeRecord, "acid" | "sodiumBicarbonate_g" | "water_kg" | "vesselVolume_L" | "weighing_g">,
): string {
  const { acid, sodiumBicarbonate_g, water_kg, vesselVolume_L } = weighed;
  const form = acid.kind === "citric-acid-anhydrous" ? "anhydrous" : "monohydrate";
  const acidPer100_g = sodiumBicarbonate_g > 0 ? (100 * acid.mass_g) / sodiumBicarbonate_g : 0;
  return (
    `${rounded(sodiumBicarbonate_g / vesselVolume_L, 5)} g/L bicarbonate, ` +
    `${rounded(acidPer100_g, 5)} g ${form} acid to 100 g, ${rounded((1000 * water_kg) / vesselVolume_L, 50)} g/L water`
  );
}

function rounded(value: number, step: number): string {
  return String(Math.round(value / step) * step);
}

function verified(
  predicted: Bounded | undefined,
  actual: number | undefined,
  measured?: Bounded,
): Verified | undefined {
  if (predicted === undefined || actual === undefined) return undefined;
  const [low, high] = [measured?.low ?? actual, measured?.high ?? actual];
  return {
    predicted: predicted.value,
    actual,
    error: actual - predicted.value,
    isInside: high >= predicted.low && low <= predicted.high,
  };
}

function verifiedRunOut({ forecastAtHalf, ended }: ChargeRecord): ChargeReport["runOut_days"] {
  if (forecastAtHalf === undefined || ended.kind !== "spent") return undefined;
  const { made_epochMs, median_epochMs, low80_epochMs, high80_epochMs } = forecastAtHalf;
  const actual = (ended.at_epochMs - made_epochMs) / day_ms;
  if (!(actual > 0)) return undefined;
  const predicted = (median_epochMs - made_epochMs) / day_ms;
  return {
    predicted,
    actual,
    error: actual - predicted,
    error_ratio: (predicted - actual) / actual,
    isInside: low80_epochMs <= ended.at_epochMs && ended.at_epochMs <= high80_epochMs,
  };
}

function costOf(record: ChargeRecord): ChargeReport["cost"] {
  const { prices, sodiumBicarbonate_g, acid, dosing_days, delivered_g, ended } = record;
  if (prices === undefined) return undefined;
  const total =
    (sodiumBicarbonate_g * prices.sodiumBicarbonatePricePerKg + acid.mass_g * prices.citricAcidPricePerKg) /
    1000;
  const isOver = ended.kind !== "running";
  return {
    currency: prices.currency,
    total,
    perDay: isOver && dosing_days > 0 ? total / dosing_days : undefined,
    perGram:
      isOver && delivered_g.low > 0
        ? { value: total / delivered_g.value, low: total / delivered_g.high, high: total / delivered_g.low }
        : undefined,
  };
}

function remarksOf(
  record: ChargeRecord,
  yield_ratio: Bounded,
  missing_g: Bounded | undefined,
): readonly ChargeRemark[] {
  const { planned, ended } = record;
  const remarks: ChargeRemark[] = [];
  if (yield_ratio.low > 1) {
    remarks.push({
      kind: "more-than-possible",
      text: "More was delivered than the weights could give: check the weights, the flow and the gauge.",
    });
  }
  if (
    planned !== undefined &&
    (isUnlike(record.sodiumBicarbonate_g, planned.sodiumBicarbonate_g) ||
      isUnlike(record.acid.mass_g, planned.citricAcid_g))
  ) {
    remarks.push({
      kind: "weighed-unlike-plan",
      text: "What was weighed is more than 5 % off the plan, so the plan's figures are not those of this charge.",
    });
  }
  if (ended.kind === "refilled early") {
    remarks.push({
      kind: "not-run-to-its-end",
      text: "It was refilled before its end: its yield is no measure of the recipe.",
    });
  }
  if (missing_g !== undefined && missing_g.low > 0) {
    remarks.push({
      kind: "lost-otherwise",
      text:
        `At least ${missing_g.low.toFixed(1)} g went neither to the tanks nor into the known leak nor stayed: lost before ` +
        "closing, not set free, or leaked while the valve was open.",
    });
  }
  return remarks;
}

function isUnlike(weighed_g: number, planned_g: number): boolean {
  return Math.abs(weighed_g - planned_g) > unlikePlan_ratio * planned_g;
}

function exactly(value: number): Bounded {
  return { value, low: value, high: value };
}

function times({ value, low, high }: Bounded, factor: number): Bounded {
  return { value: value * factor, low: low * factor, high: high * factor };
}

function over(part: Bounded, whole: Bounded): Bounded {
  const value = part.value / whole.value;
  const down = Math.hypot(value - part.low / whole.value, value - part.value / whole.high);
  const up = Math.hypot(
    part.high / whole.value - value,
    whole.low > 0 ? part.value / whole.low - value : value,
  );
  return { value, low: Math.max(0, value - down), high: value + up };
}

function less(whole: Bounded, parts: readonly Bounded[]): Bounded {
  const value = whole.value - parts.reduce((sum, part) => sum + part.value, 0);
  const down = Math.hypot(whole.value - whole.low, ...parts.map((part) => part.high - part.value));
  const up = Math.hypot(whole.high - whole.value, ...parts.map((part) => part.value - part.low));
  return { value, low: value - down, high: value + up };
}
