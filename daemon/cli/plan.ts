import { compareCandidates } from "../../lib/charge-plan/compare-candidates.js";
import { planCharge } from "../../lib/charge-plan/plan-charge.js";
import type { PlanRequest } from "../../lib/charge-plan/plan-request.js";
import { planSugarCharge } from "../../lib/charge-plan/plan-sugar.js";
import { NoConvergenceError, OutOfValidRangeError } from "../../lib/errors.js";
import { formatFault } from "../config/config-faults.js";
import { loadConfig } from "../config/load-config.js";
import {
  PlanOptionError,
  planQuestion,
  vesselMeant,
  type GeneratorConfig,
  type PlanOptions,
} from "./plan-options.js";
import { comparisonText } from "./plan-comparison-text.js";
import { sugarPlanText, sugarRefusalText } from "./plan-sugar-text.js";
import { planText, refusalText } from "./plan-text.js";

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
  const loaded = await loadConfig(options.config);
  const isJson = options.json ?? false;
  const complain = (text: string, fields: object = {}): number => {
    ports.write(isJson ? JSON.stringify({ kind: "error", text, ...fields }) : text);
    return 1;
  };
  if (loaded.kind === "invalid") {
    return complain(loaded.faults.map((fault) => formatFault(options.config, fault)).join("\n"));
  }
  try {
    const named = vesselMeant(loaded.config, options.vessel);
    const question = planQuestion(loaded.config, named, options);
    // A table has no room for time and flow, and they take longer than all the rest.
    const isTold = isJson || question.kind === "one";
    const outlooks = isTold ? (ports.outlooks?.(named.vessel) ?? {}) : {};
    const { lines, answer, isPlanned } = answerOf(named.id, question, outlooks);
    if (isJson) ports.write(JSON.stringify({ vessel: named.id, ...answer }));
    else lines.forEach((line) => ports.write(line));
    return isPlanned ? 0 : 1;
  } catch (error) {
    if (error instanceof PlanOptionError) return complain(error.message);
    if (error instanceof OutOfValidRangeError) {
      const { quantity, value, unit, minimum, maximum } = error;
      return complain(outOfRangeText(error), { quantity, value, unit, minimum, maximum });
    }
    if (error instanceof NoConvergenceError) return complain(error.message, { quantity: error.quantity });
    throw error;
  }
}

/** Four digits are enough for a scale; bounds are rounded inwards, so that what is printed is allowed. */
function outOfRangeText({ quantity, value, unit, minimum, maximum }: OutOfValidRangeError): string {
  const after = unit === "" ? "" : ` ${unit}`;
  const allowed = `${shortened(minimum, Math.ceil)} to ${shortened(maximum, Math.floor)}`;
  return `${quantity} is ${String(value)}${after}; allowed is ${allowed}${after}`;
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
  readonly answer: object;
  readonly isPlanned: boolean;
}

function answerOf(
  vesselId: string,
  question: ReturnType<typeof planQuestion>,
  outlooks: PlanOutlooks,
): PlanAnswer {
  if (question.kind === "several") {
    const compared = compareCandidates({ ...question.request, ...outlooks }, question.candidates);
    return {
      lines: comparisonText(vesselId, compared),
      answer: { kind: "comparison", candidates: compared },
      isPlanned: compared.some(({ outcome }) => outcome.kind === "plan" || outcome.kind === "sugar-plan"),
    };
  }
  if (question.kind === "sugar") {
    const plan = planSugarCharge(question.request);
    return {
      lines: plan.kind === "sugar-plan" ? sugarPlanText(vesselId, plan) : sugarRefusalText(vesselId, plan),
      answer: plan,
      isPlanned: plan.kind === "sugar-plan",
    };
  }
  const plan = planCharge({ ...question.request, ...outlooks });
  return {
    lines: plan.kind === "plan" ? planText(vesselId, plan) : refusalText(vesselId, plan),
    answer: plan,
    isPlanned: plan.kind === "plan",
  };
}
