import { JournalMemory } from "../../daemon/journal/journal-memory.js";
import type { SiteEvent } from "../../daemon/ports/site-store.js";
import type { SensorView } from "../../daemon/sensor-inbox.js";
import type { SiteModel } from "../../daemon/site-model.js";
import { chargeInUse } from "../../daemon/supply/charge-in-use.js";
import {
  createSupplyHere,
  createSupplyTracker,
  type SupplyRunner,
  type SupplyTracker,
} from "../../daemon/supply/supply-tracker.js";
import type { ToldSupply } from "../../daemon/supply/vessel-supply.js";
import { createSupplyModel, type SupplyModel } from "../../lib/estimation/supply-model.js";
import type { Override } from "../../lib/control/decide.js";
import type { JournalFact } from "../../lib/journal/journal-entry.js";
import { CollectingLogger } from "./collecting-logger.js";
import { benchYaml, modelOf } from "./control-bench.js";

const hour_ms = 3_600_000;
const minute_ms = 60_000;

/** The bench's site with a charge, and with a pressure sensor where one is wanted. */
export function supplyYaml({ sensors = true, datesOff = "[]" } = {}): string {
  const vessel = `kind: generator, volume_L: 2, workingPressureGauge_bar: 1.5,
      ${sensors ? "pressureSensor: cellar-gauge, temperatureSensor: cellar-temperature," : ""}
      charge: { sodiumBicarbonate_g: 120, citricAcidAnhydrous_g: 100, water_kg: 0.5, sealedAt_degC: 20,
        closedAt: "2026-02-01T12:00:00+01:00" }`;
  const gauges = `sensors:
  cellar-gauge: { measures: pressure, unit: bar, reference: gauge, topic: cellar/gauge, accuracy: 0.1 }
  cellar-temperature: { measures: temperature, unit: degC, topic: cellar/temperature }`;
  return benchYaml
    .replace("sensors:", sensors ? gauges : "sensors:")
    .replace("kind: generator, volume_L: 2, workingPressureGauge_bar: 3", vessel)
    .replace(
      'photoperiods: [{ lightsOn: "10:00", lightsOff: "19:00" }]',
      `photoperiods: [{ lightsOn: "10:00", lightsOff: "18:00" }]\n    lead_min: 0\n    earlyClose_min: 0\n    datesOff: ${datesOff}`,
    );
}

/** A vessel that gives its gas at a constant rate while its valve is open, seen by a tracker of its own. */
export class SupplyBench {
  readonly journal = new JournalMemory();
  readonly events: SiteEvent[] = [];
  readonly logger = new CollectingLogger();
  readonly site: SiteModel;
  readonly pressure: SupplyModel["map"];
  now_epochMs: number;
  removed_g: number;
  leak_gPerH = 0;
  flow_gPerH = 0.35;
  /** What the sensor says of a true pressure; undefined: silent. */
  sensor: (true_bar: number) => number | undefined = (true_bar) => true_bar;
  /** What the scale says; undefined: there is none. */
  scale: (() => number) | undefined;
  overrides: readonly Override[] = [];
  saved: unknown;
  tracker: SupplyTracker;
  #entryId = 0;
  readonly #started_epochMs: number;
  readonly #advises: boolean;

  constructor(options: {
    readonly startAt: string;
    readonly yaml?: string;
    readonly removed_g?: number;
    readonly runner?: SupplyRunner;
    /** Refill advice takes most of the time of a run; left out where a test does not look at it. */
    readonly advises?: boolean;
  }) {
    this.site = modelOf(options.yaml ?? supplyYaml());
    this.now_epochMs = Date.parse(options.startAt);
    this.#started_epochMs = this.now_epochMs;
    this.removed_g = options.removed_g ?? 0;
    const { supplied } = chargeInUse(this.site, "cellar", this.journal)!;
    this.pressure = createSupplyModel(supplied).map;
    this.#advises = options.advises ?? false;
    this.tracker = this.#begun(undefined, options.runner);
  }

