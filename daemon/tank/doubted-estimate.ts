import type { Co2Limits } from "../../lib/tank/co2-bands.js";
import type { ProbeNow } from "../../lib/tank/probe-record.js";
import type { DoubtedPh } from "./probe-corrections.js";
import type { TankCo2Estimate } from "../../lib/tank/tank-co2.js";

/** Its upper end may be that of the correction before a calibration of today. */
export interface DoubtedEstimate extends TankCo2Estimate {
  readonly isByBefore?: true;
}

const remarkOf: Readonly<Record<DoubtedPh["because"], string>> = {
  "changed within a day":
    "The last calibration, or the withdrawal of one, raised the pH: for 24 hours the closing limit and the pH floor are held against the correction before it, too.",
  "entered from afar":
    "The last calibration came from afar and raised the pH: the closing limit and the pH floor are held against the correction before it, too, until a calibration, or a drop checker's colour that speaks clearly for it, is entered at the daemon's own machine.",
};

/** From here on the probe is what makes the interval wide. */
const widePhSigma = 0.1;

/** The upper end by the correction before a calibration of today, where that one raised the pH. */
export function withDoubt(
  estimate: TankCo2Estimate | undefined,
  byBefore: TankCo2Estimate | undefined,
  because: DoubtedPh["because"] = "changed within a day",
): DoubtedEstimate | undefined {
  if (estimate === undefined || byBefore === undefined) return estimate;
  if (byBefore.co2High80_mgPerL <= estimate.co2High80_mgPerL) return estimate;
  return {
    ...estimate,
    co2High80_mgPerL: byBefore.co2High80_mgPerL,
    isByBefore: true,
    remarks: [...estimate.remarks, remarkOf[because]],
  };
}

/** A valve that closes at a harmless central value closes for what is not known, and a person can mend that. */
export function widthReasonOf(
  estimate: DoubtedEstimate | undefined,
  probe: Pick<ProbeNow, "offsetPhSigma"> | undefined,
  limits: Pick<Co2Limits, "co2Alarm_mgPerL" | "co2Close_mgPerL">,
): string | undefined {
  if (estimate === undefined || estimate.co2High80_mgPerL <= limits.co2Close_mgPerL) return undefined;
  if (estimate.highestCentre_mgPerL > limits.co2Alarm_mgPerL) return undefined;
  const central = `central ${Number(estimate.co2_mgPerL.toPrecision(2))} mg/L`;
  if (estimate.isByBefore === true)
    return `${central}, but by the probe's correction before its last calibration it is more`;
  if (estimate.agreement.kind === "methods disagree") return `${central}, but the methods disagree`;
  const phSigma = probe?.offsetPhSigma ?? 0;
  return phSigma >= widePhSigma
    ? `${central}, but the probe is uncertain to +-${phSigma.toFixed(2)} pH: calibrate it`
    : `${central}, but what it rests on is uncertain: test the KH`;
}
