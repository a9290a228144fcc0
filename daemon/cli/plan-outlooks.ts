import {
  planDefaults,
  type PlanRequest,
  type ReadyTime,
  type SurgeOutlook,
} from "../../lib/charge-plan/plan-request.js";
import { OutOfValidRangeError } from "../../lib/errors.js";
import type { Charge } from "../../lib/vessel/charge.js";
import { depletionCurve } from "../../lib/vessel/depletion.js";
import { pressurise, surroundingsRanges, usualSurroundings } from "../../lib/vessel/pressurising.js";
import { usualSupplyPressureEffect_ratio, type RegulatorDesign } from "../../lib/vessel/regulator.js";
import { surgeForecast, type SurgeCourse, type SurgeForecast } from "../../lib/vessel/surge.js";
import type { VesselConfig } from "../config/config-schema.js";

/** Heat loss and mixing of a vessel that nobody has recorded yet: a factor of two either way is ordinary. */
const paceError_ratio = 2;
const longestWatch_h = 300;
/** A small bought cylinder, for comparison: 0.5 kg in 0.75 L. Invented size, common filling. */
const comparedCylinder = { volume_L: 0.75, co2_kg: 0.5 };
/** Diffuser, bubble counter and depth of water: common practice, no source. */
const behindNeedle_bar = 0.3;
/** Only times depend on it, and none is told here. */
const anyUse_molPerDay = 0.1;
/** Between the stages of a two-stage regulator, whose maker seldom says: common practice, no source. */
const betweenStages = { timesWorking: 3, leastGauge_bar: 5 } as const;

type RegulatedVessel = Pick<VesselConfig, "workingPressureGauge_bar" | "regulator">;

/** What a plan says of the time until it is ready and of the regulator's creep, for the room that is expected. */
export function planOutlooks(site: {
  readonly room_degC: number | undefined;
  readonly vessel: RegulatedVessel;
}): Required<Pick<PlanRequest, "readyTime" | "surge">> {
  const room_degC = site.room_degC ?? planDefaults.room_degC;
  return {
    readyTime: (charge) => readyTimeOf(charge, room_degC),
    surge: (charge) => surgeOf(charge, room_degC, site.vessel),
  };
}

function readyTimeOf(charge: Charge, room_degC: number): ReadyTime | undefined {
  if (room_degC < surroundingsRanges.room.minimum) return undefined;
  const { minimum, maximum } = surroundingsRanges.startWater;
  const startWater_degC = Math.min(maximum, Math.max(minimum, charge.sealedAt_degC));
  const temperatures = { room_degC, startWater_degC };
  const course = pressurise(charge, usualSurroundings(charge, temperatures), {
    until_h: longestWatch_h,
    pointCount: 2,
  });
  if (course.ready_h === undefined) return undefined;
  return {
    value: course.ready_h,
    low: course.ready_h / paceError_ratio,
    high: course.ready_h * paceError_ratio,
  };
}

/** Undefined for a charge that does not reach the working pressure. */
function surgeOf(charge: Charge, room_degC: number, vessel: RegulatedVessel): SurgeOutlook | undefined {
  const { workingPressureGauge_bar, regulator } = vessel;
  const curve = depletionCurve(charge, { temperature_degC: room_degC, withdrawal: "headspace" });
  const effect = supplyPressureEffect(regulator);
  const forecast = (supplyPressureEffect_ratio: number): SurgeForecast =>
    surgeForecast(curve, comparedCylinder, {
      regulator: designOf(
        regulator?.kind ?? "single-stage",
        workingPressureGauge_bar,
        supplyPressureEffect_ratio,
      ),
      ...(regulator?.setAtInletGauge_bar === undefined
        ? {}
        : { setAtInletGauge_bar: regulator.setAtInletGauge_bar }),
      behindNeedleGauge_bar: behindNeedle_bar,
      leastInletGauge_bar: workingPressureGauge_bar,
      use_molPerDay: anyUse_molPerDay,
    });
  try {
    const { low, high } = effect;
    return outlookOf(forecast(low), forecast(high), effect);
  } catch (error) {
    if (error instanceof OutOfValidRangeError) return undefined;
    throw error;
  }
}

