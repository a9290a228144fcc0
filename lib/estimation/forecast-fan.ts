import { coursesAhead, type CourseAhead } from "./run-out.js";
import type { SupplyBelief } from "./supply-belief.js";
import type { SupplyModel } from "./supply-model.js";
import { expectedGauge } from "./supply-observation.js";
import { component as c, type SupplyState } from "./supply-state.js";

/** Where the gauge will be at an instant, as at one temperature, bar: half of the ways lie below the median. */
export interface FanPoint {
  readonly at_epochMs: number;
  readonly median_bar: number;
  readonly low80_bar: number;
  readonly high80_bar: number;
  readonly low95_bar: number;
  readonly high95_bar: number;
}

/** Steps from now to the end of a way; between them straight lines. */
const steps = 12;

/**
 * The gauge's fall to the working pressure along the ways that the run-out is forecast by, each at its own pace through the
 * windows; after its end a way stays where it ended. The run-out's interval is where the fan meets the working pressure.
 * @param reference_degC the temperature as at which every gauge is told, 0 to 45
 */
export function forecastFan(
  model: SupplyModel,
  state: SupplyState,
  belief: SupplyBelief,
  options: { readonly reference_degC: number; readonly instants_epochMs: readonly number[] },
): readonly FanPoint[] {
  const ways = coursesAhead(model, state, belief).map((course) =>
    wayOf(model, course, options.reference_degC),
  );
  return options.instants_epochMs.map((at_epochMs) => {
    const open_h = model.spans.openBetween_h(state.at_epochMs, at_epochMs);
    const gauges_bar = ways.map((way) => gaugeAfter_bar(way, open_h)).sort((one, other) => one - other);
    const quantile = (share: number): number => {
      const place = share * (gauges_bar.length - 1);
      const low = gauges_bar[Math.floor(place)] ?? 0;
      const high = gauges_bar[Math.ceil(place)] ?? low;
      return low + (place - Math.floor(place)) * (high - low);
    };
    return {
      at_epochMs,
      median_bar: quantile(0.5),
      low80_bar: quantile(0.1),
      high80_bar: quantile(0.9),
      low95_bar: quantile(0.025),
      high95_bar: quantile(0.975),
    };
  });
}

interface WayPoint {
  readonly open_h: number;
  readonly gauge_bar: number;
}

function wayOf(model: SupplyModel, course: CourseAhead, reference_degC: number): readonly WayPoint[] {
  const { kept_g, deliverable_g } = course;
  const mean = [...course.mean];
  mean[c.contents] = reference_degC;
  const lefts_g = Array.from({ length: steps + 1 }, (_, k) => kept_g + (1 - k / steps) * deliverable_g);
  const paces = lefts_g.map((left_g) => 1 / course.perWindowHour_g(left_g));
  let hours = 0;
  const hours_h = lefts_g.map((left_g, k) => {
    const before_g = lefts_g[k - 1];
    if (before_g !== undefined) {
      hours += ((before_g - left_g) * ((paces[k - 1] ?? 0) + (paces[k] ?? 0))) / 2;
    }
    return hours;
  });
  // The end is the run-out's: with the wander of the use, and by a finer sum.
  const stretch = hours > 0 ? course.open_h / hours : 1;
  return lefts_g.map((left_g, k) => ({
    open_h: stretch * (hours_h[k] ?? 0),
    gauge_bar: expectedGauge(model, mean, left_g).gauge_bar,
  }));
}

function gaugeAfter_bar(way: readonly WayPoint[], open_h: number): number {
  const after = way.findIndex((point) => point.open_h > open_h);
  const high = way[after === -1 ? way.length - 1 : after];
  const low = way[after - 1];
  if (high === undefined) return 0;
  if (after <= 0 || low === undefined) return high.gauge_bar;
  const share = (open_h - low.open_h) / (high.open_h - low.open_h);
  return low.gauge_bar + share * (high.gauge_bar - low.gauge_bar);
}
