import type { Figure } from "./figure.js";
import { ControlBench } from "../support/control-bench.js";

const day_ms = 86_400_000;
const days = 30;
/** Between two passes and two readings of each sensor: a month takes a minute or two. */
const step_s = 30;
/** What is learnt and kept for some days has come to its size by then. */
const settledAfter_days = 15;

/** Growth of the heap of the whole control path, by the straight line through what is left after each day's collection. */
export async function heapGrowth(): Promise<Figure> {
  const collect = globalThis.gc;
  if (collect === undefined) throw new Error("run it with --expose-gc");
  const bench = new ControlBench({ startAt: "2026-05-04T00:00:00Z", step_s });
  await bench.start();
  const heaps_bytes: number[] = [];
  for (let day = 0; day < days; day += 1) {
    for (let at_ms = 0; at_ms < day_ms; at_ms += step_s * 1000) await bench.second();
    forgetWitnesses(bench);
    collect();
    heaps_bytes.push(process.memoryUsage().heapUsed);
  }
  return {
    name: "heap of the control path over a simulated month, growth in its second half",
    value: (slopeOf(heaps_bytes.slice(settledAfter_days)) * (days - settledAfter_days)) / 1e6,
    unit: "MB",
    limit: 2,
    bound: "most",
  };
}

/** What the bench itself keeps to be looked at later is none of the daemon's. */
function forgetWitnesses({ broker, disk, logger, relay, run }: ControlBench): void {
  for (const kept of [broker.passed, disk.readings, disk.events, logger.lines, relay.heard, run.events]) {
    (kept as unknown[]).length = 0;
  }
}

/** Least squares, for each step. */
export function slopeOf(values: readonly number[]): number {
  const middle = (values.length - 1) / 2;
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const above = values.reduce((sum, value, index) => sum + (index - middle) * (value - mean), 0);
  return above / values.reduce((sum, _value, index) => sum + (index - middle) ** 2, 0);
}
