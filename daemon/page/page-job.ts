import { ownRatingCaution } from "../../lib/charge-plan/cautions.js";
import { plateCautions } from "../../lib/charge-plan/plate-cautions.js";
import { createChargePressureMap, type ChargePressureMap } from "../../lib/estimation/charge-pressure-map.js";
import { correctedGauge_bar } from "../../lib/estimation/corrected-gauge.js";
import { forecastFan, type FanPoint } from "../../lib/estimation/forecast-fan.js";
import { openSpansOfCalendars } from "../../lib/estimation/open-spans.js";
import { supplyBelief } from "../../lib/estimation/supply-belief.js";
import { chargeOf, createSupplyModel } from "../../lib/estimation/supply-model.js";
import type { SupplyState } from "../../lib/estimation/supply-state.js";
import type { SuppliedCharge } from "../../lib/estimation/supply-trace.js";
import { createDosingCalendar } from "../../lib/schedule/dosing-calendar.js";
import { overriddenCalendar } from "../../lib/schedule/overridden-calendar.js";
import { co2ByHardness_mgPerL, type LearningWater } from "../../lib/tank/tank-learning-job.js";
import { tankCo2, type TankKnowledge } from "../../lib/tank/tank-co2.js";
import type { PlanOptions } from "../cli/plan-options.js";
import { planOutlooks } from "../cli/plan-outlooks.js";
import { planReply } from "../cli/plan.js";
import type { PlanningConfig } from "../config/planning-config.js";
import type { SupplyValve } from "../supply/supply-job.js";
import type {
  Co2Series,
  NightPoint,
  PlanAnswer,
  Series,
  SpanOfTime,
  VesselHistory,
} from "./page-contract.js";
import { heldValue } from "./thinned-series.js";

/** What a tank's CO2 is worked out with from an instant on. */
export interface KnownFrom {
  readonly from_epochMs: number;
  readonly known: Omit<TankKnowledge, "pH" | "temperature_degC" | "temperatureUncertainty_K">;
}

/** What the page asks that takes tens of milliseconds: plain data, for a thread of its own. */
export type PageJob =
  | {
      readonly kind: "vessel";
      readonly charge: SuppliedCharge;
      readonly state: SupplyState;
      readonly valves: readonly SupplyValve[];
      readonly pressureGauge_bar: Series;
      readonly temperature_degC: Series;
      readonly fanInstants_epochMs: readonly number[];
    }
  | {
      readonly kind: "tank";
      readonly pH: Series;
      readonly temperature_degC: Series;
      /** Oldest first. */
      readonly knowledge: readonly KnownFrom[];
      /** Where no thermometer spoke. */
      readonly assumed: { readonly temperature_degC: number; readonly uncertainty_K: number };
      readonly nights: readonly (SpanOfTime & { readonly water: LearningWater })[];
    }
  | {
      readonly kind: "plan";
      readonly config: PlanningConfig;
      readonly options: Omit<PlanOptions, "config">;
    };

export type PageResult =
  | {
      readonly kind: "vessel";
      readonly corrected: NonNullable<VesselHistory["corrected"]>;
      readonly fan: readonly FanPoint[] | undefined;
    }
  | {
      readonly kind: "tank";
      readonly co2: Co2Series;
      /** Of each night that was asked for. */
      readonly nights: readonly (readonly NightPoint[])[];
    }
  | { readonly kind: "plan"; readonly answer: PlanAnswer };

/** A temperature says nothing of a pressure that was read longer after it. */
const sameTemperature_ms = 2 * 3_600_000;
const thermometerUncertainty_K = 0.5;
const keptMaps = 4;
/** More points than this touch each other in a picture of a night. */
const mostNightPoints = 48;

