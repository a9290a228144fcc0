import { listenForAcknowledgements } from "../../daemon/alarms/remote-acknowledgement.js";
import { alarmSnapshotName } from "../../daemon/alarms/site-alarms.js";
import { chargesSnapshotName } from "../../daemon/charge-log/kept-charges.js";
import { parseConfig } from "../../daemon/config/load-config.js";
import { emptySnapshot, readSnapshot, type ControlSnapshot } from "../../daemon/control-snapshot.js";
import { createControlCycle, type ControlCycle } from "../../daemon/control-cycle.js";
import type { SocketReply } from "../../daemon/control-socket/control-socket.js";
import { createAlarmCommands } from "../../daemon/control-socket/alarm-commands.js";
import { createLeakTestCommands } from "../../daemon/control-socket/leak-test-commands.js";
import { createHoldCommands } from "../../daemon/control-socket/hold-commands.js";
import { createInspectionCommands } from "../../daemon/control-socket/inspection-commands.js";
import { createSiteCommands, type SiteCommands } from "../../daemon/control-socket/site-commands.js";
import { createJournal, type Journal } from "../../daemon/journal/journal.js";
import { commissioningFingerprint } from "../../daemon/kept-state.js";
import type { DeadMan } from "../../daemon/ports/dead-man.js";
import type { SiteEvent, SiteStore } from "../../daemon/ports/site-store.js";
import { listenForRemoteOverrides } from "../../daemon/remote-override.js";
import { siteModelFrom, type SiteModel } from "../../daemon/site-model.js";
import { supplySnapshotName, type SupplyRunner } from "../../daemon/supply/supply-tracker.js";
import { learningSnapshotName } from "../../daemon/tank/tank-learner.js";
import { tankSnapshotName } from "../../daemon/tank/tank-estimate.js";
import type { Synchronisation } from "../../lib/schedule/clock-plausibility.js";
import { CollectingLogger } from "./collecting-logger.js";
import { FakeClock } from "./fake-clock.js";
import { createMemoryDeadMan, type MemoryDeadMan } from "./memory-dead-man.js";
import { createMemoryBroker, type MemoryBroker, type MemoryMessageBus } from "./memory-message-bus.js";
import { MemoryDisk, MemorySiteStore } from "./memory-site-store.js";
import { createSimpleRelay, type SimpleRelay } from "./simple-relay.js";

/** An invented site: one vessel, one tank with two guards, one valve. 10:00 to 19:00 less 30 min, opened an hour earlier. */
export const benchYaml = `
site: { id: mill-pond, timeZone: Europe/Berlin }
broker: { addresses: ["mqtt://127.0.0.1:1883"] }
sensors:
  loach-ph: { measures: pH, topic: loach/ph, maximumAge_s: 120, stuckAfter_min: 30 }
  loach-temperature: { measures: temperature, unit: degC, topic: loach/temperature, maximumAge_s: 300 }
vessels:
  cellar: { kind: generator, volume_L: 2, workingPressureGauge_bar: 3 }
tanks:
  loach:
    volume_L: 120
    kh_dKH: 4
    phSensor: loach-ph
    temperatureSensor: loach-temperature
    photoperiods: [{ lightsOn: "10:00", lightsOff: "19:00" }]
    limits: { co2Close_mgPerL: 60, pHFloor: 6.0, temperatureHigh_degC: 30 }
valves:
  outlet:
    vessel: cellar
    feeds: [{ tank: loach, share: 1 }]
    guardSensors: [loach-ph]
    relay:
      commandTopic: relay/1/command
      stateTopic: relay/1/state
      payloadOn: "ON"
      payloadOff: "OFF"
      stateOn: "ON"
      stateOff: "OFF"
      autoOff_s: 120
      powerOnState: off
`;

export function modelOf(yaml: string): SiteModel {
  const parsed = parseConfig(yaml, "/bench/site.yaml");
  if (parsed.kind === "invalid") {
    throw new Error(parsed.faults.map(({ keyPath, what }) => `${keyPath}: ${what}`).join("\n"));
  }
  return siteModelFrom(parsed.config);
}

export function commissionedAll(model: SiteModel): ControlSnapshot["commissioned"] {
  return Object.fromEntries([...model.relays].map(([id, relay]) => [id, commissioningFingerprint(relay)]));
}