interface EffectSpan {
  readonly low: number;
  readonly high: number;
  readonly words: string;
}

function supplyPressureEffect(regulator: RegulatedVessel["regulator"]): EffectSpan {
  const kind = regulator?.kind ?? "single-stage";
  const stated_ratio = regulator?.supplyPressureEffect_ratio;
  if (stated_ratio !== undefined) {
    return {
      low: stated_ratio,
      high: stated_ratio,
      words: `a ${kind} regulator with a supply-pressure effect of ${percent(stated_ratio)} %`,
    };
  }
  const { low, high } =
    kind === "two-stage"
      ? usualSupplyPressureEffect_ratio.twoStage
      : usualSupplyPressureEffect_ratio.smallSingleStage;
  const words = `${kind === "two-stage" ? "a" : "a small"} ${kind} regulator, whose supply-pressure effect is not stated`;
  return { low, high, words: `${words} and taken as ${percent(low)} to ${percent(high)} %` };
}

/** The effects of two stages multiply; each is taken to have the same. */
function designOf(
  kind: RegulatorDesign["kind"],
  setGauge_bar: number,
  supplyPressureEffect_ratio: number,
): RegulatorDesign {
  if (kind === "single-stage") return { kind, stage: { setGauge_bar, supplyPressureEffect_ratio } };
  const eachStage = { supplyPressureEffect_ratio: Math.sqrt(supplyPressureEffect_ratio) };
  const between_bar = Math.max(betweenStages.leastGauge_bar, betweenStages.timesWorking * setGauge_bar);
  return {
    kind,
    first: { setGauge_bar: between_bar, ...eachStage },
    second: { setGauge_bar, ...eachStage },
  };
}

function outlookOf(best: SurgeForecast, worst: SurgeForecast, effect: EffectSpan): SurgeOutlook {
  const { largest, points, verdict } = worst.charge;
  const cylinder =
    best.cylinder.kind === "compared" && worst.cylinder.kind === "compared"
      ? { best: best.cylinder.course, worst: worst.cylinder.course }
      : undefined;
  const outletAtFullGauge_bar = points[0]?.outletGauge_bar ?? largest.outletGauge_bar;
  return {
    flowAtEnd_ratio: largest.flow.viscous_ratio,
    flowAtEndLow_ratio: best.charge.largest.flow.nozzle_ratio,
    largestAtInletGauge_bar: largest.inletGauge_bar,
    outletAtFullGauge_bar,
    outletAtLargestGauge_bar: largest.outletGauge_bar,
    supplyPressureEffect_ratio: { low: effect.low, high: effect.high },
    verdict,
    ...(cylinder === undefined
      ? {}
      : {
          cylinder: {
            flowAtEnd_ratio: cylinder.worst.largest.flow.viscous_ratio,
            flowAtEndLow_ratio: cylinder.best.largest.flow.nozzle_ratio,
            verdict: cylinder.worst.verdict,
          },
        }),
    remark:
      `flow grows to ${span(best.charge, worst.charge)} times what was set, for ${effect.words}, at the worst near ` +
      `${largest.inletGauge_bar.toFixed(1)} bar gauge in the vessel, as the working pressure creeps from ` +
      `${outletAtFullGauge_bar.toFixed(1)} to ${largest.outletGauge_bar.toFixed(1)} bar` +
      (cylinder === undefined
        ? ""
        : `; on a bought cylinder with the same regulator it grows to ${span(cylinder.best, cylinder.worst)} times, in its last days`),
  };
}

function percent(ratio: number): string {
  return String(Number((100 * ratio).toPrecision(2)));
}

function span(best: SurgeCourse, worst: SurgeCourse): string {
  const [low = "", high = ""] = [best.largest.flow.nozzle_ratio, worst.largest.flow.viscous_ratio].map(
    (flow) => flow.toFixed(flow < 1.095 ? 2 : 1),
  );
  return low === high ? low : `${low}-${high}`;
}
