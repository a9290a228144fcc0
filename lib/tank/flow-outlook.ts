import {
  flowNeeded,
  predictedPlateau,
  type FlowNeeded,
  type Plateau,
  type TankDynamics,
} from "./lead-time.js";

/** A tank's dynamics by pH and hardness, and the tank's own estimate over that scale. */
export interface ScaledDynamics {
  readonly tank: TankDynamics;
  readonly scale_ratio: number;
}

export interface FlowOutlook {
  /** Where it rests in the dark at the flow that was asked about; light holds it lower. */
  readonly plateau: Plateau | undefined;
  /** Over the flow that the dose was learnt at. */
  readonly needed: FlowNeeded | undefined;
}

/** More is asked of no tank. */
const highest_mgPerL = 100;

/**
 * Where a tank comes to rest at another flow, and what flow a target takes: in the dark, which is the upper end.
 * @param asked.flow_ratio  over today's, 0 to 50
 * @param asked.target_mgPerL  0 to 100
 * @throws OutOfValidRangeError outside these ranges
 */
export function flowOutlook(
  { tank, scale_ratio }: ScaledDynamics,
  asked: { readonly flow_ratio: number | undefined; readonly target_mgPerL: number | undefined },
): FlowOutlook {
  const { flow_ratio, target_mgPerL } = asked;
  const onReadings =
    flow_ratio === undefined ? undefined : predictedPlateau(tank, { flow_ratio, uptake_mgPerLPerH: 0 });
  return {
    plateau:
      onReadings === undefined
        ? undefined
        : {
            plateau_mgPerL: onReadings.plateau_mgPerL * scale_ratio,
            plateauLow80_mgPerL: onReadings.plateauLow80_mgPerL * scale_ratio,
            plateauHigh80_mgPerL: onReadings.plateauHigh80_mgPerL * scale_ratio,
          },
    needed:
      target_mgPerL === undefined
        ? undefined
        : flowNeeded(tank, {
            co2_mgPerL: Math.min(target_mgPerL / scale_ratio, highest_mgPerL),
            uptake_mgPerLPerH: 0,
          }),
  };
}
