import { ownRatingCaution } from "../../lib/charge-plan/cautions.js";
import { compareCandidates } from "../../lib/charge-plan/compare-candidates.js";
import { planCharge, type ChargePlan, type RefusedPlan } from "../../lib/charge-plan/plan-charge.js";
import { planDefaults, type PlanRequest } from "../../lib/charge-plan/plan-request.js";
import { plateCautions } from "../../lib/charge-plan/plate-cautions.js";
import { planSugarCharge } from "../../lib/charge-plan/plan-sugar.js";
import { NoConvergenceError, OutOfValidRangeError } from "../../lib/errors.js";
import { surroundingsRanges } from "../../lib/vessel/pressurising.js";
import { type ConfigFault, formatFault } from "../config/config-faults.js";
import { loadPlanningConfig, type PlanningConfig } from "../config/planning-config.js";
import {
  PlanOptionError,
  planQuestion,
  vesselMeant,
  type GeneratorConfig,
  type NamedVessel,
  type PlanOptions,
} from "./plan-options.js";
import { planBranches, planBranchLines } from "./plan-branches.js";
import { comparisonText } from "./plan-comparison-text.js";
import { sugarPlanText, sugarRefusalText } from "./plan-sugar-text.js";
import { wrapped } from "./plan-layout.js";
import { planText, refusalText, type PlanRemarks } from "./plan-text.js";
import { plateLines, standsAbove, usualUseText, vesselRows } from "./plan-vessel-text.js";

type PlanOutlooks = Pick<PlanRequest, "readyTime" | "surge">;

export interface PlanCommandPorts {
  /** Takes one line, without its line end. */
  readonly write: (line: string) => void;
  /** What the plan can say of time and flow, where there is a model of them. */
  readonly outlooks?: (vessel: GeneratorConfig) => PlanOutlooks;
}

/**
 * Plans a charge for a vessel of the config, or compares several recipes, and prints it for the keeper or as one JSON object.
 * @returns the exit code: 0 for a plan, or where one recipe at least fits; 1 for a refusal, a fault in the config or an option
 */
export async function planCommand(options: PlanOptions, ports: PlanCommandPorts): Promise<number> {
  const loaded = await loadPlanningConfig(options.config);
  const isJson = options.json ?? false;
  const complain = (text: string, fields: object = {}): number => {
    ports.write(isJson ? JSON.stringify({ kind: "error", text, ...fields }) : text);
    return 1;
  };
  if (loaded.kind === "invalid") {
    return complain(loaded.faults.map((fault) => formatFault(options.config, fault)).join("\n"));
  }
  const { config } = loaded;
  const elsewhere = notNeeded(options.config, loaded.elsewhere);
  const reply = planReply(config, options, isJson, ports.outlooks);
  if (reply.kind === "complaint") {
    return complain([reply.text, ...(reply.isOption ? elsewhere : [])].join("\n"), reply.fields);
  }
  const { named, lines, answer, isPlanned } = reply;
  if (isJson) ports.write(JSON.stringify(jsonAnswer(named, answer, loaded.elsewhere)));
  else [...lines, ...elsewhere].forEach((line) => ports.write(line));
  return isPlanned ? 0 : 1;
}

export type PlanReply =
  | {
      readonly kind: "reply";
      readonly named: NamedVessel;
      /** For a person, without what is wrong elsewhere in the config. */
      readonly lines: readonly string[];
      readonly answer: Readonly<Record<string, unknown>>;
      /** Of one acid charge; undefined for sugar and comparisons. */
      readonly plan: ChargePlan | RefusedPlan | undefined;
      readonly isPlanned: boolean;
    }
  | {
      readonly kind: "complaint";
      readonly text: string;
      readonly fields: object;
      readonly isOption: boolean;
    };

