import { createSimulatedHome, type SimulatedHome } from "../../daemon/demo/simulated-home.js";
import type { SiteConfig } from "../../daemon/config/config-schema.js";
import type { Logger } from "../../daemon/ports/logger.js";
import type { SiteEvent } from "../../daemon/ports/site-store.js";
import { siteModelFrom, type SiteModel } from "../../daemon/site-model.js";
import { createDosingCalendar } from "../../lib/schedule/dosing-calendar.js";
import { createRandomSource } from "../../lib/simulation/random-source.js";
import type { SimulatedFault } from "../../lib/simulation/simulated-fault.js";
import type { SimulatedSiteSpec } from "../../lib/simulation/simulated-site.js";
import type { VesselModel } from "../../lib/simulation/vessel-model.js";
import { createMemoryBroker, type MemoryBroker } from "../support/memory-message-bus.js";
import { beginLife, type DaemonLife } from "./daemon-life.js";
import { homeVessels, timeZone } from "./home-config.js";
import { fillVessel, homePhysics } from "./home-physics.js";
import { LeapingClock } from "./leaping-clock.js";

export interface HouseholdOptions {
  readonly config: SiteConfig;
  readonly startAt_epochMs: number;
  readonly seed: number;
  readonly logger: Logger;
  readonly onEvent: (event: SiteEvent) => void;
}

const second_ms = 1000;
/** How often each sensor speaks. */
const sensorEvery_ms = 120_000;
/** Between two passes of the daemon, while gas may flow and while it may not; sensors speak in between. */
const leap_ms = { open: 240_000, closed: 600_000 } as const;
/** Each second around what moves a valve, and after each fault and each deed of the keeper. */
const fineBefore_ms = 2000;
const fineAfterEdge_ms = 15_000;
const fineAfter_ms = 45_000;
/** A relay that stays at odds is looked at closely no longer than this. */
const longestFine_ms = 180_000;

/** Nothing comes out of it. */
function openVessel(contents_degC: number): VesselModel {
  const open: VesselModel = {
    pressureGauge_bar: 0,
    contents_degC,
    co2_mol: 0,
    air_mol: 0,
    mass_g: 0,
    advance: () => ({ vessel: open, left: { co2_mol: 0, air_mol: 0 } }),
  };
  return open;
}

/** The home with everything in it: physics, devices, broker, and the daemon while it lives. */
export class Household {
  readonly clock: LeapingClock;
  readonly broker: MemoryBroker;
  readonly home: SimulatedHome;
  readonly physics: SimulatedSiteSpec;
  readonly model: SiteModel;
  readonly #options: HouseholdOptions;
  readonly #daemonRandom: () => number;
  readonly #faults = new Set<SimulatedFault>();
  #life: DaemonLife | undefined;
  #sampled_epochMs = 0;
  #written_epochMs = 0;
  #fineUntil_epochMs = 0;
  #atOddsSince_epochMs: number | undefined;
  #isBrokerUp = true;
  /** Nobody hears the sensors: their power is out. */
  sensorsHavePower = true;
  leaps = 0;