export interface BenchOptions {
  readonly yaml?: string;
  readonly startAt: string;
  readonly snapshot?: Partial<ControlSnapshot>;
  readonly synchronisation?: Synchronisation;
  /** Takes the place of the store in memory, which it may use. */
  readonly storeAround?: (store: MemorySiteStore) => SiteStore;
  /** Time between two passes in `stretch`, for tests over days; 1 where nothing is said. */
  readonly step_s?: number;
  /** Where what is left is estimated; a workshop of the bench's own where nothing is said. */
  readonly supplyRunner?: SupplyRunner;
}

/** One life of the daemon's control path on a site that outlives it. */
export interface BenchRun {
  readonly bus: MemoryMessageBus;
  readonly deadMan: MemoryDeadMan;
  readonly store: MemorySiteStore;
  readonly journal: Journal;
  readonly cycle: ControlCycle;
  readonly commands: SiteCommands;
  readonly events: readonly SiteEvent[];
}

/** The control path with everything real but clock, network and disk, and a site with relays and sensors around it. */
export class ControlBench {
  readonly clock: FakeClock;
  readonly broker: MemoryBroker;
  readonly logger = new CollectingLogger();
  readonly disk = new MemoryDisk();
  readonly relays = new Map<string, SimpleRelay>();
  /** What each sensor says at every tick; a missing one is silent. */
  readonly sensors = new Map<string, () => string | undefined>();
  readonly options: BenchOptions;
  model: SiteModel;
  synchronisation: Synchronisation;
  #run: BenchRun | undefined;

  constructor(options: BenchOptions) {
    this.options = options;
    this.model = modelOf(options.yaml ?? benchYaml);
    this.synchronisation = options.synchronisation ?? "synchronised";
    this.clock = new FakeClock(Date.parse(options.startAt));
    this.broker = createMemoryBroker({ clock: this.clock, logger: this.logger });
    for (const [relayId, relay] of this.model.relays) {
      this.relays.set(
        relayId,
        createSimpleRelay({
          broker: this.broker,
          clock: this.clock,
          commandTopic: relay.commandTopic,
          stateTopic: relay.stateTopic,
          ...(relay.statusQuery === undefined ? {} : { queryTopic: relay.statusQuery.topic }),
          autoOff_s: relay.rules.autoOff_s,
        }),
      );
    }
    let beat = 0;
    // A live probe is never quite still, or it would count as stuck.
    this.sensors.set("loach/ph", () => (6.8 + 0.001 * (beat++ % 7)).toFixed(3));
    this.sensors.set("loach/temperature", () => "24.5");
  }

