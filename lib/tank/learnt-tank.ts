import type { ClosedProof } from "./closed-proof.js";
import type { FallOffer } from "./evening-fall.js";
import { restVerdict, type RestVerdict } from "./night-rest.js";
import type { Plateau } from "./lead-time.js";
import type { DarkRespiration } from "./respiration.js";
import type { LeadOffer, OverdoseOutlook } from "./learnt-outlook.js";
import type { ExchangeRecord } from "./running-exchange.js";
import { exchangeOf, latestDose } from "./tank-learning-knowledge.js";
import type {
  Aeration,
  ClosedVerdict,
  LearntNight,
  LearntUptake,
  TankLearning,
} from "./tank-learning-state.js";

/** What is said of the closing of the night that is under way. */
export interface WatchedNight {
  readonly from_epochMs: number;
  /** Undefined before the first look, a quarter of an hour after its beginning. */
  readonly proof: ClosedProof | undefined;
}

/** All that is learnt of a tank, as it may be shown; CO2 on the scale of the tank's estimate. */
export interface LearntTank {
  readonly exchange: ExchangeRecord;
  /** Of the nights that the exchange is from. */
  readonly aeration: Aeration;
  readonly latestNight: LearntNight | undefined;
  readonly respiration: DarkRespiration | undefined;
  /** Whether the nights come to rest higher than breathing explains; undefined before three nights. */
  readonly rest: RestVerdict | undefined;
  readonly dose:
    | {
        readonly dose_mgPerLPerH: number;
        readonly doseLow80_mgPerLPerH: number;
        readonly doseHigh80_mgPerLPerH: number;
        readonly at_epochMs: number;
      }
    | undefined;
  /** Of the plants in light, on the last day of which it could be told. */
  readonly uptake?: LearntUptake | undefined;
  readonly plateau: Plateau | undefined;
  readonly lead: LeadOffer;
  /** Undefined before the next look after a start with what an older version had learnt. */
  readonly fall?: FallOffer | undefined;
  readonly night: WatchedNight | undefined;
  readonly verdict: ClosedVerdict | undefined;
  /** While the CO2 is above the alarm limit. */
  readonly overdose: OverdoseOutlook | undefined;
}

/** Plants grow and are cut. Judgement. */
const uptakeCounts_ms = 7 * 24 * 3_600_000;
const gap_ms = 30 * 60_000;
/** Animals grow and plants are cut: an older night says nothing of this tank's breathing. Judgement. */
const restCounts_ms = 14 * 24 * 3_600_000;
/** A verdict that no later night has renewed or refuted is told so long. Judgement. */
const verdictTold_ms = 3 * 24 * 3_600_000;

/**
 * What is learnt, at an instant. Cheap.
 * @param kh_dKH  the hardness by which the CO2 is reckoned now
 */
export function learntTank(state: TankLearning, kh_dKH: number, now_epochMs: number): LearntTank {
  const still = exchangeOf(state, "off");
  const aerated = still.kind === "none" ? exchangeOf(state, "running") : still;
  const dose = latestDose(state, kh_dKH, now_epochMs);
  const { scale_ratio, outlook } = state;
  return {
    exchange: aerated,
    aeration: still.kind === "none" && aerated.kind !== "none" ? "running" : "off",
    latestNight: state.nights.at(-1),
    respiration: outlook?.respiration,
    rest: restVerdict(
      state.nights.flatMap(({ aeration, rest, until_epochMs }) =>
        aeration === "off" && rest !== undefined && now_epochMs - until_epochMs <= restCounts_ms
          ? [rest]
          : [],
      ),
    ),
    dose:
      dose === undefined
        ? undefined
        : {
            dose_mgPerLPerH: dose.dose_mgPerLPerH * scale_ratio,
            doseLow80_mgPerLPerH: dose.doseLow80_mgPerLPerH * scale_ratio,
            doseHigh80_mgPerLPerH: dose.doseHigh80_mgPerLPerH * scale_ratio,
            at_epochMs: dose.at_epochMs,
          },
    uptake: uptakeNow(state, kh_dKH, now_epochMs),
    plateau: outlook?.plateau,
    lead: outlook?.lead ?? { kind: "not known", because: "no night has been watched to its end yet" },
    fall: outlook?.fall,
    night: watchedNight(state, now_epochMs),
    verdict:
      state.verdict !== undefined && now_epochMs - state.verdict.at_epochMs <= verdictTold_ms
        ? state.verdict
        : undefined,
    overdose: state.overdose,
  };
}

/** On the scale of the tank's estimate. */
function uptakeNow(
  { uptake, scale_ratio }: TankLearning,
  kh_dKH: number,
  now_epochMs: number,
): LearntUptake | undefined {
  if (uptake === undefined || now_epochMs - uptake.at_epochMs > uptakeCounts_ms) return undefined;
  const scale = (scale_ratio * kh_dKH) / uptake.kh_dKH;
  const { uptake: taken } = uptake;
  return {
    at_epochMs: uptake.at_epochMs,
    kh_dKH,
    uptake:
      taken.kind === "at most"
        ? { ...taken, uptakeAtMost_mgPerLPerH: taken.uptakeAtMost_mgPerLPerH * scale }
        : {
            ...taken,
            uptake_mgPerLPerH: taken.uptake_mgPerLPerH * scale,
            uptakeLow80_mgPerLPerH: taken.uptakeLow80_mgPerLPerH * scale,
            uptakeHigh80_mgPerLPerH: taken.uptakeHigh80_mgPerLPerH * scale,
          },
  };
}

function watchedNight(
  { night, lastReading_epochMs }: TankLearning,
  now_epochMs: number,
): WatchedNight | undefined {
  if (night === undefined) return undefined;
  const { from_epochMs, proof } = night;
  if (lastReading_epochMs === undefined || now_epochMs - lastReading_epochMs > gap_ms) {
    const because = "the pH sensor is silent, so nothing is seen of a fall";
    return { from_epochMs, proof: { kind: "cannot be told", because, evidence: undefined } };
  }
  return { from_epochMs, proof };
}

/** The gas did not stop, and what speaks for it; undefined where nothing says so. */
export function gasDidNotStop(
  learnt: Pick<LearntTank, "verdict">,
):
  | (ClosedVerdict & { readonly proof: Extract<ClosedProof, { readonly kind: "gas did not stop" }> })
  | undefined {
  const { verdict } = learnt;
  if (verdict?.proof.kind !== "gas did not stop") return undefined;
  return { ...verdict, proof: verdict.proof };
}

/** CO2 stayed up in a night in which nothing could be proven; undefined where it did not. */
export function co2Held(
  learnt: Pick<LearntTank, "verdict">,
): (ClosedVerdict & { readonly proof: Extract<ClosedProof, { readonly kind: "not falling" }> }) | undefined {
  const { verdict } = learnt;
  if (verdict?.proof.kind !== "not falling") return undefined;
  return { ...verdict, proof: verdict.proof };
}

/** Whether the valve is to be tripped at this instant: the night is not over, and it surely hangs open. */
export function isSurelyStuck({ verdict, night }: Pick<LearntTank, "verdict" | "night">): boolean {
  return verdict?.isSurelyStuck === true && verdict.nightFrom_epochMs === night?.from_epochMs;
}
