import type { Bounded } from "../charge-plan/plan-request.js";
import { normalQuantile95 } from "../numerics/normal-distribution.js";
import type { WeighedAcid } from "../vessel/charge.js";
import type {
  ChargeEnd,
  ChargePrices,
  ChargeRecord,
  DeliveredPart,
  ForecastRunOut,
} from "./charge-record.js";

/** What is known of a charge when it is closed. */
export interface ChargeBeginning {
  readonly vesselId: string;
  readonly acid: WeighedAcid;
  readonly sodiumBicarbonate_g: number;
  readonly water_kg: number;
  readonly vesselVolume_L: number;
  readonly closedWith: "water" | "ice";
  /** Of water and room when it was closed; left out in charges that were kept without it. */
  readonly sealedAt_degC?: number;
  readonly closed_epochMs: number;
  readonly workingPressureGauge_bar: number;
  /** What the plan said to weigh, where the keeper entered it. */
  readonly planned?: { readonly sodiumBicarbonate_g: number; readonly citricAcid_g: number };
}

/** A charge as it is followed from its closing to its end: plain data that a store can keep as JSON. Bounds are 95 %. */
export interface FollowedCharge extends ChargeBeginning {
  /** What it was said to deliver, in its first day and before anything was drawn. */
  readonly foreseen_g?: Bounded;
  /** It was seen reacting, so that its settling can be told. */
  readonly sawSettling: boolean;
  readonly ready_epochMs?: number;
  readonly delivered_g: Bounded;
  readonly leak_gPerDay?: Bounded;
  readonly left_g?: Bounded;
  readonly openByValve_h: Readonly<Record<string, number>>;
  readonly dosing_days: number;
  /** YYYY-MM-DD, of the last day that it served. */
  readonly lastDosingDate?: string;
  readonly forecastAtHalf?: ForecastRunOut;
  readonly spentSince_epochMs?: number;
  /** Another charge has taken its place. */
  readonly replaced_epochMs?: number;
  readonly seen_epochMs: number;
}

/** What an estimate says of the charge. */
export interface ChargeSight {
  readonly at_epochMs: number;
  readonly phase: "settling" | "ready" | "dosing" | "spent";
  /** CO2 that has left since closing, leak included. */
  readonly removed: { readonly value: number; readonly deviation: number };
  readonly leak_gPerDay: { readonly value: number; readonly deviation: number };
  readonly remaining_g: Bounded;
  readonly deliverable_g: Bounded;
  readonly runOut: {
    readonly median_epochMs: number;
    readonly low80_epochMs: number;
    readonly high80_epochMs: number;
  };
}

const day_ms = 86_400_000;
/** Later, what it is said to deliver is no forecast of its closing. */
const foreseenWithin_ms = day_ms;
/** The gauge is below the working pressure for so long before a charge counts as spent: a cold night is no end. */
const spentAfter_ms = day_ms;
/** 95 % half-width of a kitchen scale. A judgement, no source. */
const weighing_g = 1;

export function begunCharge(beginning: ChargeBeginning): FollowedCharge {
  return {
    ...beginning,
    sawSettling: false,
    delivered_g: { value: 0, low: 0, high: 0 },
    openByValve_h: {},
    dosing_days: 0,
    seen_epochMs: beginning.closed_epochMs,
  };
}

/** The charge after one more estimate; the same one for an estimate that is not newer. */
export function withSight(charge: FollowedCharge, sight: ChargeSight): FollowedCharge {
  const { at_epochMs, phase, leak_gPerDay, removed, deliverable_g } = sight;
  if (at_epochMs <= charge.seen_epochMs) return charge;
  const age_days = Math.max(0, (at_epochMs - charge.closed_epochMs) / day_ms);
  const leaked_g = leak_gPerDay.value * age_days;
  const half_g = normalQuantile95 * Math.hypot(removed.deviation, leak_gPerDay.deviation * age_days);
  const delivered = Math.max(0, removed.value - leaked_g);
  const isFresh = at_epochMs - charge.closed_epochMs < foreseenWithin_ms && charge.dosing_days === 0;
  const foreseen_g = charge.foreseen_g ?? (isFresh ? deliverable_g : undefined);
  const isReady = phase !== "settling" && charge.sawSettling && charge.ready_epochMs === undefined;
  const { spentSince_epochMs: before_epochMs, ...rest } = charge;
  const spentSince_epochMs = phase === "spent" ? (before_epochMs ?? at_epochMs) : undefined;
  const isHalf =
    charge.forecastAtHalf === undefined &&
    foreseen_g !== undefined &&
    phase === "dosing" &&
    deliverable_g.value <= foreseen_g.value / 2;
  return {
    ...rest,
    ...(foreseen_g === undefined ? {} : { foreseen_g }),
    sawSettling: charge.sawSettling || phase === "settling",
    ...(isReady ? { ready_epochMs: at_epochMs } : {}),
    delivered_g: {
      value: delivered,
      low: Math.max(0, delivered - half_g),
      high: Math.max(0, removed.value - leaked_g) + half_g,
    },
    leak_gPerDay: bounded(leak_gPerDay),
    left_g: sight.remaining_g,
    ...(isHalf ? { forecastAtHalf: { made_epochMs: at_epochMs, ...sight.runOut } } : {}),
    ...(spentSince_epochMs === undefined ? {} : { spentSince_epochMs }),
    seen_epochMs: at_epochMs,
  };
}

