import type { Co2Band } from "../../lib/tank/co2-bands.js";
import type { TankModel } from "../site-model.js";
import type { TankEstimate } from "./estimated-tank.js";

/** A tank of which nothing can be said, and why. */
export function unknownTank(
  tank: TankModel,
  seen: {
    readonly fault: string;
    readonly temperature_degC: number | undefined;
    readonly lastBand: Co2Band;
  },
): TankEstimate {
  return {
    tankId: tank.tankId,
    hardness: {
      kh_dKH: tank.kh_dKH,
      from: "config",
      khUncertainty_dKH: undefined,
      testedAt_epochMs: undefined,
    },
    baseline: undefined,
    pH: undefined,
    pHForFloor: undefined,
    temperatureIsAssumed: seen.temperature_degC === undefined,
    roomCo2_ppm: undefined,
    co2: undefined,
    co2At_epochMs: undefined,
    methods: [],
    agreement: undefined,
    remarks: [`Nothing can be said of this tank: ${seen.fault}.`],
    band: "not known",
    bandReasons: [],
    widthReason: undefined,
    rise: undefined,
    jump: undefined,
    risesTooFast: undefined,
    cautions: [],
    dropChecker: undefined,
    probe: undefined,
    ...seen,
  };
}
