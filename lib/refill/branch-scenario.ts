import { daysOf, totalUse_gPerDay } from "../charge-plan/delivery.js";
import type { Bounded, TankUse } from "../charge-plan/plan-request.js";
import { absoluteFromGauge_bar, gaugeFromAbsolute_bar } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import { carbonDioxideHeatCapacity_ratio, criticalPressure_ratio } from "../vessel/needle-valve.js";

/** A tank on a branch of the splitter. */
export interface Branch {
  readonly tank: string;
  /** As measured; left out: the mean of the measured tanks is taken. */
  readonly use_gPerDay?: Bounded;
  /** What check valve, diffuser and depth of water need before gas comes out, 0 to 5 bar gauge. */
  readonly backPressureGauge_bar: number;
}

export interface BranchRequest {
  /** In the order in which the tanks are added. 1 to 16. */
  readonly branches: readonly [Branch, ...(readonly Branch[])];
  /** Behind the regulator, 0.2 to 10 bar gauge. */
  readonly workingPressureGauge_bar: number;
  /** A needle valve in every branch, or a single one before the splitter. */
  readonly needleValves: "each branch" | "before the splitter";
  /** What can leave before the gauge is down to an inlet pressure. */
  readonly deliverableAbove: (inletGauge_bar: number) => Bounded;
}

/**
 * - steady: at the speed of sound in its needle, so that neither diffuser nor the other branches change its flow
 * - follows: flows, but changes with its diffuser and its water
 * - none: the working pressure does not open it
 * - uneven: without a needle of its own the branch that opens first takes the gas
 */
export type BranchFlow = "steady" | "follows" | "none" | "uneven";

export interface BranchesOutlook {
  readonly count: number;
  readonly use_gPerDay: Bounded;
  readonly days: Bounded;
  /** Life of the first tank alone over this life. */
  readonly fasterThanFirst_ratio: number;
  readonly branches: readonly {
    readonly tank: string;
    readonly use_gPerDay: Bounded;
    /** true: nobody measured it. */
    readonly isAssumed: boolean;
    readonly flow: BranchFlow;
  }[];
  /** Whether gas comes out of every branch, each with a needle of its own. */
  readonly suffices: boolean;
  /** The least working pressure at which every needle flows at the speed of sound. */
  readonly steadyFromGauge_bar: number;
  /** Life when the working pressure is raised to that; as `days` where it need not be. */
  readonly daysWhenSteady: Bounded;
}

/** A bowl of ceramic or an atomiser opens at some tenths of a bar to two bar: common practice, no source. */
export const usualBackPressure_bar = { ceramicDiffuser: 0.3, atomiser: 1.5 } as const;

/** A use that nobody measured may be half or twice the mean. A judgement, no source. */
const assumedSpread_ratio = 2;

/**
 * What becomes of a charge with the first 1, 2 ... N tanks on it: life = deliverable / summed flows, and whether the working
 * pressure suffices. Common practice, no source: three equal tanks empty a charge three times as fast. The regulator's droop is
 * left out, as these flows are small for it; a needle is steady while the pressure behind it is at most the critical ratio,
 * 0.546, of the absolute pressure before it.
 * @throws OutOfValidRangeError for no measured tank, more than 16 tanks, and pressures or uses out of range
 * @see [Shapiro1953] chapter 4 for the critical ratio; [JCGM100] section 5.1 for the sums
 */
export function branchScenario(request: BranchRequest): readonly BranchesOutlook[] {
  const { branches, workingPressureGauge_bar, deliverableAbove } = request;
  assertInRange(branches.length, { quantity: "tanks", unit: "", minimum: 1, maximum: 16 });
  assertInRange(workingPressureGauge_bar, {
    quantity: "working pressure",
    unit: "bar",
    minimum: 0.2,
    maximum: 10,
  });
  const measured = branches.flatMap(({ use_gPerDay }) => use_gPerDay ?? []);
  assertInRange(measured.length, {
    quantity: "tanks whose use was measured",
    unit: "",
    minimum: 1,
    maximum: 16,
  });
  const mean_gPerDay = measured.reduce((sum, { value }) => sum + value, 0) / measured.length;
  const assumed: Bounded = {
    value: mean_gPerDay,
    low: mean_gPerDay / assumedSpread_ratio,
    high: mean_gPerDay * assumedSpread_ratio,
  };
  const deliverable_g = deliverableAbove(workingPressureGauge_bar);
  const lifeOf = (count: number, amount_g: Bounded): { readonly days: Bounded; readonly use: Bounded } => {
    const uses = branches.slice(0, count).map(({ tank, use_gPerDay }): TankUse => {
      assertInRange((use_gPerDay ?? assumed).value, {
        quantity: "use",
        unit: "g/day",
        minimum: 1e-3,
        maximum: 1e4,
      });
      return { tank, co2_gPerDay: use_gPerDay ?? assumed };
    });
    const use = totalUse_gPerDay(uses) ?? assumed;
    return { use, days: daysOf(amount_g, use) };
  };
  const alone = lifeOf(1, deliverable_g);
  return branches.map((_, index) => {
    const count = index + 1;
    const life = lifeOf(count, deliverable_g);
    const steadyFromGauge_bar = Math.max(
      ...branches.slice(0, count).map(({ backPressureGauge_bar }) => steadyFrom(backPressureGauge_bar)),
    );
    const flows = branches.slice(0, count).map((branch) => ({
      tank: branch.tank,
      use_gPerDay: branch.use_gPerDay ?? assumed,
      isAssumed: branch.use_gPerDay === undefined,
      flow: flowOf(branch, request, count),
    }));
    return {
      count,
      use_gPerDay: life.use,
      days: life.days,
      fasterThanFirst_ratio: alone.days.value / life.days.value,
      branches: flows,
      suffices: flows.every(({ flow }) => flow === "steady" || flow === "follows"),
      steadyFromGauge_bar,
      daysWhenSteady:
        steadyFromGauge_bar <= workingPressureGauge_bar
          ? life.days
          : lifeOf(count, deliverableAbove(steadyFromGauge_bar)).days,
    };
  });
}

