import { drawNormal } from "./random-source.js";

/** A pressure gauge: a pointer with friction or a transducer, and how it is read. */
export interface SimulatedGaugeSpec {
  /** Zero error, for as long as the gauge is not touched. */
  readonly bias_bar: number;
  /** Shown on a rising pressure less shown on a falling one. */
  readonly hysteresis_bar: number;
  /** How far the pressure has to run ahead before the pointer jumps after it. */
  readonly stiction_bar: number;
  readonly noise_bar: number;
  /** Step in which it is read. */
  readonly resolution_bar: number;
}

export interface SimulatedGauge {
  /** The pointer follows; call for every instant in order. */
  follow(pressureGauge_bar: number): void;
  /** What is read now, in steps of the resolution, never below zero. */
  read(offset_bar: number): number;
}

/** A gauge whose pointer starts at a pressure. Same `random`, same row of readings. */
export function createSimulatedGauge(
  spec: SimulatedGaugeSpec,
  start_bar: number,
  random: () => number,
): SimulatedGauge {
  let pointer_bar = start_bar;
  const play_bar = spec.hysteresis_bar / 2;
  return {
    follow(pressureGauge_bar) {
      const ahead_bar = pressureGauge_bar - pointer_bar;
      if (Math.abs(ahead_bar) > play_bar + spec.stiction_bar) {
        pointer_bar = pressureGauge_bar - Math.sign(ahead_bar) * play_bar;
      }
    },
    read(offset_bar) {
      const shown_bar = pointer_bar + spec.bias_bar + offset_bar + spec.noise_bar * drawNormal(random);
      const steps = Math.round(Math.max(0, shown_bar) / spec.resolution_bar);
      // Nine digits: the multiple of a decimal step is the decimal number again, as a display shows it.
      return Number((steps * spec.resolution_bar).toPrecision(9));
    },
  };
}