/** The charge after its valves were open for some time on a civil date. */
export function withDosing(
  charge: FollowedCharge,
  openByValve_h: Readonly<Record<string, number>>,
  date: string,
): FollowedCharge {
  const sums = { ...charge.openByValve_h };
  for (const [valveId, open_h] of Object.entries(openByValve_h)) {
    sums[valveId] = (sums[valveId] ?? 0) + open_h;
  }
  const isNewDay = charge.lastDosingDate !== date;
  return {
    ...charge,
    openByValve_h: sums,
    dosing_days: charge.dosing_days + (isNewDay ? 1 : 0),
    lastDosingDate: date,
  };
}

/** How a charge came to its end, or that it has not. */
export function endOf(charge: FollowedCharge): ChargeEnd {
  const { spentSince_epochMs, replaced_epochMs, seen_epochMs } = charge;
  const told_epochMs = replaced_epochMs ?? seen_epochMs;
  if (spentSince_epochMs !== undefined && told_epochMs - spentSince_epochMs >= spentAfter_ms) {
    return { kind: "spent", at_epochMs: spentSince_epochMs };
  }
  return replaced_epochMs === undefined
    ? { kind: "running" }
    : { kind: "refilled early", at_epochMs: replaced_epochMs };
}

/** The record of a charge, for its report. */
export function recordOf(
  charge: FollowedCharge,
  site: {
    /** YYYY-MM-DD of its closing in the site's zone. */
    readonly closedOn: string;
    readonly prices: ChargePrices | undefined;
    readonly feeds: ReadonlyMap<string, readonly { readonly tank: string; readonly share: number }[]>;
    readonly ready_h?: Bounded;
  },
): ChargeRecord {
  const { acid, sodiumBicarbonate_g, planned, foreseen_g, delivered_g } = charge;
  const byValve = valveParts(charge);
  return {
    chargeId: `${charge.vesselId} ${site.closedOn}`,
    vesselId: charge.vesselId,
    planned: {
      sodiumBicarbonate_g: planned?.sodiumBicarbonate_g ?? sodiumBicarbonate_g,
      citricAcid_g: planned?.citricAcid_g ?? acid.mass_g,
      ...(foreseen_g === undefined ? {} : { deliverable_g: foreseen_g }),
      ...(site.ready_h === undefined ? {} : { ready_h: site.ready_h }),
    },
    acid,
    sodiumBicarbonate_g,
    water_kg: charge.water_kg,
    vesselVolume_L: charge.vesselVolume_L,
    weighing_g,
    closedWith: charge.closedWith,
    closed_epochMs: charge.closed_epochMs,
    workingPressureGauge_bar: charge.workingPressureGauge_bar,
    ready_epochMs: charge.ready_epochMs,
    settledGauge_bar: undefined,
    delivered_g,
    byValve,
    byTank: tankParts(byValve, site.feeds),
    leak_gPerDay: charge.leak_gPerDay,
    left_g: charge.left_g,
    dosing_days: charge.dosing_days,
    forecastAtHalf: charge.forecastAtHalf,
    ended: endOf(charge),
    prices: site.prices,
  };
}

/** The gauge sees all valves as one: each is given its share of the open hours. */
function valveParts({ openByValve_h, delivered_g }: FollowedCharge): readonly DeliveredPart[] {
  const total_h = Object.values(openByValve_h).reduce((sum, open_h) => sum + open_h, 0);
  if (!(total_h > 0)) return [];
  return Object.entries(openByValve_h).map(([name, open_h]) => ({
    name,
    co2_g: times(delivered_g, open_h / total_h),
  }));
}

function tankParts(
  byValve: readonly DeliveredPart[],
  feeds: ReadonlyMap<string, readonly { readonly tank: string; readonly share: number }[]>,
): readonly DeliveredPart[] {
  const parts = new Map<string, Bounded>();
  for (const { name, co2_g } of byValve) {
    for (const { tank, share } of feeds.get(name) ?? []) {
      const part = times(co2_g, share);
      const before = parts.get(tank) ?? { value: 0, low: 0, high: 0 };
      parts.set(tank, {
        value: before.value + part.value,
        low: before.low + part.low,
        high: before.high + part.high,
      });
    }
  }
  return [...parts].map(([name, co2_g]) => ({ name, co2_g }));
}

function bounded({ value, deviation }: { readonly value: number; readonly deviation: number }): Bounded {
  return {
    value,
    low: Math.max(0, value - normalQuantile95 * deviation),
    high: value + normalQuantile95 * deviation,
  };
}

function times({ value, low, high }: Bounded, factor: number): Bounded {
  return { value: value * factor, low: low * factor, high: high * factor };
}
