import { randomUUID } from "node:crypto";
import { dirname, join } from "node:path";
import type { ServiceView } from "../lib/inspection/service-finding.js";
import type { Synchronisation } from "../lib/schedule/clock-plausibility.js";
import type { SiteConfig } from "./config/config-schema.js";
import type { AlertSecrets } from "./config/resolve-alert-secrets.js";
import { refusedReloadConditions } from "./reload-alarm.js";
import { createAlertDelivery, type AlertDelivery } from "./alerts/alert-delivery.js";
import { alertRoutesFrom } from "./alerts/alert-routes.js";
import { createChannels } from "./alerts/create-channels.js";
import { createDigestWatch } from "./digest/digest-watch.js";
import { createAlertCommands } from "./control-socket/alert-commands.js";
import { chargesSnapshotName } from "./charge-log/kept-charges.js";
import { alarmSnapshotName } from "./alarms/site-alarms.js";
import { listenForAcknowledgements } from "./alarms/remote-acknowledgement.js";
import { createAlarmCommands } from "./control-socket/alarm-commands.js";
import { createBackupCommands } from "./control-socket/backup-commands.js";
import { createBranchCommands } from "./control-socket/branch-commands.js";
import { createControlSocket } from "./control-socket/control-socket.js";
import { createFlowCommands } from "./control-socket/flow-commands.js";
import { createHoldCommands } from "./control-socket/hold-commands.js";
import { createInspectionCommands } from "./control-socket/inspection-commands.js";
import { createJournalCommands } from "./control-socket/journal-commands.js";
import { createLeakTestCommands } from "./control-socket/leak-test-commands.js";
import { createUpkeepCommands } from "./control-socket/upkeep-commands.js";
import { createUpkeepWatch, type UpkeepWatch } from "./upkeep/upkeep-watch.js";
import { createSiteCommands, type SiteCommands } from "./control-socket/site-commands.js";
import { createControlCycle, type ControlCycle } from "./control-cycle.js";
import { restoreSnapshot } from "./control-snapshot.js";
import { createJournal, type EntryOutcome, type Journal } from "./journal/journal.js";
import { createHubFeed } from "./hub/hub-feed.js";
import { hubSnapshotName, readHubMemory } from "./hub/hub-memory.js";
import { furtherDocuments, homiePlace } from "./hub/hub-plan.js";
import { homieWill } from "./hub/homie-topics.js";
import { listenForEntries } from "./journal/remote-journal.js";
import type { BrokerAccess, BrokerWill } from "./mqtt/broker-connection-options.js";
import { createMetricsServer } from "./metrics/metrics-server.js";
import { createMqttMessageBus } from "./mqtt/mqtt-message-bus.js";
import { createProcessDeadMan } from "./mqtt/process-dead-man.js";
import { commissioningFingerprint } from "./kept-state.js";
import type { Clock } from "./ports/clock.js";
import type { DeadMan, GuardedRelay } from "./ports/dead-man.js";
import type { Logger } from "./ports/logger.js";
import type { MessageBus } from "./ports/message-bus.js";
import type { SiteEvent, SiteStore, StoreHealth } from "./ports/site-store.js";
import { createLearningThread } from "./system/learning-thread.js";
import { createPageThread } from "./system/page-thread.js";
import { packageVersion } from "./system/package-version.js";
import { createSupplyThread } from "./system/supply-thread.js";
import { supplySnapshotName, type SupplyRunner } from "./supply/supply-tracker.js";
import { learningSnapshotName, type LearningRunner } from "./tank/tank-learner.js";
import { isLoopbackAddress } from "./page/allowed-host.js";
import { createPage } from "./page/page.js";
import { createPublications, daemonWill } from "./publications.js";
import { listenForRemoteOverrides } from "./remote-override.js";
import { createNightlyBackup } from "./scheduler/nightly-backup.js";
import { scheduleHousekeeping } from "./scheduler/housekeeping.js";
import { siteModelFrom } from "./site-model.js";
import type { SiteStatus } from "./site-status.js";
import { SqliteSiteStore } from "./store/sqlite-site-store.js";
import { tankSnapshotName } from "./tank/tank-estimate.js";

