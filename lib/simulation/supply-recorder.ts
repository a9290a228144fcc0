import type { SupplyReading } from "../estimation/supply-trace.js";
import type { DrawnCharge } from "./drawn-charge.js";
import { drawNormal } from "./random-source.js";
import type { RecordingGap } from "./recording-gaps.js";
import { createSimulatedGauge } from "./simulated-gauge.js";
import type { SimulatedVessel } from "./simulated-vessel.js";

/** What the instruments can see at an instant. */
export interface RecordedInstant {
  readonly at_epochMs: number;
  readonly vessel: SimulatedVessel;
  readonly room_degC: number;
  readonly valveOpen: boolean;
  readonly gap: RecordingGap | undefined;
  readonly gaugeStep_bar: number;
}

export interface SupplyRecorder {
  readonly readings: readonly SupplyReading[];
  /** Called for each step in order of time, whether or not a row comes of it. */
  see(instant: RecordedInstant): void;
}

const hour_ms = 3_600_000;
const week_ms = 7 * 24 * hour_ms;

/** A person reads the gauge on two days of the week. Common practice, no source. */
const eyeReadingsPerWeek = 2;

/**
 * Turns what is so into the rows that an estimator gets: on the recorder's clock or when a person looks, and at each
 * change of the valve. Same chance, same rows.
 */
export function createSupplyRecorder(
  drawn: DrawnCharge,
  start: { readonly from_epochMs: number; readonly reading_ms: number; readonly pressureGauge_bar: number },
  chance: {
    readonly gauge: () => number;
    readonly sensors: () => number;
    readonly eye: () => number;
  },
): SupplyRecorder {
  const gauge = createSimulatedGauge(drawn.gauge, start.pressureGauge_bar, chance.gauge);
  const byEye = drawn.readBy === "eye";
  const readings: SupplyReading[] = [];
  // Whoever puts a charge to use looks at its gauge; so they do when it is closed.
  let nextLook_epochMs = start.from_epochMs;
  let wasOpen = false;

  const looks = (at_epochMs: number): boolean => {
    if (at_epochMs < nextLook_epochMs) return false;
    const later_epochMs = at_epochMs + (week_ms / eyeReadingsPerWeek) * (0.6 + 0.8 * chance.eye());
    const beforeUse = at_epochMs < drawn.dosingFrom_epochMs;
    nextLook_epochMs = beforeUse ? Math.min(later_epochMs, drawn.dosingFrom_epochMs) : later_epochMs;
    return true;
  };

  const shownTemperature_degC = ({ vessel, room_degC }: RecordedInstant): number => {
    const sensor = drawn.temperatureSensor;
    const truly_degC = sensor.place === "steel" ? vessel.steel_degC : room_degC;
    // A difference in kelvin is one in degrees.
    const sensorError = sensor.bias_K + sensor.noise_K * drawNormal(chance.sensors);
    return quantised(truly_degC + sensorError, sensor.resolution_K);
  };

  const rowAt = (instant: RecordedInstant, due: boolean): SupplyReading => {
    const { scale } = drawn;
    const row = { at_epochMs: instant.at_epochMs, valveOpen: instant.valveOpen };
    if (!due) return row;
    const temperature_degC = shownTemperature_degC(instant);
    return {
      ...row,
      temperature_degC,
      ...(instant.gap === undefined ? { pressureGauge_bar: gauge.read(instant.gaugeStep_bar) } : {}),
      ...(scale === undefined
        ? {}
        : {
            vesselMass_g: quantised(
              instant.vessel.mass_g + scale.noise_g * drawNormal(chance.sensors),
              scale.resolution_g,
            ),
          }),
      ...(byEye ? { byEye: true } : {}),
    };
  };

  return {
    readings,
    see(instant) {
      const { at_epochMs, gap } = instant;
      gauge.follow(instant.vessel.pressureGauge_bar);
      const due = byEye ? looks(at_epochMs) : (at_epochMs - start.from_epochMs) % start.reading_ms === 0;
      if (gap !== undefined && gap.kind !== "pressure-only") return;
      if (due || instant.valveOpen !== wasOpen) readings.push(rowAt(instant, due));
      wasOpen = instant.valveOpen;
    },
  };
}

function quantised(value: number, step: number): number {
  // Nine digits: the multiple of a decimal step is the decimal number again, as a display shows it.
  return Number((Math.round(value / step) * step).toPrecision(9));
}
