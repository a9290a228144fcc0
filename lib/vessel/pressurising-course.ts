import { NoConvergenceError } from "../errors.js";
import type { HeatedState, HeatModel } from "./heat-balance.js";

/** What sets the pace: heat from the room, and the mixing of crystals into the liquor. */
export interface Pace {
  readonly room_degC: number;
  /** Heat flow from the room to the closed vessel for each kelvin between them. */
  readonly heatLoss_WPerK: number;
  /** Time in which all but 37 % of what can react has met the liquor. */
  readonly mixing_h: number;
}

/** Heat and reacted share against time, from closing on. */
export interface PressurisingCourse {
  readonly heatFromRoom_J: number;
  /** Ends of the integration's steps, 0 first. */
  readonly stepEnds_h: readonly number[];
  at(time_h: number): HeatedState;
}

interface Step {
  readonly at_h: number;
  readonly heat_J: number;
  readonly reacted_ratio: number;
  readonly heatRate: number;
  readonly reactedRate: number;
}

/** Error allowed in one step, of the reacted share and of the heat over its scale. */
const stepTolerance_ratio = 1e-5;
const stepLimit = 20_000;
const shortestStep_h = 1e-9;

/**
 * Integrates d(heat)/dt = loss x (room - contents) and d(reacted)/dt = (melted - reacted) / mixing time with steps of the
 * third order whose error is held to 1e-5; between steps by the cubic that meets both ends.
 * @param until_h above 0
 * @throws NoConvergenceError after 20000 steps
 * @see [BogackiShampine1989]
 */
export function pressurisingCourse(model: HeatModel, pace: Pace, until_h: number): PressurisingCourse {
  const { room_degC, heatLoss_WPerK, mixing_h } = pace;
  const endAt = (at_h: number, heat_J: number, reacted_ratio: number): Step => {
    const state = model.stateAt(heat_J, reacted_ratio);
    return {
      at_h,
      heat_J,
      reacted_ratio,
      heatRate: 3600 * heatLoss_WPerK * (room_degC - state.temperature_degC),
      reactedRate: Math.max(0, state.melted_ratio - reacted_ratio) / mixing_h,
    };
  };
  const first = endAt(0, model.start_J, 0);
  const steps: Step[] = [first];
  let from = first;
  let step_h = Math.min(until_h, mixing_h) / 100;
  for (let tried = 0; from.at_h < until_h; tried += 1) {
    if (tried >= stepLimit || step_h < shortestStep_h) {
      throw new NoConvergenceError("step of the pressurising course", from.at_h, from.at_h + step_h, tried);
    }
    const last = from.at_h + step_h >= until_h * (1 - 1e-12);
    const h = last ? until_h - from.at_h : step_h;
    const k1 = from;
    const k2 = endAt(0, k1.heat_J + (h / 2) * k1.heatRate, k1.reacted_ratio + (h / 2) * k1.reactedRate);
    const k3 = endAt(
      0,
      k1.heat_J + ((3 * h) / 4) * k2.heatRate,
      k1.reacted_ratio + ((3 * h) / 4) * k2.reactedRate,
    );
    const to = endAt(
      last ? until_h : from.at_h + h,
      k1.heat_J + (h / 9) * (2 * k1.heatRate + 3 * k2.heatRate + 4 * k3.heatRate),
      k1.reacted_ratio + (h / 9) * (2 * k1.reactedRate + 3 * k2.reactedRate + 4 * k3.reactedRate),
    );
    const error =
      (h / 72) *
      Math.max(
        Math.abs(-5 * k1.heatRate + 6 * k2.heatRate + 8 * k3.heatRate - 9 * to.heatRate) / model.scale_J,
        Math.abs(-5 * k1.reactedRate + 6 * k2.reactedRate + 8 * k3.reactedRate - 9 * to.reactedRate),
      );
    const grow = 0.9 * (stepTolerance_ratio / Math.max(error, 1e-12)) ** (1 / 3);
    if (error <= stepTolerance_ratio) {
      steps.push(to);
      from = to;
    }
    step_h = Math.min(h * Math.min(4, Math.max(0.2, grow)), until_h / 10);
  }

  const at = (time_h: number): HeatedState => {
    let low = 0;
    let high = steps.length - 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if ((steps[middle] ?? first).at_h <= time_h) low = middle;
      else high = middle;
    }
    const a = steps[low] ?? first;
    const b = steps[high] ?? first;
    const h = b.at_h - a.at_h;
    const s = h > 0 ? Math.min(1, Math.max(0, (time_h - a.at_h) / h)) : 0;
    const cubic = (start: number, startRate: number, end: number, endRate: number): number =>
      start + s * s * (3 - 2 * s) * (end - start) + h * s * (1 - s) * ((1 - s) * startRate - s * endRate);
    return model.stateAt(
      cubic(a.heat_J, a.heatRate, b.heat_J, b.heatRate),
      cubic(a.reacted_ratio, a.reactedRate, b.reacted_ratio, b.reactedRate),
    );
  };
  return { heatFromRoom_J: from.heat_J - first.heat_J, stepEnds_h: steps.map((step) => step.at_h), at };
}