export interface AppOptions {
  readonly config: SiteConfig;
  readonly access: BrokerAccess;
  /** Time of the site; the demo's runs faster. */
  readonly clock: Clock;
  /** Time of this machine: disk, network and dead-man live in it. */
  readonly machineClock: Clock;
  readonly logger: Logger;
  readonly random: () => number;
  readonly synchronisation: () => Synchronisation;
  /** The demo's relays are simulated: there is no plug to pull. */
  readonly relaysCountAsCommissioned: boolean;
  readonly onEvent?: (event: SiteEvent) => void;
  /** How a service manager watches over this process; left out, none does. */
  readonly service?: () => ServiceView;
  readonly alertSecrets?: AlertSecrets;
  /** Another port for the page than the config's; 0: any that is free. */
  readonly pagePort?: number;
  /** What the page asks for; left out, it is for this machine alone. */
  readonly pageToken?: string;
  /** Other ways to the world than those of a home; left out, those of a home. */
  readonly adapters?: Partial<AppAdapters>;
}

/** What a program brings that runs the daemon through months in minutes, faster than a network and threads can follow. */
export interface AppAdapters {
  readonly createBus: (options: { readonly clientId: string; readonly will?: BrokerWill }) => MessageBus;
  readonly createDeadMan: (relays: readonly GuardedRelay[]) => DeadMan;
  readonly store: SiteStore;
  readonly learningRunner: LearningRunner;
  readonly supplyRunner: SupplyRunner;
}

export interface App {
  start(): Promise<void>;
  /** Closes every valve, waits for the relays to confirm, then ends everything in reverse order. Idempotent. */
  stop(): Promise<void>;
  status(): SiteStatus | undefined;
  /** Where a browser finds the page; undefined where there is none, or its port is taken. */
  pageAddress(): string | undefined;
  /** One entry of the journal, as a person at this machine makes it. Only between start and stop. */
  enter(content: unknown): Promise<EntryOutcome>;
  /** Takes another config between two ticks; returns why it cannot, or undefined. */
  reload(next: SiteConfig, alertSecrets?: AlertSecrets): string | undefined;
  /** Raises an alarm until the next reload that is taken: the config on disk is not the one in use. */
  reloadRefused(reason: string): void;
}

const tick_ms = 1000;
/** While closing, relays are asked more often. */
const closingTick_ms = 50;
/** Machine time that the relays get to confirm that they are off. */
const closeWithin_ms = 6000;

