import { carbonateSpeciation } from "../chemistry/carbonate-speciation.js";
import type { DropCheckerColour } from "../journal/journal-entry.js";
import { normalQuantile80 } from "../numerics/normal-distribution.js";
import { assertInRange } from "../quantities/valid-range.js";
import type { Co2Evidence } from "./co2-evidence.js";
import { colourBand, indicatorPka, readerPh80 } from "./drop-checker-colour.js";
import { referenceWater, type DropChecker } from "./drop-checker.js";

/** A colour that a person saw, with what is known of the checker and of the tank at that time. */
export interface ObservedColour extends DropChecker {
  readonly colour: DropCheckerColour;
  readonly temperature_degC: number;
  /** Relative standard uncertainty of the liquid's hardness; 0.05 for a bought or well-made one. */
  readonly referenceKhError_ratio?: number;
  /** Tank and liquid as the models have them at the time of reading: how far the liquid lags behind. */
  readonly model?: { readonly tankCo2_mgPerL: number; readonly liquidCo2_mgPerL: number };
}

export interface ColourReading {
  /** What the colour says of the liquid, the reader's 0.2 pH on either side; open at an end of the scale. */
  readonly pHLow: number | undefined;
  readonly pHHigh: number | undefined;
  readonly liquidCo2Low_mgPerL: number | undefined;
  readonly liquidCo2High_mgPerL: number | undefined;
  readonly evidence: Co2Evidence;
}

const defaultKhError_ratio = 0.05;
const khErrorRange = { quantity: "error of the reference hardness", unit: "", minimum: 0, maximum: 1 };
const modelRange = { quantity: "CO2 of the model", unit: "mg/L", minimum: 0, maximum: 1000 };
/** Below the equilibrium with any room's air a lag is no longer a matter of ratios. */
const leastCo2_mgPerL = 0.5;
/** A lag that no model tells: the tank moves by about a third within it in the hours after the valve opens or closes. */
const unknownLag_ln = 0.3;
/** The handbooks' range, every value in it as likely as another. */
const pkaSigma = (indicatorPka.high - indicatorPka.low) / Math.sqrt(12);

/**
 * What a reported drop-checker colour says of the tank's CO2. The colour is a band of pH, the liquid's hardness turns it into
 * CO2 of the liquid, and the liquid follows the tank late: by as much as the models of tank and liquid differ, the evidence is
 * widened; it is not shifted. Blue bounds the CO2 from above, yellow from below.
 * @throws OutOfValidRangeError for a hardness outside 0.5 to 20 dKH, a temperature outside 0 to 50 degC, an error outside 0 to 1
 * @see [PlummerBusenberg1982], [Davies1962], [HorobinKiernan2002], [CRC2016]; green at 4 dKH is 15 to 35 mg/L: common practice, no source
 */
export function readDropChecker(observed: ObservedColour): ColourReading {
  const khError_ratio = observed.referenceKhError_ratio ?? defaultKhError_ratio;
  assertInRange(khError_ratio, khErrorRange);
  const water = referenceWater(observed, observed.temperature_degC);
  const co2At_mgPerL = (pH: number): number => carbonateSpeciation({ ...water, pH }).co2_mgPerL;

  const band = colourBand(observed.colour);
  // Neither eye nor chart tells a band's own edges closer than the reader's error about its middle.
  const { pHLow, pHHigh } = widened(band.pHLow, band.pHHigh);
  const lag_ln = observed.model === undefined ? unknownLag_ln : lagOf(observed.model);
  const ownSigma_ln = Math.hypot(
    (Math.LN10 * readerPh80) / normalQuantile80,
    Math.LN10 * pkaSigma,
    khError_ratio,
    lag_ln,
  );
  return {
    pHLow,
    pHHigh,
    liquidCo2Low_mgPerL: pHHigh === undefined ? undefined : co2At_mgPerL(pHHigh),
    liquidCo2High_mgPerL: pHLow === undefined ? undefined : co2At_mgPerL(pHLow),
    evidence: {
      method: "drop checker",
      ...centre(band.pHLow, band.pHHigh, co2At_mgPerL),
      ownSigma_ln,
      probeOffset_lnPerPh: 0,
      probeReading_lnPerPh: 0,
    },
  };
}

function widened(
  low: number | undefined,
  high: number | undefined,
): { readonly pHLow: number | undefined; readonly pHHigh: number | undefined } {
  if (low === undefined || high === undefined) {
    return {
      pHLow: low === undefined ? undefined : low - readerPh80,
      pHHigh: high === undefined ? undefined : high + readerPh80,
    };
  }
  const middle = (low + high) / 2;
  const half = Math.max(readerPh80, (high - low) / 2);
  return { pHLow: middle - half, pHHigh: middle + half };
}

function centre(
  low: number | undefined,
  high: number | undefined,
  co2At_mgPerL: (pH: number) => number,
): Pick<Co2Evidence, "co2_mgPerL" | "reach"> {
  if (high === undefined) return { co2_mgPerL: co2At_mgPerL(low ?? indicatorPka.value), reach: "at most" };
  if (low === undefined) return { co2_mgPerL: co2At_mgPerL(high), reach: "at least" };
  return { co2_mgPerL: co2At_mgPerL((low + high) / 2), reach: "about" };
}

function lagOf(model: { readonly tankCo2_mgPerL: number; readonly liquidCo2_mgPerL: number }): number {
  assertInRange(model.tankCo2_mgPerL, modelRange);
  assertInRange(model.liquidCo2_mgPerL, modelRange);
  const tank_mgPerL = Math.max(model.tankCo2_mgPerL, leastCo2_mgPerL);
  return Math.abs(Math.log(tank_mgPerL / Math.max(model.liquidCo2_mgPerL, leastCo2_mgPerL)));
}
