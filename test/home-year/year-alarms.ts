import type { AlarmJudgement } from "./year-record.js";

/** What is truly so when an alarm is raised. */
export interface AlarmTruth {
  /** Beginnings of ids that faults of now, or of lately, bring about. */
  readonly explained: readonly string[];
  /** True days of dosing left of a vessel; undefined: not known. */
  readonly left_days: (vesselId: string) => number | undefined;
  readonly gauge_bar: (vesselId: string) => number;
  readonly co2_mgPerL: (tankId: string) => number;
  readonly limits: (tankId: string) => {
    readonly high: number;
    readonly alarm: number;
    readonly close: number;
  };
  /** By how much a probe is off in the buffer of pH 7. */
  readonly offsetPh: (sensorId: string) => number;
  /** Flow now over the flow that was set, of the vessel's valve while it is open. */
  readonly flow_ratio: (vesselId: string) => number | undefined;
}

/** They tell what is due, not what is wrong. */
const reminders = ["upkeep/", "calibration-due/", "refill-due/"];
/** An estimate of CO2 is good to a fifth: an alarm above that share of its limit is none too many. */
const nearLimit_ratio = 0.8;
/** Half of what makes a probe useless by common practice, 60 mV. */
const dirtyProbePh = 0.4;
const endNearGauge_bar = 4.5;
const runsOutSoon_days = 6;

/** Whether an alarm told the truth, was a reminder, or was false. */
export function judged(alarmId: string, truth: AlarmTruth): AlarmJudgement {
  if (reminders.some((begin) => alarmId.startsWith(begin))) return "reminder";
  if (truth.explained.some((begin) => alarmId.startsWith(begin))) return "true";
  const [kind = "", subject = ""] = alarmId.split("/");
  const isTrue = ((): boolean => {
    switch (kind) {
      case "charge-runs-out":
        return (truth.left_days(subject) ?? Infinity) <= runsOutSoon_days;
      case "charge-spent":
      case "end-of-charge":
        return truth.gauge_bar(subject) < endNearGauge_bar;
      case "co2-caution":
        return truth.co2_mgPerL(subject) >= nearLimit_ratio * truth.limits(subject).high;
      case "co2-alarm":
        return truth.co2_mgPerL(subject) >= nearLimit_ratio * truth.limits(subject).alarm;
      case "co2-close":
        return truth.co2_mgPerL(subject) >= nearLimit_ratio * truth.limits(subject).close;
      case "probe":
        return Math.abs(truth.offsetPh(subject)) > dirtyProbePh;
      case "surge-expected":
      case "surge-now":
      case "flow-rose":
        return (truth.flow_ratio(subject) ?? 1) > 1.2;
      case "flow-fell":
        return (truth.flow_ratio(subject) ?? 1) < 0.8;
      default:
        return false;
    }
  })();
  return isTrue ? "true" : "false";
}