  get run(): BenchRun {
    if (this.#run === undefined) throw new Error("the bench has not been started");
    return this.#run;
  }

  get relay(): SimpleRelay {
    return this.relays.get("outlet")!;
  }

  get status() {
    return this.run.cycle.status()!;
  }

  get decision() {
    return this.status.valves[0]!.decision;
  }

  /** Begins a life of the daemon: the first one from the options' snapshot, each later one from what the disk holds. */
  async start(): Promise<void> {
    const { clock, broker, logger } = this;
    const store = new MemorySiteStore(() => clock.now_epochMs(), this.disk);
    await store.start();
    const stored = await store.loadSnapshot("control");
    const snapshot =
      stored === undefined
        ? { ...emptySnapshot, commissioned: commissionedAll(this.model), ...this.options.snapshot }
        : readSnapshot(stored);
    // A restart goes on from the disk only, so what the bench begins with is put there.
    if (stored === undefined) await store.saveSnapshot("control", snapshot);
    const bus = broker.createBus({ logger });
    const deadMan = createMemoryDeadMan({
      broker,
      clock,
      relays: [...this.model.relays].map(([relayId, { commandTopic, payloadOff }]) => ({
        relayId,
        commandTopic,
        payloadOff,
      })),
      // The dead-man's patience goes with the passes.
      longestBeatGap_ms: 2000 * (this.options.step_s ?? 1),
    });
    const journal = createJournal(
      {
        store,
        clock,
        machineClock: clock,
        logger,
        clockVerdict: () => this.#run?.cycle.status()?.clock,
        presentPh: (tankId) => this.#run?.cycle.status()?.tanks.find((tank) => tank.tankId === tankId)?.pH,
      },
      () => this.model,
    );
    await journal.load();
    const cycle = createControlCycle(
      {
        clock,
        bus,
        deadMan: deadMan satisfies DeadMan,
        store: this.options.storeAround?.(store) ?? store,
        journal,
        logger,
        synchronisation: () => this.synchronisation,
        ...(this.options.supplyRunner === undefined ? {} : { supplyRunner: this.options.supplyRunner }),
      },
      this.model,
      snapshot,
      await store.loadSnapshot(alarmSnapshotName),
      await store.loadSnapshot(tankSnapshotName),
      await store.loadSnapshot(learningSnapshotName),
      await store.loadSnapshot(supplySnapshotName),
      await store.loadSnapshot(chargesSnapshotName),
    );
    const events: SiteEvent[] = [];
    cycle.onEvent((event) => events.push(event));
    const commands = createSiteCommands({ clock }, cycle, () => cycle.model());
    listenForRemoteOverrides({ bus, clock, logger }, this.model, commands);
    listenForAcknowledgements({ bus, clock, logger }, this.model.baseTopic, cycle.alarms);
    this.#run = { bus, deadMan, store, journal, cycle, commands, events };
    await bus.start();
    await deadMan.start();
  }

  /** The daemon is killed: its connections break, and the broker publishes the wills. */
  async kill(): Promise<void> {
    const { bus, deadMan, store } = this.run;
    deadMan.kill();
    bus.dropConnection("killed");
    await store.stop();
  }

  replaceModel(yaml: string): void {
    this.model = modelOf(yaml);
    this.run.cycle.replaceModel(this.model);
  }

  /** Sensors speak, the control path ticks, promises settle; then a second goes by, or the options' step. */
  async second(): Promise<void> {
    for (const [topic, say] of this.sensors) {
      const payload = say();
      if (payload !== undefined) this.broker.publish(topic, payload);
    }
    this.run.cycle.tick();
    await this.clock.advance(1000 * (this.options.step_s ?? 1));
  }

  /** Ticks by the options' step until the civil time; forgets what went over the broker. */
  async stretch(civilTime: string, check?: () => void): Promise<void> {
    while (this.clock.now_epochMs() < Date.parse(civilTime)) {
      await this.second();
      check?.();
      (this.broker.passed as unknown[]).length = 0;
      this.disk.readings.splice(0, this.disk.readings.length - 1);
    }
  }

  /** Ticks each second; `check` looks after each tick. */
  async seconds(count: number, check?: () => void): Promise<void> {
    for (let i = 0; i < count; i += 1) {
      await this.second();
      check?.();
    }
  }

  /** Ticks until the civil time, which must lie ahead. */
  async until(civilTime: string, check?: () => void): Promise<void> {
    await this.seconds(Math.round((Date.parse(civilTime) - this.clock.now_epochMs()) / 1000), check);
  }

  /** One command at the daemon's own socket, answered line by line from `answers`. Returns the last reply. */
  async say(request: unknown, answers: readonly string[] = []): Promise<SocketReply> {
    return (await this.sayAll(request, answers)).at(-1)!;
  }

  /** The same, with every reply. */
  async sayAll(request: unknown, answers: readonly string[] = []): Promise<readonly SocketReply[]> {
    const replies: SocketReply[] = [];
    const lines = [...answers];
    const { commands, cycle, journal } = this.run;
    const holds = createHoldCommands(
      { clock: this.clock, journal },
      cycle,
      () => this.model,
      createInspectionCommands(
        { clock: this.clock, service: () => ({ kind: "none" }) },
        cycle,
        () => this.model,
        commands.handle,
      ),
    );
    const leakTests = createLeakTestCommands(
      cycle.leakTests,
      {
        now_epochMs: () => this.clock.now_epochMs(),
        model: () => this.model,
        enter: (content) => this.run.journal.enter(content, "local"),
      },
      holds,
    );
    const handle = createAlarmCommands(cycle.alarms, () => this.model.timeZone, leakTests);
    await handle(request as { readonly command: string }, {
      reply: (line) => replies.push(line),
      nextLine: () => Promise.resolve(lines.shift()),
      isGone: () => false,
    });
    return replies;
  }

  /** The raised alarms, by their ids. */
  alarms(): readonly string[] {
    return this.status.alarms.filter((alarm) => alarm.raised).map((alarm) => alarm.condition.alarmId);
  }

  /** The commands that went to a relay's topic, from an instant on; an OFF over both connections is one command. */
  commandsTo(relayId: string, from_monotonicMs = 0): readonly string[] {
    const topic = this.model.relays.get(relayId)!.commandTopic;
    return this.broker.passed
      .filter((message) => message.topic === topic && message.at_monotonicMs >= from_monotonicMs)
      .filter((message, index, all) => {
        const before = all[index - 1];
        return !(
          message.payload === "OFF" &&
          before?.payload === "OFF" &&
          before.at_monotonicMs === message.at_monotonicMs
        );
      })
      .map((message) => message.payload);
  }
}
