import type { TankDynamics } from "./lead-time.js";
import { lightUptake, type LightUptake, type LitHours } from "./light-uptake.js";
import type { Co2Reading } from "./relaxation-fit.js";

const hour_ms = 3_600_000;
/** Over the last hours with gas and light the balance is drawn. */
export const balanced_ms = 2 * hour_ms;
/** What a probe wanders within a day and against the night it is held to, of ln(CO2): 0.03 pH. Judgement. */
const wander_ln = 0.07;
/** One end of two hours against the other: 0.01 pH. Judgement. */
const wanderWithin_ln = 0.025;

/** What the plants took, from the balance of some lit hours. */
export function uptakeFrom(
  readings: readonly Co2Reading[],
  tank: TankDynamics | { readonly because: string },
): LightUptake {
  if ("because" in tank) return { kind: "cannot be told", because: tank.because };
  const lit = litHours(readings);
  if (lit === undefined) return { kind: "cannot be told", because: "the readings by day have gaps" };
  return lightUptake(tank, lit);
}

/** Mean and straight line through the readings; undefined where they cover less than three quarters of the hours. */
function litHours(readings: readonly Co2Reading[]): LitHours | undefined {
  const [first] = readings;
  const last = readings.at(-1);
  if (first === undefined || last === undefined || readings.length < 12) return undefined;
  if (last.at_epochMs - first.at_epochMs < 0.75 * balanced_ms) return undefined;
  const mean = (values: readonly number[]): number =>
    values.reduce((sum, value) => sum + value, 0) / values.length;
  const hours = readings.map(({ at_epochMs }) => (at_epochMs - first.at_epochMs) / hour_ms);
  const co2_mgPerL = mean(readings.map((reading) => reading.co2_mgPerL));
  const middle_h = mean(hours);
  const across = mean(
    readings.map((reading, index) => ((hours[index] ?? 0) - middle_h) * reading.co2_mgPerL),
  );
  const along = mean(hours.map((hour) => (hour - middle_h) ** 2));
  return {
    co2_mgPerL,
    co2Sigma_ln: wander_ln,
    change_mgPerLPerH: across / along,
    changeSigma_mgPerLPerH: (wanderWithin_ln * co2_mgPerL * hour_ms) / balanced_ms,
  };
}