  get told(): ToldSupply {
    return this.tracker.views()[0]!.told!;
  }

  get remaining_g(): number {
    return 0.965 * this.pressure.co2Available_g - this.removed_g;
  }

  get gauge_bar(): number {
    return (
      this.pressure.pressureOf({
        reacted_g: this.remaining_g,
        atFirst_g: 0.965 * this.pressure.co2Available_g,
        temperature_degC: 20,
        retained_ratio: 1,
        air_ratio: 0.6,
        airHaste_ratio: 1.1,
      }).pressureAbsolute_bar - 1.01325
    );
  }

  enter(fact: JournalFact, at_epochMs = this.now_epochMs): number {
    this.#entryId += 1;
    this.journal.add({
      entryId: this.#entryId,
      at_epochMs,
      enteredAt_epochMs: this.now_epochMs,
      source: "local",
      note: "",
      fact,
      withdrawn: false,
    });
    return this.#entryId;
  }

  /** The gauge read by eye, to a tenth of a bar. */
  readGauge(pressureGauge_bar = Math.round(this.gauge_bar * 10) / 10, at_epochMs = this.now_epochMs): number {
    const asRead = { value: pressureGauge_bar, unit: "bar" as const };
    return this.enter({ kind: "gauge reading", vesselId: "cellar", pressureGauge_bar, asRead }, at_epochMs);
  }

  isOpen(): boolean {
    return this.site.valves.get("outlet")!.calendar.stateAt(this.now_epochMs).kind === "open";
  }

  /** Passes each two minutes, for so many hours. */
  hours(count: number, step_min = 2): void {
    const end_epochMs = this.now_epochMs + count * hour_ms;
    while (this.now_epochMs < end_epochMs) {
      this.#look();
      this.now_epochMs += step_min * minute_ms;
      const flow_gPerH = this.isOpen() ? this.flow_gPerH : 0;
      this.removed_g += ((flow_gPerH + this.leak_gPerH) * step_min) / 60;
    }
    this.#look();
  }

  /** Another life of the daemon goes on from what is on disk. */
  restart(): void {
    this.tracker.save();
    this.tracker = this.#begun(JSON.parse(JSON.stringify(this.saved)), undefined);
  }

  #begun(restored: unknown, runner: SupplyRunner | undefined): SupplyTracker {
    return createSupplyTracker(
      {
        store: {
          saveSnapshot: (_name, state) => {
            this.saved = state;
            return Promise.resolve(true);
          },
        },
        journal: this.journal,
        runner: runner ?? this.#here(),
        logger: this.logger,
        record: (event) => this.events.push(event),
      },
      restored,
    );
  }

  #here(): SupplyRunner {
    const here = createSupplyHere();
    return this.#advises
      ? here
      : { ...here, run: (job, done) => here.run({ ...job, refill: undefined }, done) };
  }

  #look(): void {
    const { now_epochMs } = this;
    const reported = this.isOpen() ? ("on" as const) : ("off" as const);
    const relays = { outlet: { reported } };
    this.tracker.follow({
      now_epochMs,
      // The bench's clocks run alike.
      now_monotonicMs: now_epochMs - this.#started_epochMs,
      model: this.site,
      sensors: this.#sensors(),
      memories: new Map([["outlet", { relays } as never]]),
      overrides: this.overrides,
      usedLead: () => undefined,
    });
  }

  #sensors(): readonly SensorView[] {
    const view = (sensorId: string, value: number | undefined): readonly SensorView[] =>
      value === undefined
        ? []
        : [
            {
              sensorId,
              lastAccepted: { sensorId, value, at_epochMs: this.now_epochMs },
              freshness: { kind: "fresh", age_s: 0 },
            } as unknown as SensorView,
          ];
    const scale = view("cellar-scale", this.scale?.());
    const hasSensors = this.site.vessels.get("cellar")?.pressureSensor !== undefined;
    return hasSensors
      ? [...view("cellar-gauge", this.sensor(this.gauge_bar)), ...view("cellar-temperature", 20), ...scale]
      : scale;
  }
}
