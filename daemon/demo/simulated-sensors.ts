import { gasConstant_JPerMolK, standardAtmosphere_bar } from "../../lib/quantities/physical-constants.js";
import { kelvinFromCelsius } from "../../lib/quantities/units.js";
import type { SensorModelSpec } from "../../lib/simulation/simulated-sensor.js";
import type { SimulatedSiteSpec, SimulatedSiteState } from "../../lib/simulation/simulated-site.js";
import { tankPh } from "../../lib/simulation/simulated-tank.js";
import { inSpokenUnit, uncalibrated } from "./payload-encoding.js";
import type { SensorDescription, SiteDescription } from "./site-description.js";

/** The true value that a sensor looks at, in its canonical unit. */
export type Observation = (state: SimulatedSiteState) => number;

/** Volume of a bubble in the counter. Common practice, no source: 20 to 60 mm3. */
const bubble_mm3 = 40;

function bubbleRate_perMin(flow_molPerH: number, temperature_degC: number): number {
  const pressure_Pa = standardAtmosphere_bar * 1e5;
  // Ideal gas, m3 to mL.
  const gas_mLPerMin =
    ((flow_molPerH / 60) * gasConstant_JPerMolK * kelvinFromCelsius(temperature_degC) * 1e6) / pressure_Pa;
  return (gas_mLPerMin * 1000) / bubble_mm3;
}

function onlyKey(record: Readonly<Record<string, unknown>>): string | undefined {
  const keys = Object.keys(record);
  return keys.length === 1 ? keys[0] : undefined;
}

/**
 * What a sensor of the configuration looks at: where it is named as a vessel's or a tank's sensor, that; a room
 * sensor else; a scale or a bubble counter the only vessel or valve. Undefined when it hangs nowhere.
 */
export function observationOf(
  sensorId: string,
  sensor: SensorDescription,
  site: SiteDescription,
  spec: SimulatedSiteSpec,
): Observation | undefined {
  for (const [vesselId, vessel] of Object.entries(site.vessels)) {
    if (vessel.pressureSensor === sensorId)
      return (state) => state.vessels[vesselId]?.pressureGauge_bar ?? NaN;
    if (vessel.temperatureSensor === sensorId)
      return (state) => state.vessels[vesselId]?.steel_degC ?? state.vessels[vesselId]?.contents_degC ?? NaN;
  }
  for (const [tankId, tank] of Object.entries(site.tanks)) {
    const physics = spec.tanks[tankId]?.physics;
    if (tank.temperatureSensor === sensorId) return (state) => state.tanks[tankId]?.temperature_degC ?? NaN;
    if (tank.phSensor === sensorId && physics !== undefined) {
      return (state) => {
        const now = state.tanks[tankId];
        return now === undefined ? NaN : tankPh(physics, now);
      };
    }
  }
  switch (sensor.measures) {
    case "temperature":
      return (state) => state.room_degC;
    case "co2InAir":
      return () => spec.room.co2_ppm;
    case "mass": {
      const vesselId = onlyKey(site.vessels);
      return vesselId === undefined ? undefined : (state) => state.vessels[vesselId]?.mass_g ?? NaN;
    }
    case "bubbleRate": {
      const valveId = onlyKey(site.valves);
      return valveId === undefined
        ? undefined
        : (state) => bubbleRate_perMin(state.flow_molPerH[valveId] ?? 0, state.room_degC);
    }
    case "pH":
    case "pressure":
      return undefined;
  }
}

/** The number that the sensor would show for a true value if it had no error. */
export function shownFor(value: number, sensor: SensorDescription): number {
  return uncalibrated(inSpokenUnit(value, sensor), sensor.calibration);
}

/** Errors of ordinary devices, in canonical units (bar, K, pH, g, ppm, bubbles per minute). Invented. */
const usualErrors: Readonly<Record<SensorDescription["measures"], SensorModelSpec>> = {
  pressure: { noise: 0.02, resolution: 0.02, driftPerDay: 0, dropout_ratio: 0.002 },
  temperature: { noise: 0.04, resolution: 0.1, driftPerDay: 0, dropout_ratio: 0.002 },
  pH: { noise: 0.008, resolution: 0.01, driftPerDay: 0.003, dropout_ratio: 0.002 },
  mass: { noise: 0.6, resolution: 1, driftPerDay: 0, dropout_ratio: 0.002 },
  co2InAir: { noise: 8, resolution: 1, driftPerDay: 0, dropout_ratio: 0.002 },
  bubbleRate: { noise: 0.5, resolution: 1, driftPerDay: 0, dropout_ratio: 0.002 },
};

/** The usual errors in the numbers that this sensor shows; its last digit is a decimal one. */
export function sensorModelFor(sensor: SensorDescription): SensorModelSpec {
  const usual = usualErrors[sensor.measures];
  const shownPerUnit = Math.abs(shownFor(1, sensor) - shownFor(0, sensor));
  return {
    noise: usual.noise * shownPerUnit,
    resolution: 10 ** Math.floor(Math.log10(usual.resolution * shownPerUnit) + 1e-9),
    driftPerDay: usual.driftPerDay * shownPerUnit,
    dropout_ratio: usual.dropout_ratio,
  };
}
