import { hasJustMoved } from "../../lib/tank/rate-of-rise.js";
import type { MethodFigure } from "../../lib/tank/tank-co2.js";
import { assumedTemperature, type TankEstimate } from "./estimated-tank.js";

const methodWords: Readonly<Record<MethodFigure["method"], string>> = {
  "carbonate hardness": "KH and pH",
  "pH drop": "pH drop",
  "drop checker": "drop checker",
};

/** Below the tank's first line: how its CO2 came about, and what a person should look at. */
export function tankDetailLines(
  tank: TankEstimate,
  local: (at_epochMs: number) => string,
): readonly string[] {
  const { agreement, dropChecker, probe } = tank;
  const isWorthAWord = tank.band !== "in target" && tank.band !== "below target" && tank.band !== "not known";
  return [
    ...(isWorthAWord ? tank.bandReasons.map((reason) => `  ${reason}`) : []),
    ...(tank.methods.length < 2 ? [] : [`  by method: ${tank.methods.map(methodText).join("; ")}`]),
    ...(agreement?.kind === "methods disagree"
      ? [`  ${agreement.advice.whatToDo}`, `  ${agreement.advice.why}`]
      : []),
    ...basisLines(tank, local),
    ...tank.remarks.map((remark) => `  ${remark}`),
    ...(dropChecker === undefined ? [] : [`  drop checker: ${dropCheckerText(tank, dropChecker, local)}`]),
    ...tank.cautions.map(({ text }) => `  ${text}`),
    ...(probe === undefined ? [] : [`  probe: ${probeText(probe, local)}`]),
  ];
}

/** What the CO2 rests on beside pH and KH. */
function basisLines(
  { co2, temperatureIsAssumed, baseline }: TankEstimate,
  local: (at_epochMs: number) => string,
): readonly string[] {
  const { temperature_degC, uncertainty_K } = assumedTemperature;
  return [
    ...(co2 !== undefined && temperatureIsAssumed
      ? [`  temperature assumed: ${temperature_degC} +-${uncertainty_K} degC, since no thermometer tells it`]
      : []),
    ...(baseline === undefined
      ? []
      : [
          `  degassed pH ${baseline.baseline.pH} (${baseline.baseline.how}) ${
            baseline.at_epochMs === undefined
              ? "by the config, of a day that is not known"
              : `by the journal of ${local(baseline.at_epochMs)}`
          }`,
        ]),
  ];
}

/** Behind the tank's CO2: its band, and whether it moves. */
export function bandText({ band, rise, co2, risesTooFast: fast }: TankEstimate): string {
  if (fast !== undefined && "risen_mgPerL" in fast) {
    return `${band}, up by ${digits(fast.risen_mgPerL)} mg/L within ${fast.within_min} min`;
  }
  if (rise === undefined) return band;
  if (co2 !== undefined && hasJustMoved(rise, co2.co2_mgPerL)) {
    return `${band}, ${rise.endAboveLine_mgPerL > 0 ? "rising" : "falling"} fast just now`;
  }
  const { rate_mgPerLPer30Min: rate, rateLow80_mgPerLPer30Min: low, rateHigh80_mgPerLPer30Min: high } = rise;
  if ((low <= 0 && high >= 0) || Math.abs(rate) < 0.5) return `${band}, steady`;
  return `${band}, ${rate > 0 ? "rising" : "falling"} by ${digits(Math.abs(rate))} mg/L in 30 min`;
}

function methodText({ method, co2_mgPerL, reach, weight_ratio, ...ends }: MethodFigure): string {
  const span =
    ends.co2Low80_mgPerL === undefined || ends.co2High80_mgPerL === undefined
      ? `${reach} ${digits(co2_mgPerL)}`
      : `${digits(co2_mgPerL)} (${digits(ends.co2Low80_mgPerL)} to ${digits(ends.co2High80_mgPerL)})`;
  return `${methodWords[method]} ${span}, weight ${Math.round(100 * weight_ratio)} %`;
}

function dropCheckerText(
  tank: TankEstimate,
  checker: NonNullable<TankEstimate["dropChecker"]>,
  local: (at_epochMs: number) => string,
): string {
  const { expected, isSettled, seen } = checker;
  const liquid = checker.referenceIsAssumed
    ? [
        `a liquid of ${checker.referenceKh_dKH} dKH is assumed: dropChecker.referenceKh_dKH is not in the config`,
      ]
    : [];
  const told = seen === undefined ? [] : [`${seen.colour} was seen ${local(seen.at_epochMs)}`];
  const lag = dropCheckerLag(tank);
  if (lag !== undefined) return [lag, ...told, ...liquid].join("; ");
  const now =
    expected === undefined
      ? "no colour can be foretold without the pH"
      : `should be ${expected.colour} now${isSettled ? "" : " (its liquid has not been followed long enough to be sure)"}`;
  return [now, ...told, ...liquid].join("; ");
}

/** Why the colour is not to go by: a green that is hours old calms where CO2 is a danger now. Undefined where it may be gone by. */
export function dropCheckerLag({ band, lastBand, dropChecker }: TankEstimate): string | undefined {
  const isDanger = [band, lastBand].some((of) => of === "alarm" || of === "close");
  if (!isDanger || dropChecker === undefined) return undefined;
  const { timeConstant_h } = dropChecker;
  const lag = timeConstant_h < 1 ? `${Math.round(60 * timeConstant_h)} min` : `${digits(timeConstant_h)} h`;
  return `not to go by now: its colour follows the water only after ${lag} or more, so green does not mean that all is well; look at the fish`;
}

const basisWords: Readonly<Record<NonNullable<TankEstimate["probe"]>["basis"], readonly string[]>> = {
  "calibration in the journal": ["corrected by its calibration in the journal"],
  "accuracy in the config": ["as accurate as the config says"],
  "calibration in the config": ["corrected by the config"],
  // Its remark says so.
  "never calibrated": [],
};

function probeText(probe: NonNullable<TankEstimate["probe"]>, local: (at_epochMs: number) => string): string {
  const { basis, verdict, calibratedAt_epochMs, calibrationDue_epochMs, calibrationIsDue } = probe;
  const known =
    calibratedAt_epochMs === undefined || calibrationDue_epochMs === undefined
      ? basisWords[basis]
      : [
          `${basisWords[basis].join()} of ${local(calibratedAt_epochMs)}`,
          ...(verdict === "not known" ? [] : [verdict]),
          ...(probe.slopeIsChecked
            ? []
            : ["slope not checked (one buffer: it is that of an earlier calibration)"]),
          calibrationIsDue ? "calibration is due" : `calibration due ${local(calibrationDue_epochMs)}`,
        ];
  return [[...known, `+-${probe.phSigma.toFixed(2)} pH`].join(", "), ...probe.remarks].join(". ");
}

function digits(value: number): string {
  return String(Number(value.toPrecision(2)));
}