/** What a plan answers to what was typed; what cannot be taken is a complaint. */
export function planReply(
  config: PlanningConfig,
  options: Omit<PlanOptions, "config">,
  isJson: boolean,
  outlooksOf: PlanCommandPorts["outlooks"],
): PlanReply {
  const complaint = (text: string, fields: object = {}, isOption = false): PlanReply => ({
    kind: "complaint",
    text,
    fields,
    isOption,
  });
  try {
    const named = vesselMeant(config, options.vessel);
    const question = planQuestion(config, named, options);
    const outlooks = outlooksFor(question, isJson, outlooksOf?.(named.vessel) ?? {});
    const { lines, answer, plan, isPlanned } = answerOf(config, named, question, outlooks);
    const all = [...plateLines(named.vessel), ...lines, "", ...wrapped(standsAbove, "")];
    return { kind: "reply", named, lines: all, answer, plan, isPlanned };
  } catch (error) {
    if (error instanceof PlanOptionError) return complaint(error.message, {}, true);
    if (error instanceof OutOfValidRangeError) {
      const { quantity, value, unit, minimum, maximum } = error;
      return complaint(outOfRangeText(error), { quantity, value, unit, minimum, maximum });
    }
    if (error instanceof NoConvergenceError) return complaint(error.message, { quantity: error.quantity });
    throw error;
  }
}

/** A table has no room for the flow; and what takes long is told of a few recipes only. */
function outlooksFor(
  question: ReturnType<typeof planQuestion>,
  isJson: boolean,
  { readyTime, surge }: PlanOutlooks,
): PlanOutlooks {
  const isOfMany = question.kind === "several" && !isJson;
  const isTimeTold = !isOfMany || question.candidates.length <= mostTimedCandidates;
  return {
    ...(readyTime === undefined || !isTimeTold ? {} : { readyTime }),
    ...(surge === undefined || isOfMany ? {} : { surge }),
  };
}

const mostTimedCandidates = 20;
const mostElsewhere = 5;

/** What is wrong in parts of the file that no plan needs, so that a slip in a section's name does not go unseen. */
function notNeeded(file: string, faults: readonly ConfigFault[]): readonly string[] {
  if (faults.length === 0) return [];
  const more = faults.length - mostElsewhere;
  return [
    "",
    "Not needed for a plan, but at fault in the config:",
    ...faults.slice(0, mostElsewhere).map((fault) => formatFault(file, fault)),
    ...(more > 0 ? [`and ${String(more)} more; the command check names them all`] : []),
  ];
}

/** Every answer carries what to take care of, what is doubtful about the plates first. */
function jsonAnswer(
  { id, vessel }: NamedVessel,
  answer: Readonly<Record<string, unknown>>,
  elsewhere: readonly ConfigFault[],
): object {
  const { volume_L, ratedPressureGauge_bar, reliefOpeningGauge_bar } = vessel;
  const { cautions } = answer;
  return {
    vessel: id,
    ...answer,
    vesselUsed: { volume_L, ratedPressureGauge_bar, reliefOpeningGauge_bar },
    cautions: [
      ...plateCautions({ ratedPressureGauge_bar, reliefOpeningGauge_bar }),
      ...(Array.isArray(cautions) ? (cautions as readonly unknown[]) : [ownRatingCaution]),
    ],
    ...(elsewhere.length === 0 ? {} : { faultsElsewhere: elsewhere }),
  };
}

/** Four digits are enough for a scale; bounds are rounded inwards, so that what is printed is allowed. */
function outOfRangeText(error: OutOfValidRangeError): string {
  const { quantity, value, unit, minimum, maximum } = error;
  const after = unit === "" ? "" : ` ${unit}`;
  const allowed = `${shortened(minimum, Math.ceil)} to ${shortened(maximum, Math.floor)}`;
  const reason =
    quantity === "residual liquor" && value > maximum
      ? ", for the last charge in the config left no more than that"
      : "";
  return `${quantity} is ${String(value)}${after}; allowed is ${allowed}${after}${reason}${likelyMeant(error)}`;
}

/** A thousandfold slip of g and kg, or mL and L. */
function likelyMeant({ value, unit, minimum, maximum }: OutOfValidRangeError): string {
  const meant = unit === "kg" || unit === "L" ? value / 1000 : unit === "g" ? 1000 * value : Number.NaN;
  if (!(meant >= minimum && meant <= maximum) || meant === 0) return "";
  return `; did you mean ${String(Number(meant.toPrecision(6)))}?`;
}

