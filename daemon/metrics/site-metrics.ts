import {
  Counter,
  Gauge,
  Registry,
  type OpenMetricsContentType,
  type PrometheusContentType,
} from "prom-client";
import { alarmPriorities } from "../../lib/alarm/alarm-condition.js";
import { toldRunOut } from "../../lib/estimation/run-out.js";
import type { SupplyEstimate } from "../../lib/estimation/supply-estimate.js";
import { bandOrder } from "../hub/tank-device.js";
import type { SiteModel } from "../site-model.js";
import type { SiteStatus } from "../site-status.js";

/** One figure with its labels. */
interface Sample {
  readonly labels: Readonly<Record<string, string>>;
  readonly value: number | undefined;
}

interface Metric {
  readonly name: string;
  readonly help: string;
  readonly labels: readonly string[];
  /** It only grows while the daemon runs; its name ends in _total. */
  readonly counts?: true;
  readonly samples: (status: SiteStatus, model: SiteModel) => readonly Sample[];
}

export type MetricsForm = "openmetrics" | "classic";

const pascalPerBar = 100_000;
/** A gram in a cubic metre is a milligram in a litre. */
const mgPerLInGramsPerCubicMetre = 1;

/**
 * What the site believes and does, in the base units of the Prometheus naming rules: pascals, degrees Celsius, grams, seconds.
 * What is not known has no sample.
 */
const metrics: readonly Metric[] = [
  {
    name: "fizzward_control_pass_timestamp_seconds",
    help: "When the last control pass was made, seconds since 1970.",
    labels: [],
    samples: ({ at_epochMs }) => [{ labels: {}, value: at_epochMs / 1000 }],
  },
  {
    name: "fizzward_clock_believed",
    help: "1 while the machine's clock is believed, else 0.",
    labels: [],
    samples: ({ clock }) => [{ labels: {}, value: Number(clock.kind === "plausible") }],
  },
  {
    name: "fizzward_valve_open",
    help: "What the relay reports: 1 open, 0 closed; no sample while it is not known.",
    labels: ["valve"],
    samples: ({ valves }) =>
      valves.map(({ valveId, reported }) => ({
        labels: { valve: valveId },
        value: reported === "unknown" ? undefined : Number(reported === "open"),
      })),
  },
  {
    name: "fizzward_valve_wanted_open",
    help: "What the valve is told: 1 open, 0 closed.",
    labels: ["valve"],
    samples: ({ valves }) =>
      valves.map(({ valveId, decision }) => ({
        labels: { valve: valveId },
        value: Number(decision.action === "open"),
      })),
  },
  {
    name: "fizzward_valve_in_window",
    help: "1 inside the valve's dosing window, else 0.",
    labels: ["valve"],
    samples: ({ valves }) =>
      valves.map(({ valveId, window }) => ({
        labels: { valve: valveId },
        value: Number(window.kind === "open"),
      })),
  },
  {
    name: "fizzward_trips",
    help: "Trips that latch at this instant, by what they close.",
    labels: ["kind"],
    samples: ({ trips }) =>
      ["tank", "valve"].map((kind) => ({
        labels: { kind },
        value: trips.filter(({ subject }) => subject.kind === kind).length,
      })),
  },
  {
    name: "fizzward_alarms",
    help: "Raised alarms, by priority.",
    labels: ["priority"],
    samples: ({ alarms }) =>
      alarmPriorities.map((priority) => ({
        labels: { priority },
        value: alarms.filter(({ raised, condition }) => raised && condition.priority === priority).length,
      })),
  },
  ...(
    [
      ["co2_mgPerL", "", "the estimate"],
      ["co2Low80_mgPerL", "_low80", "lower end of its 80 % interval"],
      ["co2High80_mgPerL", "_high80", "upper end of its 80 % interval"],
    ] as const
  ).map(([key, end, words]) => ({
    name: `fizzward_tank_co2${end}_grams_per_cubic_metre`,
    help: `CO2 dissolved in the tank, ${words}; the number is that in mg/L.`,
    labels: ["tank"],
    samples: ({ tanks }: SiteStatus) =>
      tanks.map(({ tankId, co2 }) => ({
        labels: { tank: tankId },
        value: co2 === undefined ? undefined : Number(co2[key].toPrecision(2)) * mgPerLInGramsPerCubicMetre,
      })),
  })),
  {
    name: "fizzward_tank_band",
    help: "1 for the band in which the tank's CO2 stands, 0 for the others.",
    labels: ["tank", "band"],
    samples: ({ tanks }) =>
      tanks.flatMap(({ tankId, band }) =>
        bandOrder.map((name) => ({ labels: { tank: tankId, band: name }, value: Number(band === name) })),
      ),
  },
  {
    name: "fizzward_sensor_ph",
    help: "pH of a sensor that is fresh.",
    labels: ["sensor"],
    samples: fresh("pH", (value) => value),
  },
  {
    name: "fizzward_sensor_temperature_celsius",
    help: "Temperature of a sensor that is fresh, in degrees Celsius.",
    labels: ["sensor"],
    samples: fresh("temperature_degC", (value) => value),
  },
  {
    name: "fizzward_sensor_pressure_pascals",
    help: "Pressure above that of the air of a sensor that is fresh, in pascals.",
    labels: ["sensor"],
    samples: fresh("pressureGauge_bar", (value) => value * pascalPerBar),
  },
  {
    name: "fizzward_sensor_mass_grams",
    help: "Mass of a sensor that is fresh, in grams.",
    labels: ["sensor"],
    samples: fresh("mass_g", (value) => value),
  },
  {
    name: "fizzward_sensor_readings_total",
    help: "Readings of a sensor since the start, by what became of them: accepted, or why not.",
    labels: ["sensor", "outcome"],
    counts: true,
    samples: ({ sensors }) =>
      sensors.flatMap(({ sensorId, counts: { acceptedCount, rejectedCounts } }) =>
        Object.entries({ accepted: acceptedCount, ...rejectedCounts }).map(([outcome, value]) => ({
          labels: { sensor: sensorId, outcome },
          value,
        })),
      ),
  },
  {
    name: "fizzward_sensor_age_seconds",
    help: "Age of the last believed value of a sensor.",
    labels: ["sensor"],
    samples: ({ sensors }) =>
      sensors.map(({ sensorId, freshness }) => ({
        labels: { sensor: sensorId },
        value: freshness.kind === "never" ? undefined : freshness.age_s,
      })),
  },
  ...(["remaining", "deliverable"] as const).flatMap((which) =>
    (
      [
        ["value_g", "", ""],
        ["low80_g", "_low80", ", lower end of its 80 % interval"],
        ["high80_g", "_high80", ", upper end of its 80 % interval"],
      ] as const
    ).map(([key, end, words]) => ({
      name: `fizzward_vessel_co2_${which}${end}_grams`,
      help: `${which === "remaining" ? "CO2 left in the vessel" : "CO2 that the regulator can still deliver"}${words}.`,
      labels: ["vessel"],
      samples: ({ supplies }: SiteStatus) =>
        supplies.map(({ vesselId, told }) => ({
          labels: { vessel: vesselId },
          value: told?.estimate[which][key],
        })),
    })),
  ),
  {
    name: "fizzward_vessel_run_out_timestamp_seconds",
    help: "Probable end of the charge, seconds since 1970; left out while its day is not known.",
    labels: ["vessel"],
    samples: ({ supplies }) =>
      supplies.map(({ vesselId, told }) => ({
        labels: { vessel: vesselId },
        value: runOut_s(told?.estimate),
      })),
  },
];