/** The composition root: the only place that names concrete adapters. */
export function createApp(options: AppOptions): App {
  const { config, clock, machineClock, logger, adapters = {} } = options;
  let model = siteModelFrom(config);
  let appliedConfig = config;
  const createBus =
    adapters.createBus ??
    ((connection: Parameters<AppAdapters["createBus"]>[0]): MessageBus =>
      createMqttMessageBus({
        ...options.access,
        ...connection,
        keepalive_s: config.broker.keepalive_s,
        clock: machineClock,
        logger,
        random: options.random,
      }));
  const bus = createBus({
    clientId: `${config.broker.clientIdPrefix}-${config.site.id}`,
    will: daemonWill(model.baseTopic),
  });
  const siteBus = withSiteTime(bus, clock);
  const guardedRelays = [...model.relays].map(([relayId, relay]) => ({
    relayId,
    commandTopic: relay.commandTopic,
    payloadOff: relay.payloadOff,
  }));
  const deadMan =
    adapters.createDeadMan?.(guardedRelays) ??
    createProcessDeadMan({
      access: options.access,
      clientIdPrefix: config.broker.clientIdPrefix,
      siteId: config.site.id,
      relays: guardedRelays,
      clock: machineClock,
      logger,
      random: options.random,
      brokerInUse: () => {
        const state = bus.state();
        return state.kind === "connected" ? state.address : undefined;
      },
    });
  const store = adapters.store ?? new SqliteSiteStore(config.store, { clock: machineClock, logger });
  const ticking = new AbortController();
  let cycle: ControlCycle | undefined;
  let alerts: AlertDelivery | undefined;
  let refusedReload: string | undefined;
  let journalInUse: Journal | undefined;
  let ticks: Promise<void> = Promise.resolve();
  let stopping: Promise<void> | undefined;
  let everConnected = false;
  let pageAddress: string | undefined;
  let publish: (status: SiteStatus) => void = () => undefined;
  const closers: (() => Promise<void> | void)[] = [];

  return {
    start,
    stop: () => (stopping ??= stop()),
    status: () => cycle?.status(),
    pageAddress: () => pageAddress,
    enter: (content) =>
      journalInUse?.enter(content, "local") ??
      Promise.resolve({ kind: "not kept", reason: "the daemon has not started" }),
    reload,
    reloadRefused: (reason) => {
      refusedReload = reason;
    },
  };

  async function start(): Promise<void> {
    await store.start();
    closers.push(() => store.stop());
    const health = store.health();
    const restored = restoreSnapshot(await store.loadSnapshot("control"), damageOf(health), {
      valveIds: [...model.valves.keys()],
      now_epochMs: clock.now_epochMs(),
      lostTheLatest: health.kind === "ok" && health.lostTheLatest === true,
    });
    const commissioned = options.relaysCountAsCommissioned
      ? Object.fromEntries([...model.relays].map(([id, relay]) => [id, commissioningFingerprint(relay)]))
      : restored.commissioned;
    const fits = adapters.learningRunner ?? createLearningThread({ logger });
    closers.push(() => fits.stop());
    const supplyThread = adapters.supplyRunner ?? createSupplyThread({ logger });
    closers.push(() => supplyThread.stop());
    const journal = createJournal(
      {
        store,
        clock,
        machineClock,
        logger,
        clockVerdict: () => cycle?.status()?.clock,
        presentPh: (tankId) => cycle?.status()?.tanks.find((tank) => tank.tankId === tankId)?.pH,
      },
      () => model,
    );
    await journal.load();
    journalInUse = journal;
    const upkeep = createUpkeepWatch({
      clock,
      journal,
      logger,
      model: () => model,
      holds: () => cycle?.snapshot().holds ?? [],
    });
    const hasPlausibleClock = (): boolean => cycle?.status()?.clock.kind === "plausible";
    const backup = createNightlyBackup(
      {
        store,
        clock: machineClock,
        logger,
        isClockPlausible: hasPlausibleClock,
      },
      {
        ...config.store.backup,
        folder: config.store.backup.folder ?? join(dirname(config.store.file), "backup"),
        timeZone: config.site.timeZone,
      },
    );
    const created = createControlCycle(
      {
        clock,
        bus: siteBus,
        deadMan,
        store,
        journal,
        logger,
        synchronisation: options.synchronisation,
        learningRunner: fits,
        supplyRunner: supplyThread,
        furtherConditions: () => [
          ...(alerts?.conditions() ?? []),
          ...upkeep.conditions(),
          ...refusedReloadConditions(refusedReload),
          ...backup.conditions(),
        ],
      },
      model,
      { ...restored, commissioned },
      await store.loadSnapshot(alarmSnapshotName),
      await store.loadSnapshot(tankSnapshotName),
      await store.loadSnapshot(learningSnapshotName),
      await store.loadSnapshot(supplySnapshotName),
      await store.loadSnapshot(chargesSnapshotName),
    );
    cycle = created;
    if (options.onEvent !== undefined) created.onEvent(options.onEvent);
    const commands = createSiteCommands({ clock }, created, () => created.model());
    const publications = createPublications({ bus: siteBus, clock }, () => model, upkeep.items);
    listenForRemoteOverrides({ bus: siteBus, clock, logger }, model, commands);
    const timeZone = (): string => model.timeZone;
    listenForAcknowledgements({ bus: siteBus, clock: machineClock, logger }, model.baseTopic, created.alarms);
    listenForEntries(
      { bus: siteBus, clock: machineClock, logger },
      { baseTopic: model.baseTopic, timeZone },
      journal,
    );
    bus.onStateChange((state) => {
      // That there is none, the bus itself says.
      if (state.kind !== "connected") return;
      logger.info({ address: state.address }, "broker connected");
      everConnected = true;
      void publications.publishDaemonState("ready");
    });
    const alerting = createAlertDelivery(
      { clock, machineClock, store, logger, random: options.random, newKey: randomUUID },
      {
        routes: alertRoutesFrom(config.alerts),
        channels: channelsOf(config, options.alertSecrets),
        timeZone,
      },
      () => created.alarms.list(),
    );
    alerts = alerting;
    const digest = createDigestWatch(
      {
        clock,
        machineClock,
        store,
        logger,
        status: () => created.status(),
        model: () => created.model(),
        upkeep: upkeep.items,
        send: (messages, snapshot) => alerting.send(messages, snapshot),
      },
      () => appliedConfig.alerts.digest,
    );
    const socket = createControlSocket({
      path: config.control.clientSocket,
      logger,
      handle: createJournalCommands(
        journal,
        timeZone,
        createAlarmCommands(
          created.alarms,
          timeZone,
          createAlertCommands(
            alerting,
            digest,
            createLeakTestCommands(
              created.leakTests,
              {
                now_epochMs: () => clock.now_epochMs(),
                model: () => model,
                enter: (content) => journal.enter(content, "local"),
              },
              createBranchCommands(
                { model: () => created.model(), followed: (vesselId) => created.followedSupply(vesselId) },
                createFlowCommands(
                  { model: () => created.model(), dynamics: (tankId) => created.tankDynamics(tankId) },
                  createHoldCommands(
                    { clock, journal },
                    created,
                    () => created.model(),
                    createUpkeepCommands(
                      upkeep.items,
                      timeZone,
                      createBackupCommands(
                        backup,
                        createInspectionCommands(
                          { clock, service: options.service ?? ((): ServiceView => ({ kind: "none" })) },
                          created,
                          () => created.model(),
                          commands.handle,
                        ),
                      ),
                    ),
                  ),
                ),
              ),
            ),
          ),
        ),
      ),
    });
    await socket.start();
    closers.push(() => socket.stop());
    await bus.start();
    closers.push(async () => {
      await publications.publishDaemonState("stopped");
      await bus.stop();
    });
    await alerting.start();
    closers.push(() => alerting.stop());
    await digest.start();
    closers.push(() => digest.stop());
    await deadMan.start();
    closers.push(() => deadMan.stop(created.isClosed() ? "confirmed off" : "not confirmed off"));
    if (config.metrics !== undefined) {
      const metrics = createMetricsServer(
        { clock, logger },
        { status: () => created.status(), model: () => created.model() },
        config.metrics.port,
      );
      await metrics.start();
      closers.push(() => metrics.stop());
    }
    await startPage(created, commands, journal, upkeep.items);
    closers.push(
      scheduleHousekeeping({ store, clock: machineClock, logger, isClockPlausible: hasPlausibleClock }),
    );
    await backup.start();
    closers.push(() => backup.stop());
    const publishToHub = await startHub(created, commands, journal);
    publish = (status) => {
      publications.publish(status);
      publishToHub(status);
    };
    ticks = runTicks(created);
    void store.recordEvent({
      at_epochMs: clock.now_epochMs(),
      area: "daemon",
      subject: "",
      what: "started",
      reason: "",
      details: {},
    });
  }

  async function startPage(
    running: ControlCycle,
    commands: SiteCommands,
    journal: Journal,
    upkeep: UpkeepWatch["items"],
  ): Promise<void> {
    if (config.page === undefined) return;
    const { address, port, names } = config.page;
    const token = options.pageToken;
    // The check of the config says so in words; nothing else may open it either.
    if (token === undefined && !isLoopbackAddress(address)) return;
    const page = createPage(
      { clock: machineClock, logger, runner: createPageThread({ logger }) },
      {
        version: packageVersion(),
        model: () => running.model(),
        status: () => running.status(),
        upkeep,
        now_epochMs: () => clock.now_epochMs(),
        store,
        journal,
        followedSupply: (vesselId) => running.followedSupply(vesselId),
        tankNights: (tankId) => running.tankNights(tankId),
        charges: () => running.charges(),
        alarms: running.alarms,
        commands,
        cycle: running,
        planning: () => appliedConfig,
      },
      { address, port: options.pagePort ?? port, names, token },
    );
    if (page === undefined) return;
    pageAddress = await page.start();
    if (pageAddress !== undefined) logger.info({ address: pageAddress }, "the page is told");
    closers.push(() => page.stop());
  }

  /** On a connection of its own: what a hub does, or a broker forbids it, moves no valve. */
  async function startHub(
    running: ControlCycle,
    commands: SiteCommands,
    journal: Journal,
  ): Promise<(status: SiteStatus) => void> {
    const homie = homiePlace(config.hub, config.site.id);
    const stored = await store.loadSnapshot(hubSnapshotName);
    // What an earlier run left with the broker is cleared, even by a config without a hub.
    if (homie === undefined && readHubMemory(stored).retained.length === 0) return () => undefined;
    const hubBus = createBus({
      clientId: `${config.broker.clientIdPrefix}-${config.site.id}.hub`,
      ...(homie === undefined ? {} : { will: homieWill(homie) }),
    });
    const feed = createHubFeed(
      {
        bus: hubBus,
        clock,
        machineClock,
        logger,
        store,
        commands,
        journal,
        alarms: running.alarms,
        status: () => running.status(),
      },
      {
        homie,
        online: config.hub.online,
        further: (tree) => furtherDocuments(config, homie, tree),
      },
      () => running.model(),
      stored,
    );
    await hubBus.start();
    closers.push(async () => {
      await feed.stop();
      await hubBus.stop();
    });
    return (status) => feed.publish(status);
  }

  async function runTicks(running: ControlCycle): Promise<void> {
    let due_monotonicMs = clock.monotonic_ms();
    while (!ticking.signal.aborted) {
      running.tick();
      publishSafely(running);
      due_monotonicMs = Math.max(due_monotonicMs + tick_ms, clock.monotonic_ms());
      await clock.sleep(Math.max(1, due_monotonicMs - clock.monotonic_ms()), ticking.signal);
    }
  }

  function publishSafely(running: ControlCycle): void {
    const status = running.status();
    if (status === undefined) return;
    try {
      publish(status);
    } catch (error) {
      logger.error(
        { reason: error instanceof Error ? error.message : String(error) },
        "a publication failed",
      );
    }
  }

  async function stop(): Promise<void> {
    ticking.abort();
    await ticks;
    const running = cycle;
    running?.saveTanks();
    if (running !== undefined && everConnected) {
      running.beginClosing("the daemon ends");
      const patience_monotonicMs = machineClock.monotonic_ms() + closeWithin_ms;
      do {
        running.tick();
        publishSafely(running);
        await machineClock.sleep(closingTick_ms);
      } while (!running.isClosed() && machineClock.monotonic_ms() < patience_monotonicMs);
      running.tick();
      publishSafely(running);
      // What flowed until the valves closed counts for what is left.
      running.saveTanks();
      if (!running.isClosed()) {
        logger.error({}, "not every relay has confirmed that it is off; the broker is left to close them");
      }
      void store.recordEvent({
        at_epochMs: clock.now_epochMs(),
        area: "daemon",
        subject: "",
        what: "stopped",
        reason: running.isClosed() ? "all valves confirmed closed" : "not every relay confirmed",
        details: {},
      });
    }
    for (const close of closers.reverse()) {
      await Promise.resolve(close()).catch((error: unknown) => {
        logger.error({ reason: error instanceof Error ? error.message : String(error) }, "an ending failed");
      });
    }
  }

  function channelsOf(
    { alerts: written, site: { id } }: SiteConfig,
    secrets: AlertSecrets = { secrets: new Map(), authorities: new Map() },
  ): ReturnType<typeof createChannels> {
    return createChannels(written, secrets, bus, { id, timeZone: () => model.timeZone });
  }

  function reload(next: SiteConfig, alertSecrets?: AlertSecrets): string | undefined {
    const fixed = needsRestart(appliedConfig, next);
    if (fixed !== undefined)
      return `${fixed} changed; that takes effect with a restart only, so nothing was changed`;
    try {
      // Everything that can fail comes first: a reload takes effect whole or not at all.
      model = siteModelFrom(next);
    } catch (error) {
      return error instanceof Error ? error.message : String(error);
    }
    appliedConfig = next;
    refusedReload = undefined;
    cycle?.replaceModel(model);
    // A message that waits stays on its way; only its channel may be another from now on.
    alerts?.replace(alertRoutesFrom(next.alerts), channelsOf(next, alertSecrets));
    return undefined;
  }
}

function damageOf(health: StoreHealth): string | undefined {
  return health.kind === "ok" ? health.note : undefined;
}

/** Arrival is told in the site's time, which the demo runs faster than the machine's. */
function withSiteTime(bus: MessageBus, clock: Clock): MessageBus {
  return {
    ...bus,
    subscribe: (filter, qos, listener, options) => {
      bus.subscribe(
        filter,
        qos,
        (message) => {
          listener({ ...message, at_epochMs: clock.now_epochMs(), at_monotonicMs: clock.monotonic_ms() });
        },
        options,
      );
    },
  };
}

function needsRestart(before: SiteConfig, next: SiteConfig): string | undefined {
  const parts = (config: SiteConfig): Readonly<Record<string, unknown>> => ({
    site: config.site,
    broker: config.broker,
    store: config.store,
    control: config.control,
    hub: config.hub,
    metrics: config.metrics,
    page: config.page,
    "a relay": Object.entries(config.valves).map(([id, { relay, seriesRelay, airPump }]) => [
      id,
      relay,
      seriesRelay,
      airPump,
    ]),
  });
  const old = parts(before);
  return Object.entries(parts(next)).find(
    ([key, value]) => JSON.stringify(old[key]) !== JSON.stringify(value),
  )?.[0];
}
