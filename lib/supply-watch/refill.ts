import type { SupplyReading } from "../estimation/supply-trace.js";

/** Something that no dosing does to the gauge, from which the charge in the vessel is another. */
export interface VesselEvent {
  readonly kind: "emptied" | "refilled";
  readonly at_epochMs: number;
  readonly from_bar: number;
  readonly to_bar: number;
}

export interface RefillState {
  readonly version: 1;
  readonly last_epochMs: number;
  /** Gauge of the last hour, the newest counting most. */
  readonly usual_bar: number | undefined;
  /** A gauge far from the usual one, since when and how far; a single reading is a dropout. */
  readonly away:
    { readonly since_epochMs: number; readonly count: number; readonly last_bar: number } | undefined;
  readonly lowest_bar: number | undefined;
  readonly event: VesselEvent | undefined;
}

const hour_ms = 3_600_000;
/** Dosing and a room move a gauge by less in an hour; a vessel is opened empty. Judgements. */
const limits = {
  fall_bar: 2,
  fall_ratio: 0.5,
  rise_bar: 2.5,
  comesUp_bar: 0.3,
  back_ratio: 0.1,
  reaction_ms: 72 * hour_ms,
  count: 3,
} as const;

export const firstRefillState: RefillState = {
  version: 1,
  last_epochMs: 0,
  usual_bar: undefined,
  away: undefined,
  lowest_bar: undefined,
  event: undefined,
};

/** Vessel emptied: the gauge falls within minutes and stays. Refilled: it rises where no gas was made. Only once settled. */
export function stepRefill(state: RefillState, reading: SupplyReading): RefillState {
  const gauge_bar = reading.pressureGauge_bar;
  if (gauge_bar === undefined || reading.at_epochMs <= state.last_epochMs) return state;
  const { at_epochMs } = reading;
  const moved = { ...state, last_epochMs: at_epochMs };
  const { usual_bar, lowest_bar } = state;
  if (usual_bar === undefined) return { ...moved, usual_bar: gauge_bar };
  const counted = (): RefillState["away"] => ({
    since_epochMs: state.away?.since_epochMs ?? at_epochMs,
    count: (state.away?.count ?? 0) + 1,
    last_bar: gauge_bar,
  });
  if (lowest_bar !== undefined) {
    const low_bar = Math.min(lowest_bar, gauge_bar);
    if (gauge_bar < low_bar + limits.rise_bar) return { ...moved, lowest_bar: low_bar, away: undefined };
    const away = counted();
    if (away !== undefined && away.count < limits.count) return { ...moved, lowest_bar: low_bar, away };
    return {
      ...moved,
      usual_bar: gauge_bar,
      lowest_bar: undefined,
      away: undefined,
      event: { kind: "refilled", at_epochMs, from_bar: low_bar, to_bar: gauge_bar },
    };
  }
  const { event: latest } = state;
  if (
    latest?.kind === "refilled" &&
    at_epochMs - latest.at_epochMs < limits.reaction_ms &&
    gauge_bar > usual_bar
  ) {
    // The reaction of the new charge.
    return { ...moved, away: undefined, usual_bar: gauge_bar };
  }
  const falls = gauge_bar < usual_bar - Math.max(limits.fall_bar, limits.fall_ratio * usual_bar);
  const rises = gauge_bar > usual_bar + limits.rise_bar;
  // A dropout stays where it is or is gone; a vessel that was filled again comes up, and not to where it was.
  const fell_bar = state.away?.last_bar ?? Infinity;
  const comesUp =
    fell_bar < usual_bar - limits.fall_bar &&
    gauge_bar > fell_bar + limits.comesUp_bar &&
    Math.abs(gauge_bar - usual_bar) > limits.back_ratio * usual_bar;
  if (!falls && !rises && !comesUp) {
    const kept = Math.exp(-(at_epochMs - state.last_epochMs) / hour_ms);
    return { ...moved, away: undefined, usual_bar: gauge_bar + kept * (usual_bar - gauge_bar) };
  }
  if (comesUp) {
    const filled = gauge_bar > fell_bar + limits.rise_bar;
    return {
      ...moved,
      away: undefined,
      event: {
        kind: filled ? "refilled" : "emptied",
        at_epochMs,
        from_bar: filled ? fell_bar : usual_bar,
        to_bar: gauge_bar,
      },
      usual_bar: gauge_bar,
      lowest_bar: filled ? undefined : fell_bar,
    };
  }
  const away = counted();
  const enough = reading.byEye === true ? 1 : limits.count;
  if (away !== undefined && away.count < enough) return { ...moved, away };
  const event: VesselEvent = {
    kind: falls ? "emptied" : "refilled",
    at_epochMs,
    from_bar: usual_bar,
    to_bar: gauge_bar,
  };
  return {
    ...moved,
    away: undefined,
    event,
    usual_bar: gauge_bar,
    lowest_bar: falls ? gauge_bar : undefined,
  };
}