/** The working pressure from which a needle flows at the speed of sound against a back pressure, bar gauge. */
function steadyFrom(backPressureGauge_bar: number): number {
  assertInRange(backPressureGauge_bar, { quantity: "back pressure", unit: "bar", minimum: 0, maximum: 5 });
  return gaugeFromAbsolute_bar(
    absoluteFromGauge_bar(backPressureGauge_bar) / criticalPressure_ratio(carbonDioxideHeatCapacity_ratio),
  );
}

function flowOf(branch: Branch, request: BranchRequest, count: number): BranchFlow {
  const { workingPressureGauge_bar, needleValves } = request;
  if (branch.backPressureGauge_bar >= workingPressureGauge_bar) return "none";
  if (needleValves === "before the splitter" && count > 1) return "uneven";
  return workingPressureGauge_bar >= steadyFrom(branch.backPressureGauge_bar) ? "steady" : "follows";
}

/** Known too badly to be of use: the 95 % bounds lie further apart than twice the life and a day. A judgement. */
export function isLifeVague({ value, low, high }: Bounded): boolean {
  return high - low > 2 * value + 1;
}

/** The scenario in plain sentences, a line for each number of tanks. */
export function branchSentences(outlooks: readonly BranchesOutlook[]): readonly string[] {
  return outlooks.map((outlook, index) => {
    const { count, days, use_gPerDay, branches, steadyFromGauge_bar } = outlook;
    const tanks = `${count} ${count === 1 ? "tank" : "tanks"}`;
    // A tank that nobody measured makes nothing surer: what the measured ones do not let tell, it does not tell either.
    const measured = outlooks
      .slice(0, index)
      .filter((fewer) => !isAnyAssumed(fewer))
      .at(-1);
    const isVague =
      isLifeVague(days) || (isAnyAssumed(outlook) && measured !== undefined && isLifeVague(measured.days));
    const least = days.low >= 1 ? `, at least ${Math.floor(days.low)} days` : "";
    const life = isVague
      ? `${tanks}: how long it lasts cannot be told yet${least}: too little of its use is known`
      : `${tanks}: ${days.value.toFixed(0)} days (${days.low.toFixed(0)} to ${days.high.toFixed(0)}) at ${use_gPerDay.value.toFixed(2)} g a day`;
    const assumed = branches.filter(({ isAssumed }) => isAssumed).map(({ tank }) => tank);
    return [
      count === 1 ? life : `${life}, emptied ${outlook.fasterThanFirst_ratio.toFixed(1)} times as fast`,
      ...(assumed.length === 0 ? [] : [`the use of ${assumed.join(", ")} is assumed, not measured`]),
      ...pressureWords(branches, steadyFromGauge_bar),
    ].join("; ");
  });
}

function isAnyAssumed({ branches }: BranchesOutlook): boolean {
  return branches.some(({ isAssumed }) => isAssumed);
}

function pressureWords(
  branches: BranchesOutlook["branches"],
  steadyFromGauge_bar: number,
): readonly string[] {
  const withFlow = (flow: BranchFlow): string =>
    branches
      .filter((branch) => branch.flow === flow)
      .map(({ tank }) => tank)
      .join(", ");
  const words: string[] = [];
  if (withFlow("none") !== "") words.push(`the working pressure does not open ${withFlow("none")}`);
  if (withFlow("uneven") !== "") {
    words.push("without a needle valve in every branch the one that opens first takes the gas");
  }
  if (withFlow("follows") !== "") {
    words.push(
      `the flow of ${withFlow("follows")} follows its diffuser; it is steady from ${steadyFromGauge_bar.toFixed(1)} bar on`,
    );
  }
  return words.length === 0 ? ["the working pressure suffices"] : words;
}