function runOut_s(estimate: SupplyEstimate | undefined): number | undefined {
  const told = estimate === undefined ? undefined : toldRunOut(estimate.runOut, estimate.at_epochMs);
  return told === undefined ? undefined : told.median_epochMs / 1000;
}

/** Everything as text, in one of the two forms. */
export async function metricsText(form: MetricsForm, status: SiteStatus, model: SiteModel): Promise<string> {
  const registry = new Registry<PrometheusContentType | OpenMetricsContentType>();
  if (form === "openmetrics") registry.setContentType(Registry.OPENMETRICS_CONTENT_TYPE);
  for (const { name, help, labels, counts, samples } of metrics) {
    const known = samples(status, model).filter(({ value }) => value !== undefined && Number.isFinite(value));
    if (known.length === 0) continue;
    const form = { name, help, labelNames: [...labels], registers: [registry] };
    if (counts === true) {
      const counter = new Counter(form);
      for (const sample of known) counter.inc({ ...sample.labels }, sample.value ?? 0);
      continue;
    }
    const metric = new Gauge(form);
    for (const sample of known) metric.set({ ...sample.labels }, sample.value ?? 0);
  }
  return registry.metrics();
}

export const contentTypes: Readonly<Record<MetricsForm, string>> = {
  openmetrics: Registry.OPENMETRICS_CONTENT_TYPE,
  classic: Registry.PROMETHEUS_CONTENT_TYPE,
};

function fresh(
  quantity: string,
  convert: (value: number) => number,
): (status: SiteStatus, model: SiteModel) => readonly Sample[] {
  return ({ sensors }, model) =>
    sensors
      .filter(({ sensorId }) => model.sensors.get(sensorId)?.rules.quantity === quantity)
      .map(({ sensorId, freshness, lastAccepted }) => ({
        labels: { sensor: sensorId },
        value:
          freshness.kind === "fresh" && lastAccepted !== undefined
            ? Number(convert(lastAccepted.value).toPrecision(6))
            : undefined,
      }));
}
