import {
  planDefaults,
  type PlanRequest,
  type ReadyTime,
  type SurgeOutlook,
} from "../../lib/charge-plan/plan-request.js";
import type { Charge } from "../../lib/vessel/charge.js";
import { depletionCurve } from "../../lib/vessel/depletion.js";
import { pressurise, usualSurroundings } from "../../lib/vessel/pressurising.js";
import { usualSupplyPressureEffect_ratio } from "../../lib/vessel/regulator.js";
import { surgeForecast, type SurgeCourse } from "../../lib/vessel/surge.js";

/** Heat loss and mixing of a vessel that nobody has recorded yet: a factor of two either way is ordinary. */
const paceError_ratio = 2;
const longestWatch_h = 300;
/** A small bought cylinder, for comparison: 0.5 kg in 0.75 L. Invented size, common filling. */
const comparedCylinder = { volume_L: 0.75, co2_kg: 0.5 };
/** Diffuser, bubble counter and depth of water: common practice, no source. */
const behindNeedle_bar = 0.3;
/** Only times depend on it, and none is told here. */
const anyUse_molPerDay = 0.1;

/** What a plan says of the time until it is ready and of the regulator's creep, for the room that is expected. */
export function planOutlooks(site: {
  readonly room_degC: number | undefined;
  readonly workingPressureGauge_bar: number;
}): Required<Pick<PlanRequest, "readyTime" | "surge">> {
  const room_degC = site.room_degC ?? planDefaults.room_degC;
  return {
    readyTime: (charge) => readyTimeOf(charge, room_degC),
    surge: (charge) => surgeOf(charge, room_degC, site.workingPressureGauge_bar),
  };
}

function readyTimeOf(charge: Charge, room_degC: number): ReadyTime {
  const startWater_degC = Math.max(0, charge.sealedAt_degC);
  const course = pressurise(charge, usualSurroundings(charge, { room_degC, startWater_degC }), {
    until_h: longestWatch_h,
  });
  const value = course.ready_h ?? longestWatch_h;
  return {
    value,
    low: value / paceError_ratio,
    high: value * paceError_ratio,
  };
}

function surgeOf(charge: Charge, room_degC: number, workingPressureGauge_bar: number): SurgeOutlook {
  const curve = depletionCurve(charge, { temperature_degC: room_degC, withdrawal: "headspace" });
  const { low, high } = usualSupplyPressureEffect_ratio.smallSingleStage;
  const forecast = (supplyPressureEffect_ratio: number): ReturnType<typeof surgeForecast> =>
    surgeForecast(curve, comparedCylinder, {
      regulator: {
        kind: "single-stage",
        stage: { setGauge_bar: workingPressureGauge_bar, supplyPressureEffect_ratio },
      },
      behindNeedleGauge_bar: behindNeedle_bar,
      leastInletGauge_bar: workingPressureGauge_bar,
      use_molPerDay: anyUse_molPerDay,
    });
  const best = forecast(low);
  const worst = forecast(high);
  const cylinder =
    best.cylinder.kind === "compared" && worst.cylinder.kind === "compared"
      ? `; a bought cylinder on the same regulator ${span(best.cylinder.course, worst.cylinder.course)}`
      : "";
  return {
    flowAtEnd_ratio: worst.charge.largest.flow.viscous_ratio,
    remark:
      `flow grows to ${span(best.charge, worst.charge)} times what was set, for a small single-stage regulator ` +
      `with a supply-pressure effect of ${Math.round(100 * low)} to ${Math.round(100 * high)} %, at the worst near ` +
      `${worst.charge.largest.inletGauge_bar.toFixed(1)} bar gauge${cylinder}`,
  };
}

function span(best: SurgeCourse, worst: SurgeCourse): string {
  return `${best.largest.flow.nozzle_ratio.toFixed(1)}-${worst.largest.flow.viscous_ratio.toFixed(1)}`;
}
