import { carbonDioxideDensity_molPerL } from "../chemistry/carbon-dioxide-gas.js";
import { waterVapourPressure_bar } from "../chemistry/water-properties.js";
import { normalQuantile80 } from "../numerics/normal-distribution.js";
import { molarMass_gPerMol, standardAtmosphere_bar } from "../quantities/physical-constants.js";
import { assertInRange } from "../quantities/valid-range.js";
import type { GasFlow } from "./morning-rise.js";

/** A bubble in an ordinary counter, 80 %: 0.03 to 0.1 mL, most often 0.05 and more. Common practice, no source. */
export const usualBubble = { low_mm3: 30, high_mm3: 100 } as const;
/** Counted over a minute by eye. A judgement. */
const countSigma_ln = 0.07;
const minutesPerHour = 60;

/**
 * Flow from a bubble counter, g/h: bubbles of CO2 with as much water vapour as they hold at the water's temperature, at one atmosphere,
 * as a real gas. Without a collected volume it is known by a factor of 1.8 either way.
 * @throws OutOfValidRangeError outside 0 to 1000 bubbles a minute, 0 to 40 degC
 * @see [SpanWagner1996], [WagnerPruss1993] for the gas and the vapour
 */
export function flowOfBubbles(count: {
  readonly bubbles_perMin: number;
  readonly temperature_degC: number;
}): GasFlow {
  const { bubbles_perMin, temperature_degC } = count;
  assertInRange(bubbles_perMin, { quantity: "bubble count", unit: "1/min", minimum: 0, maximum: 1000 });
  assertInRange(temperature_degC, { quantity: "temperature", unit: "degC", minimum: 0, maximum: 40 });
  const pressureAbsolute_bar = standardAtmosphere_bar - waterVapourPressure_bar(temperature_degC);
  const density_molPerL = carbonDioxideDensity_molPerL({ pressureAbsolute_bar, temperature_degC });
  const bubble_mm3 = Math.sqrt(usualBubble.low_mm3 * usualBubble.high_mm3);
  const volume_L = bubbles_perMin * minutesPerHour * bubble_mm3 * 1e-6;
  return {
    flow_gPerH: volume_L * density_molPerL * molarMass_gPerMol.co2,
    flowSigma_ln: Math.hypot(
      Math.log(usualBubble.high_mm3 / usualBubble.low_mm3) / (2 * normalQuantile80),
      countSigma_ln,
    ),
  };
}

/** By what the flow to a tank is known. */
export interface SuppliedGas extends GasFlow {
  readonly by: "bubble count" | "what the vessel loses";
}

/** A loss that is known to less than a factor of two tells less than bubbles do. */
const widestLoss_ratio = 0.5;

/** The flow from a vessel's loss while it feeds; undefined where it is not known well enough to tell anything. */
export function flowOfLoss(loss_gPerH: {
  readonly value: number;
  readonly deviation: number;
}): GasFlow | undefined {
  const { value, deviation } = loss_gPerH;
  if (!(value > 0) || !(deviation >= 0) || deviation > widestLoss_ratio * value) return undefined;
  return { flow_gPerH: value, flowSigma_ln: Math.sqrt(Math.log1p((deviation / value) ** 2)) };
}

/** That which is known best; a part of it where the gas is split. */
export function suppliedGas(
  flows: { readonly bubbles: GasFlow | undefined; readonly loss: GasFlow | undefined },
  share_ratio: number,
): SuppliedGas | undefined {
  const known: readonly SuppliedGas[] = [
    ...(flows.loss === undefined ? [] : [{ ...flows.loss, by: "what the vessel loses" as const }]),
    ...(flows.bubbles === undefined ? [] : [{ ...flows.bubbles, by: "bubble count" as const }]),
  ];
  const [best] = [...known].sort((a, b) => a.flowSigma_ln - b.flowSigma_ln);
  return best === undefined || best.flow_gPerH <= 0 || share_ratio <= 0
    ? undefined
    : { ...best, flow_gPerH: best.flow_gPerH * share_ratio };
}
