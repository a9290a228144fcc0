import { hasJustMoved } from "../../lib/tank/rate-of-rise.js";
import type { MethodFigure } from "../../lib/tank/tank-co2.js";
import type { TankEstimate } from "./estimated-tank.js";
import { dropCheckerLag } from "./tank-text.js";

/** What must be told at once when it changes: all that a person has entered, and every verdict. */
export function tankEssence(tank: TankEstimate): readonly unknown[] {
  return [
    tank.co2 === undefined,
    tank.hardness.kh_dKH,
    tank.hardness.testedAt_epochMs,
    tank.baseline?.entryId,
    tank.dropChecker?.seen,
    tank.dropChecker?.expected?.colour,
    tank.band,
    tank.agreement?.kind,
    tank.risesTooFast === undefined,
    tank.cautions.map(({ kind }) => kind),
    tank.probe?.calibratedAt_epochMs,
    tank.probe?.calibrationIsDue,
    tank.methods.map(({ method }) => method),
  ];
}

/** A tank's CO2 as a document: the fused value, what each method says, and what a person should know. */
export function tankFields(tank: TankEstimate, now_epochMs: number): Readonly<Record<string, unknown>> {
  const { co2, hardness, baseline, agreement, rise, dropChecker, probe } = tank;
  const age_s =
    tank.co2At_epochMs === undefined
      ? null
      : Math.max(0, Math.round((now_epochMs - tank.co2At_epochMs) / 1000));
  return {
    co2_mgPerL: twoDigits(co2?.co2_mgPerL),
    co2Low80_mgPerL: twoDigits(co2?.co2Low80_mgPerL),
    co2High80_mgPerL: twoDigits(co2?.co2High80_mgPerL),
    co2Age_s: co2 === undefined ? null : age_s,
    band: tank.band,
    bandReasons: tank.bandReasons,
    rise_mgPerLPer30Min:
      rise === undefined || (tank.co2 !== undefined && hasJustMoved(rise, tank.co2.co2_mgPerL))
        ? null
        : {
            value: twoDigits(rise.rate_mgPerLPer30Min),
            low80: twoDigits(rise.rateLow80_mgPerLPer30Min),
            high80: twoDigits(rise.rateHigh80_mgPerLPer30Min),
          },
    jump_mgPerL:
      tank.risesTooFast !== undefined && "risen_mgPerL" in tank.risesTooFast
        ? {
            value: twoDigits(tank.risesTooFast.risen_mgPerL),
            within_min: tank.risesTooFast.within_min,
          }
        : null,
    methods: tank.methods.map(methodFields),
    agreement:
      agreement === undefined
        ? null
        : {
            kind: agreement.kind,
            whatToDo: agreement.kind === "methods disagree" ? agreement.advice.whatToDo : null,
            why: agreement.kind === "methods disagree" ? agreement.advice.why : null,
            explanations: agreement.kind === "methods disagree" ? agreement.explanations : [],
          },
    remarks: tank.remarks,
    cautions: tank.cautions.map(({ kind, text }) => ({ kind, text })),
    dropChecker:
      dropChecker === undefined
        ? null
        : {
            expectedColour: dropChecker.expected?.colour ?? null,
            expectedSwatch: dropChecker.expected?.swatch.hex ?? null,
            swatchCaution: dropChecker.expected?.swatchCaution ?? null,
            settled: dropChecker.isSettled,
            notToGoByBecause: dropCheckerLag(tank) ?? null,
            referenceKh_dKH: dropChecker.referenceKh_dKH,
            referenceAssumed: dropChecker.referenceIsAssumed,
            seenColour: dropChecker.seen?.colour ?? null,
            seenAt: instant(dropChecker.seen?.at_epochMs),
          },
    kh_dKH: hardness.kh_dKH,
    khFrom: hardness.from,
    khTestedAt: instant(hardness.testedAt_epochMs),
    degassedPh:
      baseline === undefined
        ? null
        : {
            pH: baseline.baseline.pH,
            how: baseline.baseline.how,
            from: baseline.from,
            at: instant(baseline.at_epochMs),
          },
    temperatureAssumed: tank.temperatureIsAssumed,
    probe:
      probe === undefined
        ? null
        : {
            correctedBy: probe.basis,
            verdict: probe.verdict,
            phUncertainty: Number(probe.phSigma.toFixed(2)),
            slopeIsChecked: probe.slopeIsChecked,
            calibratedAt: instant(probe.calibratedAt_epochMs),
            calibrationDueAt: instant(probe.calibrationDue_epochMs),
            calibrationIsDue: probe.calibrationIsDue,
            remarks: probe.remarks,
          },
  };
}

function methodFields(figure: MethodFigure): Readonly<Record<string, unknown>> {
  return {
    method: figure.method,
    co2_mgPerL: twoDigits(figure.co2_mgPerL),
    reach: figure.reach,
    co2Low80_mgPerL: twoDigits(figure.co2Low80_mgPerL),
    co2High80_mgPerL: twoDigits(figure.co2High80_mgPerL),
    weight: Number(figure.weight_ratio.toFixed(2)),
  };
}

function twoDigits(value: number | undefined): number | null {
  return value === undefined ? null : Number(value.toPrecision(2));
}

function instant(at_epochMs: number | undefined): string | null {
  return at_epochMs === undefined ? null : new Date(at_epochMs).toISOString();
}