  constructor(options: HouseholdOptions) {
    const { config, startAt_epochMs, seed, logger } = options;
    this.#options = options;
    this.#daemonRandom = createRandomSource(seed + 2);
    this.#sampled_epochMs = startAt_epochMs - sensorEvery_ms;
    this.clock = new LeapingClock(startAt_epochMs);
    this.broker = createMemoryBroker({ clock: this.clock, logger });
    this.model = siteModelFrom(config);
    const random = createRandomSource(seed + 3);
    const vessels = homeVessels.map(
      (recipe) =>
        [
          recipe.vesselId,
          fillVessel(recipe, { weighed_ratio: 1, room_degC: 20, settled: true }, random).vessel,
        ] as const,
    );
    this.physics = homePhysics(config, startAt_epochMs, Object.fromEntries(vessels));
    const lights = new Map(
      Object.entries(config.tanks).map(([tankId, tank]) => [
        tankId,
        createDosingCalendar([{ ...tank, lead_min: 0, earlyClose_min: 0, datesOff: [] }], timeZone),
      ]),
    );
    this.home = createSimulatedHome({
      site: config,
      random: createRandomSource(seed + 4),
      startAt_epochMs,
      startAt_monotonicMs: 0,
      lightsOnAt: (tankId, at_epochMs) => lights.get(tankId)?.stateAt(at_epochMs).kind === "open",
      say: (reports) => {
        if (!this.#isBrokerUp || !this.sensorsHavePower) return;
        for (const { topic, payload } of reports) this.broker.publish(topic, payload);
      },
      physics: this.physics,
      longestPart_s: 60,
      logger,
    });
    for (const topic of this.home.topics) {
      this.broker.listen(topic, ({ payload }) => {
        if (this.#isBrokerUp) this.home.receive(topic, new TextDecoder().decode(payload));
      });
    }
  }

  get now_epochMs(): number {
    return this.clock.now_epochMs();
  }

  /** The daemon; undefined while it is dead. */
  get life(): DaemonLife | undefined {
    return this.#life;
  }

  get isBrokerUp(): boolean {
    return this.#isBrokerUp;
  }

  async startDaemon(): Promise<void> {
    const { config, logger, onEvent } = this.#options;
    const { clock, broker } = this;
    this.#life = await beginLife({ config, clock, broker, logger, random: this.#daemonRandom, onEvent });
    if (!this.#isBrokerUp) this.#life.loseBroker("connection refused");
    this.beFine();
  }

  async killDaemon(): Promise<void> {
    const life = this.#life;
    this.#life = undefined;
    await life?.kill();
    this.beFine();
  }

  async stopDaemon(): Promise<void> {
    const life = this.#life;
    this.#life = undefined;
    await life?.stop();
  }

  loseBroker(reason: string): void {
    this.#isBrokerUp = false;
    this.#life?.loseBroker(reason);
    this.beFine();
  }

  findBroker(): void {
    this.#isBrokerUp = true;
    this.#life?.findBroker();
    this.home.announce();
    this.beFine();
  }

  addFault(fault: SimulatedFault): void {
    this.#faults.add(fault);
    this.home.setFaults([...this.#faults]);
    this.beFine();
  }

  endFault(fault: SimulatedFault): void {
    this.#faults.delete(fault);
    this.home.setFaults([...this.#faults]);
    this.beFine();
  }

  /** The rest is let off and the lid taken off: the gauge shows the open air. */
  openVessel(vesselId: string): void {
    const vessel = this.home.truth().vessels[vesselId];
    if (vessel === undefined) return;
    const { contents_degC } = vessel;
    this.#replaceVessel(vesselId, openVessel(contents_degC));
  }

  closeVessel(vesselId: string, vessel: VesselModel): void {
    this.#replaceVessel(vesselId, vessel);
  }

  #replaceVessel(vesselId: string, vessel: VesselModel): void {
    this.home.change((state) => ({ ...state, vessels: { ...state.vessels, [vesselId]: vessel } }));
    this.beFine();
  }

  /** For a minute from now on time goes by in seconds. */
  beFine(): void {
    this.#fineUntil_epochMs = this.now_epochMs + fineAfter_ms;
  }

  /** To the next instant at which the daemon looks, at most `until`. */
  async leap(until_epochMs: number): Promise<void> {
    const next_epochMs = Math.min(until_epochMs, this.#nextInstant(this.now_epochMs));
    while (this.#sampled_epochMs + sensorEvery_ms <= next_epochMs) {
      this.#sampled_epochMs = Math.max(this.#sampled_epochMs + sensorEvery_ms, this.now_epochMs);
      this.#bringTo(this.#sampled_epochMs);
      this.home.sample();
    }
    this.#bringTo(next_epochMs);
    this.#life?.answerDue();
    await this.clock.wakeDue();
    const store = this.#life?.store;
    await store?.settled();
    if (next_epochMs - this.#written_epochMs >= this.#options.config.store.batch_s * 1000) {
      this.#written_epochMs = next_epochMs;
      await store?.readingsWritten();
    }
    (this.broker.passed as unknown[]).length = 0;
    this.leaps += 1;
    this.#lookAtRelays();
  }

  /** While a relay does not do as it was told, or has just not, time goes by in seconds. */
  #lookAtRelays(): void {
    const valves = this.#life?.app.status()?.valves ?? [];
    const isAtOdds = valves.some(
      ({ decision, reported }) => reported !== (decision.action === "open" ? "open" : "closed"),
    );
    if (!isAtOdds) this.#atOddsSince_epochMs = undefined;
    else {
      this.#atOddsSince_epochMs ??= this.now_epochMs;
      if (this.now_epochMs - this.#atOddsSince_epochMs < longestFine_ms) this.beFine();
    }
  }

  #bringTo(at_epochMs: number): void {
    this.clock.leapTo(at_epochMs);
    this.home.advanceTo(this.clock.monotonic_ms());
  }

  #nextInstant(now_epochMs: number): number {
    if (now_epochMs < this.#fineUntil_epochMs) return now_epochMs + second_ms;
    const states = [...this.model.valves.values()].map(({ calendar }) => calendar.stateAt(now_epochMs));
    const longest_ms = states.some(({ kind }) => kind === "open") ? leap_ms.open : leap_ms.closed;
    let next_epochMs = now_epochMs + longest_ms - (now_epochMs % longest_ms);
    for (const state of states) {
      const edge_epochMs = state.kind === "open" ? state.closes_epochMs : (state.opens_epochMs ?? Infinity);
      const from_epochMs = edge_epochMs - fineBefore_ms;
      if (from_epochMs > next_epochMs) continue;
      if (now_epochMs < from_epochMs) next_epochMs = Math.min(next_epochMs, from_epochMs);
      else this.#fineUntil_epochMs = edge_epochMs + fineAfterEdge_ms;
    }
    return now_epochMs < this.#fineUntil_epochMs ? now_epochMs + second_ms : next_epochMs;
  }
}
