import type { SupplyWarning } from "../estimation/supply-estimate.js";
import { normalQuantile80 } from "../numerics/normal-distribution.js";
import { absoluteFromGauge_bar } from "../quantities/units.js";
import { surgeLimits } from "../vessel/surge.js";
import type { FlowFactor, SurgeOutlook } from "./surge-outlook.js";

/** Something seen behind the regulator that tells the flow over what it was when it was set. */
export interface SurgeSign {
  readonly kind: "bubble count" | "outlet pressure" | "tank's rise";
  readonly at_epochMs: number;
  readonly flow_ratio: FlowFactor;
}

/** A value of a flow, or of something in proportion to it, at an instant. */
export interface FlowSeen {
  readonly at_epochMs: number;
  readonly value: number;
}

/**
 * - none: nothing is due in the coming week
 * - expected: the flow comes to a third above what was set by then, if the needle stays as it is
 * - confirmed: it has been seen behind the regulator
 */
export type SurgeVerdict =
  | { readonly kind: "none" }
  | { readonly kind: "expected"; readonly in_days: number }
  | { readonly kind: "confirmed"; readonly sign: SurgeSign };

const hour_ms = 3_600_000;
/** Who counts bubbles over a minute is off by so much. A judgement. */
const countSigma_ln = 0.08;
/** The gauge by which a regulator is set, and what a needle makes of it. A judgement. */
const setSigma_bar = 0.08;
const soonest = { expected_days: 7 } as const;
/** A sign from longer ago says what was. */
const fresh_ms = {
  "bubble count": 72 * hour_ms,
  "outlet pressure": hour_ms,
  "tank's rise": 72 * hour_ms,
} as const;
/** Less than this, and a flow that rose is not the regulator's doing: a needle was turned. */
const atWork_ratio = 1.05;

function factor(ratio: number, sigma_ln: number): FlowFactor {
  const spread = Math.exp(normalQuantile80 * sigma_ln);
  return { value: ratio, low80: ratio / spread, high80: ratio * spread };
}

/** The latest count against the first since the regulator was set or the charge was closed; undefined with fewer than two. */
export function bubbleSign(counts: readonly FlowSeen[]): SurgeSign | undefined {
  const [first] = counts;
  const last = counts.at(-1);
  if (first === undefined || last === undefined || first === last) return undefined;
  if (!(first.value > 0 && last.value > 0)) return undefined;
  return {
    kind: "bubble count",
    at_epochMs: last.at_epochMs,
    flow_ratio: factor(last.value / first.value, Math.SQRT2 * countSigma_ln),
  };
}

/**
 * The pressure behind the regulator, with gas flowing, against the one that it was set to: through an untouched needle the flow
 * goes at the least as the absolute pressure before it. [Shapiro1953]
 */
export function outletSign(outlet: {
  readonly at_epochMs: number;
  readonly gauge_bar: number;
  readonly setGauge_bar: number;
  readonly accuracy_bar: number;
}): SurgeSign {
  const set_bar = absoluteFromGauge_bar(outlet.setGauge_bar);
  // An accuracy is a half-width.
  const sigma_ln = Math.hypot(outlet.accuracy_bar / 2, setSigma_bar) / set_bar;
  const ratio = Math.max(0.01, absoluteFromGauge_bar(outlet.gauge_bar)) / set_bar;
  return { kind: "outlet pressure", at_epochMs: outlet.at_epochMs, flow_ratio: factor(ratio, sigma_ln) };
}

/** What a morning has taught of a tank's dose, in 80 of 100 cases within its ends. */
export interface DoseSeen {
  readonly tankId: string;
  readonly at_epochMs: number;
  readonly dose_mgPerLPerH: number;
  readonly doseLow80_mgPerLPerH: number;
  readonly doseHigh80_mgPerLPerH: number;
}

/** So many mornings make the usual one. */
const usualDoses = 4;

/** The latest dose of a tank against its first ones of this charge; undefined with fewer than three mornings. */
export function doseSign(doses: readonly DoseSeen[]): SurgeSign | undefined {
  const last = doses.at(-1);
  const before = doses.slice(0, Math.min(usualDoses, doses.length - 1));
  if (last === undefined || before.length < 2) return undefined;
  const sigmaOf = (dose: DoseSeen): number =>
    Math.log(dose.doseHigh80_mgPerLPerH / dose.doseLow80_mgPerLPerH) / (2 * normalQuantile80);
  const usual_ln =
    before.reduce((sum, { dose_mgPerLPerH }) => sum + Math.log(dose_mgPerLPerH), 0) / before.length;
  const usualSigma_ln = Math.hypot(...before.map(sigmaOf)) / before.length;
  return {
    kind: "tank's rise",
    at_epochMs: last.at_epochMs,
    flow_ratio: factor(last.dose_mgPerLPerH / Math.exp(usual_ln), Math.hypot(sigmaOf(last), usualSigma_ln)),
  };
}

/**
 * Whether the flow surges. Confirmed by a fresh sign that it is surely a tenth above what was set, while the regulator's rise is
 * at work and no other fresh sign rules that out: a flow that rose by itself is a needle's. Expected where the forecast flow
 * comes to a third above what was set within a week.
 */
export function surgeVerdict(
  outlook: SurgeOutlook,
  signs: readonly SurgeSign[],
  at: { readonly now_epochMs: number; readonly untilSurge_days: number | undefined },
): SurgeVerdict {
  const fresh = signs.filter(({ kind, at_epochMs }) => at.now_epochMs - at_epochMs <= fresh_ms[kind]);
  const shows = ({ flow_ratio }: SurgeSign): boolean => flow_ratio.low80 >= surgeLimits.noticed_ratio;
  const denies = ({ flow_ratio }: SurgeSign): boolean => flow_ratio.high80 < surgeLimits.noticed_ratio;
  const sign = fresh.find(shows);
  if (sign !== undefined && outlook.now.value > atWork_ratio && !fresh.some(denies)) {
    return { kind: "confirmed", sign };
  }
  if (at.untilSurge_days === undefined || at.untilSurge_days > soonest.expected_days) return { kind: "none" };
  return { kind: "expected", in_days: Math.max(0, at.untilSurge_days) };
}

const percent = (ratio: number): string => `${(100 * ratio).toFixed(0)} %`;

/** What a keeper should know of it. The ids stay as they are from version to version. */
export function surgeWarningsOf(outlook: SurgeOutlook, verdict: SurgeVerdict): readonly SupplyWarning[] {
  const turn =
    "Turn the needle back in small steps by the bubble counter, or refill; never turn the regulator up.";
  switch (verdict.kind) {
    case "none":
      return [];
    case "expected": {
      const days = verdict.in_days < 1 ? "within a day" : `in about ${verdict.in_days.toFixed(0)} days`;
      return [
        {
          id: "surge-expected",
          text: `A surge is expected ${days}: the flow is at ${percent(outlook.now.value)} of what was set and goes to ${percent(outlook.atEnd.value)} (${percent(outlook.atEnd.low80)} to ${percent(outlook.atEnd.high80)}) as the vessel empties. ${turn}`,
        },
      ];
    }
    case "confirmed": {
      const { kind, flow_ratio } = verdict.sign;
      return [
        {
          id: "surge-now",
          text: `The flow surges now: by the ${kind} it is at ${percent(flow_ratio.value)} (${percent(flow_ratio.low80)} to ${percent(flow_ratio.high80)}) of what was set. ${turn}`,
        },
      ];
    }
  }
}