function shortened(value: number, inwards: (scaled: number) => number): string {
  if (value === 0 || !Number.isFinite(value) || Number.isInteger(value)) return String(value);
  const scale = 10 ** (3 - Math.floor(Math.log10(Math.abs(value))));
  // A bound such as 0.01 is not moved by the last bit of its product.
  const rounded = Math.round(value * scale);
  const isExact = Math.abs(value * scale - rounded) < 1e-9 * Math.abs(rounded);
  return String(Number(((isExact ? rounded : inwards(value * scale)) / scale).toPrecision(4)));
}

interface PlanAnswer {
  readonly lines: readonly string[];
  readonly answer: Readonly<Record<string, unknown>>;
  readonly plan?: ChargePlan | RefusedPlan;
  readonly isPlanned: boolean;
}

function answerOf(
  config: PlanningConfig,
  { id, vessel }: NamedVessel,
  question: ReturnType<typeof planQuestion>,
  outlooks: PlanOutlooks,
): PlanAnswer {
  const rows = vesselRows(vessel);
  if (question.kind === "several") {
    const compared = compareCandidates({ ...question.request, ...outlooks }, question.candidates);
    return {
      lines: comparisonText(id, compared, rows),
      answer: { kind: "comparison", candidates: compared },
      isPlanned: compared.some(({ outcome }) => outcome.kind === "plan" || outcome.kind === "sugar-plan"),
    };
  }
  if (question.kind === "sugar") {
    const plan = planSugarCharge(question.request);
    return {
      lines: plan.kind === "sugar-plan" ? sugarPlanText(id, plan, rows) : sugarRefusalText(id, plan, rows),
      answer: { ...plan },
      isPlanned: plan.kind === "sugar-plan",
    };
  }
  const plan = planCharge({ ...question.request, ...outlooks });
  const usualUse = usualUseText(config, id);
  const moreTanks =
    plan.kind === "plan"
      ? planBranches(plan, vessel, question.request.room_degC ?? planDefaults.room_degC)
      : undefined;
  return {
    lines:
      plan.kind === "plan"
        ? planText(id, plan, rows, {
            usualUse,
            ...(moreTanks === undefined ? {} : { moreTanks: planBranchLines(moreTanks) }),
            ...remarksOn(plan, question, outlooks),
          })
        : refusalText(id, plan, rows, { usualUse }),
    answer: { ...plan, ...(moreTanks === undefined ? {} : { moreTanks }) },
    plan,
    isPlanned: plan.kind === "plan",
  };
}

function remarksOn(
  { readyTime, cost, pressures, untold }: ChargePlan,
  { request, isUseErrorAssumed }: Extract<ReturnType<typeof planQuestion>, { kind: "one" }>,
  outlooks: PlanOutlooks,
): PlanRemarks {
  const { minimum } = surroundingsRanges.room;
  const isTooCold = pressures.room.temperature_degC < minimum;
  const readyNotTold = isTooCold
    ? `not told: how fast it goes in a room below ${String(minimum)} degC is not known`
    : `not told: ${untold?.readyTime ?? "not within twelve days"}`;
  const priceMissing = missingPrice(request.prices);
  return {
    isUseErrorAssumed,
    ...(readyTime !== undefined || outlooks.readyTime === undefined ? {} : { readyNotTold }),
    ...(untold?.surge === undefined ? {} : { flowNotTold: `not told: ${untold.surge}` }),
    ...(cost !== undefined || priceMissing === undefined ? {} : { costNotTold: `not told: ${priceMissing}` }),
  };
}

function missingPrice(prices: PlanRequest["prices"]): string | undefined {
  const { sodiumBicarbonatePricePerKg: bicarbonate, citricAcidPricePerKg: acid } = prices ?? {};
  if ((bicarbonate === undefined) === (acid === undefined)) return undefined;
  return bicarbonate === undefined
    ? "the price of bicarbonate is missing (sodiumBicarbonate_perKg, or --price-bicarbonate)"
    : "the price of citric acid is missing (citricAcid_perKg, or --price-acid)";
}
