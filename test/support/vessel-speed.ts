import type { Charge } from "../../lib/vessel/charge.js";
import { chargeEquilibrium } from "../../lib/vessel/charge-equilibrium.js";
import { contentsFromPressure, depletionCurve } from "../../lib/vessel/depletion.js";

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

function timeOf(what: string, limit: string, act: (run: number) => unknown): void {
  const runs = 6000;
  const times_us: number[] = [];
  for (let run = 0; run < runs; run += 1) {
    const before = process.hrtime.bigint();
    act(run);
    times_us.push(Number(process.hrtime.bigint() - before) / 1000);
  }
  // The first third warms the compiler up.
  const settled = times_us.slice(runs / 3).sort((a, b) => a - b);
  const at = (share: number): string => (settled[Math.floor(share * settled.length)] ?? 0).toFixed(1);
  console.log(`${what}: median ${at(0.5)} us, 95 % below ${at(0.95)} us (wanted: ${limit})`);
}

const temperatureOf = (run: number): number => 5 + (run % 35);
const curve = depletionCurve(charge, { temperature_degC: 20, withdrawal: "headspace" });
const reading = { gaugeAccuracy_bar: 0.4, regulatorLeastInletGauge_bar: 2 };

timeOf("one equilibrium", "50 us", (run) => chargeEquilibrium(charge, temperatureOf(run)));
timeOf("one inverse, CO2 only, with its curve", "200 us", (run) =>
  depletionCurve(charge, { temperature_degC: temperatureOf(run), withdrawal: "co2-only" }).remainingAt(10),
);
timeOf("one inverse, headspace, with its curve", "200 us", (run) =>
  depletionCurve(charge, { temperature_degC: temperatureOf(run), withdrawal: "headspace" }).remainingAt(10),
);
timeOf("the same with bounds and what can be delivered", "200 us", (run) =>
  contentsFromPressure(
    depletionCurve(charge, { temperature_degC: temperatureOf(run), withdrawal: "headspace" }),
    {
      pressureGauge_bar: 9,
      ...reading,
    },
  ),
);
timeOf("one inverse on a curve that is there", "200 us", (run) => curve.remainingAt(4 + (run % 15)));
