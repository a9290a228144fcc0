import type { Figure } from "./figure.js";

export interface MeasuredPass {
  readonly began_ms: number;
  readonly took_ms: number;
  /** What its thread computed meanwhile; the rest it waited for a processor. */
  readonly computed_ms: number;
}

const tick_ms = 1000;

/** From one pass to the next a second goes by; half a second more and one was missed. */
export function missedTicks(passes: readonly MeasuredPass[]): number {
  return gaps_ms(passes).reduce((sum, gap_ms) => sum + Math.max(0, Math.round(gap_ms / tick_ms) - 1), 0);
}

export function passFigures(passes: readonly MeasuredPass[]): readonly Figure[] {
  const took_ms = sorted(passes.map((pass) => pass.took_ms));
  const computed_ms = sorted(passes.map((pass) => pass.computed_ms));
  return [
    { name: "ticks missed", value: missedTicks(passes), unit: "1", limit: 0, bound: "most" },
    {
      name: "time of a pass, longest",
      value: took_ms.at(-1) ?? Number.NaN,
      unit: "ms",
      limit: 1000,
      bound: "most",
    },
    {
      name: "computing of a pass, median",
      value: computed_ms[Math.floor(computed_ms.length / 2)] ?? Number.NaN,
      unit: "ms",
      limit: 150,
      bound: "most",
    },
    {
      name: "computing of a pass, longest",
      value: computed_ms.at(-1) ?? Number.NaN,
      unit: "ms",
      limit: 400,
      bound: "most",
    },
  ];
}

/** How many passes took up to so long: the histogram of their times. */
export function passHistogram(passes: readonly MeasuredPass[]): Readonly<Record<string, number>> {
  const bounds_ms = [20, 50, 100, 200, 400, 800, 1600];
  const counts: Record<string, number> = {};
  for (const { took_ms } of passes) {
    const bound_ms = bounds_ms.find((bound) => took_ms <= bound);
    const key = bound_ms === undefined ? "longer" : `up to ${bound_ms}`;
    counts[key] = (counts[key] ?? 0) + 1;
  }
  return counts;
}

function sorted(values: readonly number[]): readonly number[] {
  return [...values].sort((a, b) => a - b);
}

function gaps_ms(passes: readonly MeasuredPass[]): readonly number[] {
  return passes.slice(1).map(({ began_ms }, index) => began_ms - (passes[index]?.began_ms ?? began_ms));
}
