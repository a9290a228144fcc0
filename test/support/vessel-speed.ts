import { planOutlooks } from "../../daemon/cli/plan-outlooks.js";
import { compareCandidates, type Candidate } from "../../lib/charge-plan/compare-candidates.js";
import type { Charge } from "../../lib/vessel/charge.js";
import { chargeEquilibrium } from "../../lib/vessel/charge-equilibrium.js";
import { contentsFromPressure, depletionCurve } from "../../lib/vessel/depletion.js";
import { pressurise, usualSurroundings } from "../../lib/vessel/pressurising.js";
import { surgeForecast, type GasTrain } from "../../lib/vessel/surge.js";

/**
 * Prints how long the vessel's computations take on this machine: `node dist/test/support/vessel-speed.js`.
 * A figure to look at, not a test.
 */

const charge: Charge = {
  vesselVolume_L: 2,
  water_kg: 0.5,
  acid: { kind: "citric-acid-anhydrous", mass_g: 120 },
  sodiumBicarbonate_g: 140,
  sealedAt_degC: 20,
};

interface Measured {
  readonly what: string;
  /** The goal in the words of the line, or none. */
  readonly wanted?: string;
  readonly runs: number;
}

function timesOf_us(runs: number, act: (run: number) => unknown): readonly number[] {
  const times_us: number[] = [];
  for (let run = 0; run < runs; run += 1) {
    const before = process.hrtime.bigint();
    act(run);
    times_us.push(Number(process.hrtime.bigint() - before) / 1000);
  }
  return times_us;
}

function timeOf({ what, wanted, runs }: Measured, act: (run: number) => unknown): void {
  const times_us = timesOf_us(runs, act);
  const goal = wanted === undefined ? "no goal" : `wanted: ${wanted}`;
  // The first third warms the compiler up.
  const settled = times_us.slice(runs / 3).sort((a, b) => a - b);
  const at = (share: number): string => inWords(settled[Math.floor(share * settled.length)] ?? 0);
  const first = inWords(times_us[0] ?? 0);
  console.log(`${what}: median ${at(0.5)}, 95 % below ${at(0.95)}, first ${first} (${goal})`);
}

function inWords(time_us: number): string {
  return time_us < 1000 ? `${time_us.toFixed(1)} us` : `${(time_us / 1000).toFixed(1)} ms`;
}

const temperatureOf = (run: number): number => 5 + (run % 35);

/** Twenty different recipes, some of them too much, and no two runs alike. */
function candidatesOf(run: number): readonly Candidate[] {
  return Array.from({ length: 20 }, (_, k) => {
    const sodiumBicarbonate_g = 50 + 5 * k + 0.01 * (run % 400);
    return {
      kind: "acid-and-bicarbonate",
      label: String(k),
      sodiumBicarbonate_g,
      citricAcid_g: sodiumBicarbonate_g * (0.78 + 0.01 * (k % 5)),
      filling: { kind: k % 4 === 3 ? "ice" : "water", mass_kg: 0.4 + 0.02 * (k % 10) },
    };
  });
}

const shared = {
  vessel: {
    volume_L: 2,
    ratedPressureGauge_bar: 20,
    reliefOpeningGauge_bar: 20,
    leastInletGauge_bar: 3,
  },
  acidForm: "citric-acid-anhydrous",
  use: [{ tank: "pond", co2_gPerDay: { value: 2, low: 1.6, high: 2.5 } }],
} as const;
const outlooks = planOutlooks({ room_degC: 20, vessel: { workingPressureGauge_bar: 2 } });

// The plan goes first: what the first one in a process takes is what a person at the command line waits for.
timeOf({ what: "a plan with 20 candidates", wanted: "50 ms", runs: 150 }, (run) =>
  compareCandidates(shared, candidatesOf(run)),
);
timeOf(
  {
    what: "the same with ready time and surge of each, as the command plan asks for it",
    wanted: "50 ms",
    runs: 60,
  },
  (run) => compareCandidates({ ...shared, ...outlooks }, candidatesOf(run)),
);

const curve = depletionCurve(charge, { temperature_degC: 20, withdrawal: "headspace" });
const reading = { gaugeAccuracy_bar: 0.4, regulatorLeastInletGauge_bar: 2 };
const train: GasTrain = {
  regulator: { kind: "single-stage", stage: { setGauge_bar: 2, supplyPressureEffect_ratio: 0.04 } },
  behindNeedleGauge_bar: 0.3,
  leastInletGauge_bar: 2,
  use_molPerDay: 0.05,
};
const cylinder = { volume_L: 0.75, co2_kg: 0.5 };

timeOf({ what: "one equilibrium", wanted: "50 us", runs: 6000 }, (run) =>
  chargeEquilibrium(charge, temperatureOf(run)),
);
timeOf({ what: "one inverse, CO2 only, with its curve", wanted: "200 us", runs: 6000 }, (run) =>
  depletionCurve(charge, { temperature_degC: temperatureOf(run), withdrawal: "co2-only" }).remainingAt(10),
);
timeOf({ what: "one inverse, headspace, with its curve", wanted: "200 us", runs: 6000 }, (run) =>
  depletionCurve(charge, { temperature_degC: temperatureOf(run), withdrawal: "headspace" }).remainingAt(10),
);
timeOf({ what: "the same with bounds and what can be delivered", wanted: "200 us", runs: 6000 }, (run) =>
  contentsFromPressure(
    depletionCurve(charge, { temperature_degC: temperatureOf(run), withdrawal: "headspace" }),
    { pressureGauge_bar: 9, ...reading },
  ),
);
timeOf({ what: "one inverse on a curve that is there", wanted: "200 us", runs: 6000 }, (run) =>
  curve.remainingAt(4 + (run % 15)),
);
timeOf({ what: "a surge forecast with its curve and a cylinder beside it", runs: 900 }, (run) =>
  surgeForecast(
    depletionCurve(charge, { temperature_degC: 5 + (run % 25), withdrawal: "headspace" }),
    cylinder,
    train,
  ),
);
for (const kind of ["water", "ice"] as const) {
  const filled: Charge =
    kind === "water" ? charge : { ...charge, water_kg: 0, ice_kg: 0.5, sealedAt_degC: 0 };
  timeOf({ what: `a pressurising course with ${kind}, 48 h in 60 points`, runs: 90 }, (run) =>
    pressurise(
      filled,
      usualSurroundings(filled, {
        room_degC: 15 + (run % 10),
        startWater_degC: kind === "water" ? 15 + (run % 10) : 0,
      }),
      { until_h: 48 },
    ),
  );
}
