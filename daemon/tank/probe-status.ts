import type { ProbeNow } from "../../lib/tank/probe-record.js";
import type { ProbeStatus } from "./estimated-tank.js";

/** What a person is told of the probe that a tank's estimate rests on. */
export function probeStatus({ basis, health, refused, offsetPhSigma }: ProbeNow): ProbeStatus {
  const { verdict, calibrationDue_epochMs, calibrationIsDue, latest } = health;
  const isByConfig = latest === undefined && basis !== "never calibrated";
  const latestRefused = refused.at(-1);
  const isNewer = latestRefused !== undefined && latestRefused.at_epochMs > (latest?.at_epochMs ?? 0);
  return {
    basis,
    verdict,
    calibratedAt_epochMs: latest?.at_epochMs,
    calibrationDue_epochMs,
    calibrationIsDue,
    phSigma: offsetPhSigma,
    slopeIsChecked: latest === undefined || !latest.slopeIsCarriedOver,
    remarks: [
      ...(isNewer ? [`The last calibration is not used: ${latestRefused.explanation}`] : []),
      ...(isByConfig
        ? [
            "No calibration stands in the journal: enter one in two buffers, best 7 and 4, so that its age is known.",
          ]
        : health.remarks),
    ],
  };
}