/** Where the page's jobs are done: it keeps the tables that take long to make. */
export function createPageWorkshop(): { run(job: PageJob): PageResult } {
  const maps = new Map<string, ChargePressureMap>();
  return {
    run(job) {
      switch (job.kind) {
        case "vessel":
          return vesselOf(job);
        case "tank":
          return {
            kind: "tank",
            co2: co2Of(job),
            nights: job.nights.map((night) => nightPoints(job, night)),
          };
        case "plan":
          return { kind: "plan", answer: planOf(job) };
      }
    },
  };

  function mapOf(charge: SuppliedCharge): ChargePressureMap {
    const key = JSON.stringify(chargeOf(charge));
    const map = maps.get(key) ?? createChargePressureMap(chargeOf(charge));
    maps.delete(key);
    maps.set(key, map);
    for (const oldest of maps.keys()) {
      if (maps.size <= keptMaps) break;
      maps.delete(oldest);
    }
    return map;
  }

  function vesselOf(job: Extract<PageJob, { kind: "vessel" }>): PageResult {
    const { charge, state, valves } = job;
    const calendars = valves.map(({ rules, overrides }) =>
      overriddenCalendar(createDosingCalendar(rules, charge.timeZone), overrides),
    );
    const model = createSupplyModel(charge, {
      map: mapOf(charge),
      spans: openSpansOfCalendars(calendars, charge.closedAt_epochMs),
    });
    const belief = supplyBelief(state);
    // As at the temperature at which it doses: the fan then ends at the working pressure.
    const reference_degC = Math.round(state.dosing_degC);
    const temperature = heldValue(job.temperature_degC, sameTemperature_ms);
    const corrected = job.pressureGauge_bar.at_epochMs.flatMap((at_epochMs, k) => {
      const pressureGauge_bar = job.pressureGauge_bar.mean[k];
      const temperature_degC = temperature(at_epochMs);
      if (pressureGauge_bar === undefined || temperature_degC === undefined) return [];
      const reading = { pressureGauge_bar, temperature_degC };
      return [{ at_epochMs, gauge_bar: correctedGauge_bar(model, belief.mean, reading, reference_degC) }];
    });
    return {
      kind: "vessel",
      corrected: {
        reference_degC,
        at_epochMs: corrected.map(({ at_epochMs }) => at_epochMs),
        gauge_bar: corrected.map(({ gauge_bar }) => gauge_bar),
      },
      fan:
        job.fanInstants_epochMs.length === 0
          ? undefined
          : forecastFan(model, state, belief, {
              reference_degC,
              instants_epochMs: job.fanInstants_epochMs,
            }),
    };
  }
}

function planOf({ config, options }: Extract<PageJob, { kind: "plan" }>): PlanAnswer {
  const room_degC = options.room === undefined ? undefined : Number(options.room);
  const reply = planReply(config, options, true, (vessel) => planOutlooks({ room_degC, vessel }));
  if (reply.kind === "complaint") return { kind: "not understood", reason: reply.text };
  const { named, lines, plan } = reply;
  if (plan === undefined)
    return { kind: "not understood", reason: "only one charge of acid is planned here" };
  const { ratedPressureGauge_bar, reliefOpeningGauge_bar } = named.vessel;
  return {
    kind: "answer",
    vesselId: named.id,
    plan,
    cautions: [
      ...plateCautions({ ratedPressureGauge_bar, reliefOpeningGauge_bar }),
      ...(plan.kind === "plan" ? plan.cautions : [ownRatingCaution]),
    ],
    lines,
  };
}

/** What the fit of a night saw, few enough to draw: by pH and hardness alone. */
function nightPoints(
  { pH, temperature_degC }: Extract<PageJob, { kind: "tank" }>,
  { from_epochMs, until_epochMs, water }: Extract<PageJob, { kind: "tank" }>["nights"][number],
): readonly NightPoint[] {
  const temperature = heldValue(temperature_degC, sameTemperature_ms);
  const points = pH.at_epochMs.flatMap((at_epochMs, k): readonly NightPoint[] => {
    const read = pH.mean[k];
    if (read === undefined || at_epochMs < from_epochMs || at_epochMs > until_epochMs) return [];
    const co2_mgPerL = co2ByHardness_mgPerL(
      { pH: read, temperature_degC: temperature(at_epochMs) ?? null },
      water,
    );
    return co2_mgPerL === undefined ? [] : [{ at_epochMs, co2_mgPerL }];
  });
  const step = Math.ceil(points.length / mostNightPoints);
  return points.filter((_point, k) => k % step === 0);
}

function co2Of({ pH, temperature_degC, knowledge, assumed }: Extract<PageJob, { kind: "tank" }>): Co2Series {
  const temperature = heldValue(temperature_degC, sameTemperature_ms);
  let place = 0;
  const points = pH.at_epochMs.flatMap((at_epochMs, k) => {
    while ((knowledge[place + 1]?.from_epochMs ?? Infinity) <= at_epochMs) place += 1;
    const known = knowledge[place]?.known;
    const read = pH.mean[k];
    if (known === undefined || read === undefined) return [];
    const measured_degC = temperature(at_epochMs);
    const estimate = tankCo2({
      ...known,
      pH: read,
      temperature_degC: measured_degC ?? assumed.temperature_degC,
      temperatureUncertainty_K:
        measured_degC === undefined ? assumed.uncertainty_K : thermometerUncertainty_K,
    });
    return estimate === undefined ? [] : [{ at_epochMs, estimate }];
  });
  return {
    at_epochMs: points.map(({ at_epochMs }) => at_epochMs),
    co2_mgPerL: points.map(({ estimate }) => estimate.co2_mgPerL),
    co2Low80_mgPerL: points.map(({ estimate }) => estimate.co2Low80_mgPerL),
    co2High80_mgPerL: points.map(({ estimate }) => estimate.co2High80_mgPerL),
  };
}
