import type { ClosedLossState } from "./closed-loss.js";
import { lossFits, type LossFit } from "./loss-fit.js";

/**
 * What the gauge says of the closed vessel:
 * - none: nothing beyond what gauge and room explain
 * - leak: gas goes while the valve is closed, over spans together
 * - valve-passes: fast, and since the last closing: the valve hangs open or its seat leaks, unless a fitting went then
 */
export type LossKind = "none" | "leak" | "valve-passes";

export interface LossVerdict {
  readonly kind: LossKind;
  /** The fit that says so, or the surest there is. */
  readonly fit: LossFit | undefined;
}

/**
 * Standard deviations, so that a detector that looks again every ten minutes, over every number of days, is wrong less than once
 * a year on simulated charges; and the least loss that is worth a word.
 */
const limits = {
  leak: { deviations: 4.5, least_gPerH: 0.3 / 24, closed_h: 5 },
  valvePasses: { deviations: 5, least_gPerH: 0.04, closed_h: 0.6 },
  fast: { deviations: 6.5, least_gPerH: 0.06, closed_h: 1 },
  /** What is said stands until the loss is clearly less. */
  stands: { deviations: 2, share: 0.5 },
} as const;

const closingsOf_ms = 24 * 3_600_000;

const surest = (fits: readonly LossFit[]): LossFit | undefined =>
  fits.reduce<LossFit | undefined>(
    (best, fit) => (best === undefined || deviationsOf(fit) > deviationsOf(best) ? fit : best),
    undefined,
  );

function deviationsOf(fit: LossFit): number {
  return fit.loss_gPerH / fit.deviation_gPerH;
}

/** @param before what was said last: a finding is withdrawn later than it is made */
export function lossVerdict(
  state: ClosedLossState,
  gaugeAccuracy_bar: number,
  before: LossKind,
): LossVerdict {
  const fits = lossFits(state, gaugeAccuracy_bar);
  const { leak, fast, valvePasses, stands } = limits;
  // A closing of today: the valve may have hung open since, through a short opening in between.
  const last_epochMs = state.spans.at(-1)?.to_epochMs ?? 0;
  const closings = state.spans.filter(
    ({ continues, afterClosing, from_epochMs }) =>
      !continues && afterClosing && last_epochMs - from_epochMs < closingsOf_ms,
  );
  const passing = surest(
    fits.filter(
      (fit) =>
        closings.some(({ from_epochMs }) => from_epochMs === fit.from_epochMs) &&
        fit.closed_h >= valvePasses.closed_h &&
        fit.loss_gPerH >= valvePasses.least_gPerH,
    ),
  );
  if (passing !== undefined && deviationsOf(passing) >= valvePasses.deviations) {
    // Pressure alone does not part the two: what was said first stays.
    return { kind: before === "leak" ? "leak" : "valve-passes", fit: passing };
  }
  const sure = surest(
    fits.filter(
      (fit) =>
        (fit.closed_h >= leak.closed_h &&
          fit.loss_gPerH >= leak.least_gPerH &&
          deviationsOf(fit) >= leak.deviations) ||
        (fit.closed_h >= fast.closed_h &&
          fit.loss_gPerH >= fast.least_gPerH &&
          deviationsOf(fit) >= fast.deviations),
    ),
  );
  if (sure !== undefined) {
    return { kind: before === "valve-passes" ? "valve-passes" : "leak", fit: sure };
  }
  const most = surest(fits);
  const still =
    before !== "none" &&
    most !== undefined &&
    deviationsOf(most) >= stands.deviations &&
    most.loss_gPerH >= stands.share * leak.least_gPerH;
  return { kind: still ? before : "none", fit: most };
}
