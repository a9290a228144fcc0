import { drawNormal } from "./random-source.js";
import type { SensorFault } from "./simulated-fault.js";

/** How a sensor errs, in the unit that it sends. */
export interface SensorModelSpec {
  /** Standard deviation of one value. */
  readonly noise: number;
  /** Step of the last digit that it sends; 0 sends all digits. */
  readonly resolution: number;
  /** Creep of the zero point, as a pH probe's. */
  readonly driftPerDay: number;
  /** Share of the values that never arrive. */
  readonly dropout_ratio: number;
}

export interface SensorMemory {
  readonly startedAt_epochMs: number;
  readonly lastSent: number | undefined;
}

export type SensorSample = { readonly kind: "value"; readonly value: number } | { readonly kind: "silent" };

const millisecondsPerDay = 86_400_000;

function quantised(value: number, resolution: number): number {
  if (resolution <= 0) return value;
  // Twelve digits: the multiple of a decimal step is the decimal number again, as a display shows it.
  return Number((Math.round(value / resolution) * resolution).toPrecision(12));
}

/**
 * What a sensor sends for a true value, and what it remembers. Same `random`, same row of values.
 * @param reading.truth in the sensor's own unit, before its errors
 * @param reading.faults those of this sensor that hold now; the last one listed wins
 */
export function readSensor(
  spec: SensorModelSpec,
  memory: SensorMemory,
  reading: {
    readonly truth: number;
    readonly at_epochMs: number;
    readonly faults: readonly SensorFault[];
  },
  random: () => number,
): { readonly memory: SensorMemory; readonly sample: SensorSample } {
  const age_days = (reading.at_epochMs - memory.startedAt_epochMs) / millisecondsPerDay;
  const drifted = reading.truth + spec.driftPerDay * age_days + spec.noise * drawNormal(random);
  const healthy = quantised(drifted, spec.resolution);
  const droppedOut = random() < spec.dropout_ratio;
  const chance = random();
  const silent = { memory, sample: { kind: "silent" } } as const;
  const sent = (value: number) =>
    ({ memory: { ...memory, lastSent: value }, sample: { kind: "value", value } }) as const;
  if (droppedOut) return silent;
  const fault = reading.faults.at(-1);
  switch (fault?.kind) {
    case undefined:
      return sent(healthy);
    case "sensor-silent":
      return silent;
    case "sensor-stuck":
      return sent(memory.lastSent ?? healthy);
    case "sensor-implausible":
      return sent(fault.value);
    case "sensor-drifts": {
      const since_days = (reading.at_epochMs - fault.onset_epochMs) / millisecondsPerDay;
      return sent(quantised(drifted + fault.driftPerDay * since_days, spec.resolution));
    }
    case "sensor-spikes": {
      if (chance >= fault.spike_ratio) return sent(healthy);
      const sign = chance < fault.spike_ratio / 2 ? -1 : 1;
      return sent(quantised(drifted + sign * fault.size, spec.resolution));
    }
  }
}
