import type { AlarmCondition } from "../lib/alarm/alarm-condition.js";
import {
  isConfirmedClosed,
  relaysOf,
  reportedState,
  stepValve,
  type RelayCommand,
} from "../lib/control/control-step.js";
import type { StandingCause } from "../lib/control/interlock.js";
import type { TripSubject } from "../lib/control/trip.js";
import type { JournalView } from "../lib/journal/journal-entry.js";
import type { Synchronisation } from "../lib/schedule/clock-plausibility.js";
import { conditionsFor, passAlarmId, passFailedCondition } from "./alarm-conditions.js";
import { createSiteAlarms, type SiteAlarms } from "./alarms/site-alarms.js";
import { createBelievedClock } from "./believed-clock.js";
import type { ControlSnapshot } from "./control-snapshot.js";
import { createChargeLog } from "./charge-log/charge-log.js";
import { leakTestHold } from "./leak-tests/leak-test.js";
import { createLeakTestKeeper, type LeakTestKeeper } from "./leak-tests/leak-test-keeper.js";
import { createFaultLog } from "./fault-log.js";
import { createKeptState } from "./kept-state.js";
import { createModelInUse } from "./model-in-use.js";
import type { Clock } from "./ports/clock.js";
import type { DeadMan } from "./ports/dead-man.js";
import type { Logger } from "./ports/logger.js";
import type { MessageBus } from "./ports/message-bus.js";
import type { SiteEvent, SiteStore } from "./ports/site-store.js";
import { createRelayLink, type RelayReport } from "./relay-link.js";
import { createRelayTrials, withUnknownRelay, type TrialGas } from "./relay-trials.js";
import { createSensorInbox } from "./sensor-inbox.js";
import { awaitedSensors, roomAir, vesselPressure } from "./vessel-surroundings.js";
import type { SiteModel } from "./site-model.js";
import { createSiteRecord } from "./site-record.js";
import type { SiteStatus, ValveStatus } from "./site-status.js";
import { createStorePatience } from "./store-patience.js";
import type { ScaledDynamics } from "../lib/tank/flow-outlook.js";
import type { FollowedCharge } from "../lib/charge-log/followed-charge.js";
import type { LearntNight, UsedLead } from "../lib/tank/tank-learning-state.js";
import { createProbeCorrections } from "./tank/probe-corrections.js";
import { withGasUse } from "./tank/gas-use.js";
import { createTankLearner, learningHere, type LearningRunner } from "./tank/tank-learner.js";
import type { FollowedSupply } from "./supply/branch-outlook.js";
import { createSupplyHere, createSupplyTracker, type SupplyRunner } from "./supply/supply-tracker.js";
import { createTankEstimator } from "./tank/tank-estimate.js";
import { createValveMemories } from "./valve-memories.js";
import { createValveSayings } from "./valve-sayings.js";
import { guardsOf, tanksOf } from "./valve-surroundings.js";

export interface ControlPorts {
  readonly clock: Clock;
  readonly bus: MessageBus;
  readonly deadMan: DeadMan;
  readonly store: SiteStore;
  readonly journal: JournalView;
  readonly logger: Logger;
  readonly synchronisation: () => Synchronisation;
  /** What else needs a person, beside the control path. */
  readonly furtherConditions?: () => readonly AlarmCondition[];
  /** Where fits are made; left out, in the caller's own thread after the pass. */
  readonly learningRunner?: LearningRunner;
  /** Where what is left in the vessels is estimated; left out, in the caller's own thread after the pass. */
  readonly supplyRunner?: SupplyRunner;
}

export interface ControlCycle {
  /** One pass: judge, decide, command, record. Throws nothing: a pass that fails closes every valve. */
  tick(): void;
  /** From now on every valve is wished closed; the ticks go on until `isClosed`. */
  beginClosing(reason: string): void;
  isClosed(): boolean;
  status(): SiteStatus | undefined;
  snapshot(): ControlSnapshot;
  /** The alarms, as of this instant. */
  readonly alarms: SiteAlarms;
  /** Vessels held closed to find a leak. */
  readonly leakTests: LeakTestKeeper;
  /** How a tank answers to gas, as its nights and mornings have taught. */
  tankDynamics(tankId: string): ScaledDynamics | { readonly because: string };
  /** What is believed of the charge in a vessel; undefined until an estimate has been made. */
  followedSupply(vesselId: string): FollowedSupply | undefined;
  /** The nights of a tank that taught something, or why they did not; oldest first. */
  tankNights(tankId: string): readonly LearntNight[];
  /** Every charge that was followed, oldest first. */
  charges(): readonly FollowedCharge[];
  replaceModel(model: SiteModel): void;
  /** The site as it is worked with: the config's, with the leads that were learnt. */
  model(): SiteModel;
  /** Brings to the disk what an estimate goes on from after a restart. */
  saveTanks(): void;
  /** Replaces what survives a restart: trips after a re-arming, an override, a commissioning. */
  replaceSnapshot(next: ControlSnapshot, event: SiteEvent): Promise<boolean>;
  acceptClock(): void;
  /**
   * Hands one relay of a valve to a person's trial: the valve is wished closed, the ticks leave this relay alone, and its
   * reports go to the listener. False where that cannot be: a trial of the valve runs already, a person works at it, or the
   * daemon ends.
   * @param gas  "shut by hand": only holds and the end of the daemon end it. "as the rules say": so does every pass in which the
   *   valve might not be open by window, wish and interlock.
   */
  beginTrial(
    valveId: string,
    relayId: string,
    gas: TrialGas,
    listener: (report: RelayReport) => void,
  ): boolean;
  isTrialRunning(valveId: string): boolean;
  /** The relay is as unknown as after a start: it is told off until it reports so. */
  endTrial(valveId: string): void;
  /** Only for the relay of a running trial: one command outside of the tick. */
  commandForTrial(relayId: string, command: "on" | "off"): void;
  /** Asks a relay for its state, where it can be asked. */
  queryRelay(relayId: string): void;
  onEvent(listener: (event: SiteEvent) => void): void;
}

const passFailed = "a control pass failed";

export function createControlCycle(
  ports: ControlPorts,
  initialModel: SiteModel,
  restored: ControlSnapshot,
  restoredAlarms?: unknown,
  restoredTanks?: unknown,
  restoredLearning?: unknown,
  restoredSupplies?: unknown,
  restoredCharges?: unknown,
): ControlCycle {
  const { clock, bus, deadMan, store, journal, logger } = ports;
  const { record, onEvent } = createSiteRecord({ logger, store });
  const kept = createKeptState({ store, record }, restored);
  const believed = createBelievedClock(ports.synchronisation, {
    latest_epochMs: store.latestKnown_epochMs(),
    accepted_epochMs: restored.acceptedClock_epochMs,
  });
  const alarms = createSiteAlarms({ clock, store, record }, restoredAlarms);
  const storeInPatience = createStorePatience();
  let closingReason: string | undefined;
  let lastStatus: SiteStatus | undefined;
  const passFaults = createFaultLog(logger, passFailed);
  const supplyFaults = createFaultLog(logger, "what is left could not be followed");
  const learningFaults = createFaultLog(logger, "what the tanks teach could not be followed");
  const memories = createValveMemories();
  const sayOnce = createValveSayings(record);
  const trials = createRelayTrials((valveId) => memories.forgetRelays(valveId));

  // Which valves fed a tank that is no longer in the config, or have a valve's relay now, is not known after a restart.
  rehomeTrips(initialModel, () => [...initialModel.valves.keys()]);

  const corrections = createProbeCorrections(journal);
  const estimator = createTankEstimator(
    {
      journal,
      corrections,
      store,
    },
    restoredTanks,
    { now_epochMs: clock.now_epochMs(), now_monotonicMs: clock.monotonic_ms() },
  );
  const learner = createTankLearner(
    {
      store,
      journal,
      runner: ports.learningRunner ?? learningHere,
      logger,
      correctionOf: (sensorId) => corrections.keyOf(sensorId),
    },
    restoredLearning,
  );
  const inUse = createModelInUse({ learner, record }, initialModel);
  const supply = createSupplyTracker(
    { store, journal, runner: ports.supplyRunner ?? createSupplyHere(), logger, record },
    restoredSupplies,
  );
  const chargeLog = createChargeLog({ store, journal, record }, restoredCharges);
  const leakTests = createLeakTestKeeper({
    now_epochMs: () => clock.now_epochMs(),
    model: () => inUse.current(),
    journal,
    closedVessel: (vesselId) => supply.closedVessel(vesselId),
    kept: { current: () => kept.current(), replace: replaceSnapshot },
  });
  let sensorsInUse = corrections.sensorsOf(inUse.current().sensors);
  const inbox = createSensorInbox({ bus, store, clock }, sensorsInUse);
  const relayLink = createRelayLink({ bus, deadMan, clock, logger }, inUse.current().relays, hearReport);
  bus.onStateChange((state) => {
    if (state.kind !== "connected") return;
    memories.forgetAllRelays();
    for (const relayId of inUse.current().relays.keys()) relayLink.query(relayId);
  });

  return {
    tick,
    beginClosing: (reason) => {
      closingReason = reason;
      trials.endAll();
    },
    isClosed: () =>
      [...inUse.current().valves.values()].every(({ rules }) =>
        isConfirmedClosed(rules, memories.of(rules.valveId)),
      ),
    // A person may have acted on an alarm since the pass.
    status: () => (lastStatus === undefined ? undefined : { ...lastStatus, alarms: alarms.list() }),
    snapshot: () => kept.current(),
    alarms,
    leakTests,
    tankDynamics: (tankId) => learner.dynamicsOf(tankId, clock.now_epochMs()),
    tankNights: (tankId) => learner.nightsOf(tankId),
    charges: () => chargeLog.charges(),
    followedSupply: (vesselId) => supply.followed(vesselId),
    saveTanks: () => {
      estimator.save();
      learner.save();
      supply.save();
      chargeLog.save();
    },
    replaceModel: (next) => {
      const fed = inUse.current().valves;
      rehomeTrips(next, ({ kind, id }) =>
        kind === "valve"
          ? [...next.valves.keys()]
          : [...fed.values()]
              .filter(({ rules }) => rules.tankIds.includes(id))
              .map(({ rules }) => rules.valveId),
      );
      inUse.replace(next);
      correctSensors();
    },
    model: () => inUse.current(),
    replaceSnapshot,
    acceptClock: () => {
      const both = { now_epochMs: clock.now_epochMs(), monotonic_ms: clock.monotonic_ms() };
      believed.accept(both);
      kept.keepAcceptedClock(both.now_epochMs);
    },
    beginTrial: (valveId, relayId, gas, listener) => {
      const model = inUse.current();
      const valve = model.valves.get(valveId);
      if (valve === undefined || kept.holdsOn(valve, model).length > 0) return false;
      return closingReason === undefined && trials.begin(valveId, relayId, gas, listener);
    },
    isTrialRunning: (valveId) => trials.relayOf(valveId) !== undefined,
    endTrial: (valveId) => trials.end(valveId),
    commandForTrial: (relayId, command) => {
      if (!trials.isTried(relayId)) return;
      relayLink.send({ relayId, command, reason: "trial of the relay" });
    },
    queryRelay: (relayId) => relayLink.query(relayId),
    onEvent,
  };

  function replaceSnapshot(next: ControlSnapshot, event: SiteEvent): Promise<boolean> {
    const isSaved = kept.replace(next);
    record(event);
    return isSaved;
  }

  function tick(): void {
    try {
      pass();
      passFaults.over();
      // Only a completed pass may keep the dead-man connections alive.
      deadMan.beat();
    } catch (error) {
      failSafe(error);
      return;
    }
    learnSafely();
    followSuppliesSafely();
  }

  /** A pressure that was read may hold a valve at the end of a charge; a fault here moves none. */
  function followSuppliesSafely(): void {
    if (lastStatus?.clock.kind !== "plausible") return;
    const { at_epochMs: now_epochMs, at_monotonicMs: now_monotonicMs, sensors, learnt } = lastStatus;
    const model = inUse.current();
    const usedLead = (tankId: string): UsedLead | undefined => learner.usedLead(tankId);
    try {
      const { overrides } = kept.current();
      supply.follow({
        now_epochMs,
        now_monotonicMs,
        model,
        sensors,
        memories: memories.all,
        overrides,
        learnt,
        usedLead,
      });
      leakTests.follow();
      const { valves } = lastStatus;
      chargeLog.follow({ now_epochMs, now_monotonicMs, model, supplies: supply.views(), valves });
      supplyFaults.over();
    } catch (error) {
      supplyFaults.note(error);
    }
  }

  /** After the beat: whatever becomes of the learning, no pass is the later for it. */
  function learnSafely(): void {
    if (lastStatus?.clock.kind !== "plausible") return;
    const { at_epochMs: now_epochMs, at_monotonicMs: now_monotonicMs, tanks, valves } = lastStatus;
    try {
      const isMinute = learner.follow({
        now_epochMs,
        now_monotonicMs,
        model: inUse.current(),
        tanks,
        valves,
        memories: memories.all,
      });
      if (isMinute && closingReason === undefined) inUse.moveLeads(now_epochMs);
      learningFaults.over();
    } catch (error) {
      learningFaults.note(error);
    }
  }

  function pass(): void {
    const now_epochMs = clock.now_epochMs();
    const now_monotonicMs = clock.monotonic_ms();
    const now = { now_epochMs, now_monotonicMs };
    const verdict = believed.judge({ now_epochMs, monotonic_ms: now_monotonicMs });
    forgetEndedAcceptance();
    kept.dropEndedOverrides(now_epochMs, verdict);
    kept.dropEndedHolds(
      now_epochMs,
      verdict,
      // A form far away does not see the hands at the vessel.
      (vesselId) => latestHere(journal, vesselId),
    );

    correctSensors();
    const model = inUse.current();
    const tanks = estimator.estimate(model, inbox, now);
    const supplies = supply.views();
    const learnt = withGasUse(learner.views(model, now_epochMs), {
      now_epochMs,
      model,
      tanks,
      supplies,
      journal,
    });
    const ends = supply.ends(model);
    const health = store.health();
    const storeForGas = storeInPatience(health, now_monotonicMs);
    const valves: ValveStatus[] = [];
    const standing: StandingCause[] = [];
    const commands: RelayCommand[] = [];
    for (const valve of model.valves.values()) {
      const { valveId } = valve.rules;
      const override = kept.overrideOf(valveId);
      const window = valve.calendar.stateAt(now_epochMs);
      const holds = kept.holdsOn(valve, model);
      // A person may work at it now: a trial would switch it on.
      if (holds.length > 0) trials.end(valveId);
      const step = stepValve(
        {
          rules: valve.rules,
          now_epochMs,
          now_monotonicMs,
          window,
          override,
          clock: verdict,
          brokerConnected: bus.state().kind === "connected",
          deadManArmed: relaysOf(valve.rules).every((relay) => deadMan.isArmed(relay.relayId)),
          store: storeForGas,
          commissioned: kept.isCommissioned(valve, model.relays),
          guards: guardsOf(valve, inbox, now),
          awaited: awaitedSensors(valve, model, inbox, now),
          tanks: tanksOf(valve, model, tanks, learnt),
          trips: kept.current().trips,
          leakTest: leakTestHold(kept.current().leakTests, valve.vesselId, {
            now_epochMs,
            timeZone: model.timeZone,
          }),
          endOfCharge: ends.find(({ vesselId }) => vesselId === valve.vesselId)?.reason,
          holds,
          vessel: vesselPressure(valve.vesselId, model, inbox, now, journal),
          rooms: roomAir(valve, inbox, now),
          heldClosed:
            closingReason ??
            (trials.relayOf(valveId) === undefined ? undefined : "the relay is being tried by a person"),
        },
        memories.of(valveId),
      );
      const mayFlow =
        window.kind === "open" && step.decision.wish.action === "open" && step.decision.blocks.length === 0;
      // The step has told the relay off already: what it says goes out with this pass.
      if (!mayFlow) trials.end(valveId, "as the rules say");
      const tried = trials.relayOf(valveId);
      memories.keep(valveId, tried === undefined ? step.memory : withUnknownRelay(step.memory, tried));
      commands.push(...step.commands.filter(({ relayId }) => relayId !== tried));
      standing.push(...step.standing);
      kept.latchTrips(step.trips, now_epochMs);
      const reported = reportedState(valve.rules, step.memory);
      sayOnce({ valveId, decision: step.decision, reported }, now_epochMs);
      valves.push({
        valveId,
        decision: step.decision,
        reported,
        window,
        openSince_monotonicMs: step.memory.openSince_monotonicMs,
        override,
        holds,
      });
    }
    const status = {
      at_epochMs: now_epochMs,
      at_monotonicMs: now_monotonicMs,
      clock: verdict,
      valves,
      tanks,
      learnt,
      supplies,
      leakTests: leakTests.views(),
      ends,
      endedCharges: chargeLog.ended(),
      sensors: inbox.views(now),
      trips: kept.current().trips,
      holds: kept.current().holds,
      standing,
    };
    const held = [
      ...conditionsFor(status, { bus: bus.state(), store: health, model, memories: memories.all, journal }),
      ...(ports.furtherConditions?.() ?? []),
    ];
    lastStatus = { ...status, alarms: alarms.follow(held) };
    // Only now: a pass that fails half-way has switched nothing on.
    commands.forEach((command) => relayLink.send(command));
  }

  /** A calibration that was entered or withdrawn corrects its probe from the next reading on. */
  function correctSensors(): void {
    const sensors = corrections.sensorsOf(inUse.current().sensors);
    if (sensors === sensorsInUse) return;
    sensorsInUse = sensors;
    inbox.replaceSensors(sensors);
  }

  /** A pass that fails leaves no command standing. */
  function failSafe(error: unknown): void {
    trials.endAll("as the rules say");
    for (const relayId of inUse.current().relays.keys()) {
      relayLink.send({ relayId, command: "off", reason: passFailed });
    }
    // What holds a valve, and how long gas has been on, is not made unknown by a fault; what was said to the relays is.
    memories.forgetAllRelays();
    try {
      passFaults.note(error);
      tellOfFailure(error instanceof Error ? error.message : String(error));
    } catch (second) {
      logger.error(
        { reason: second instanceof Error ? second.message : String(second) },
        "a failed control pass could not be told",
      );
    }
  }

  /** Valves closed in the status, in the record and as an alarm, whatever it was that failed. */
  function tellOfFailure(reason: string): void {
    const now_epochMs = clock.now_epochMs();
    const now_monotonicMs = clock.monotonic_ms();
    const held = alarms.holding().filter(({ alarmId }) => alarmId !== passAlarmId);
    const followed = alarms.follow([...held, passFailedCondition(reason)]);
    if (lastStatus === undefined) return;
    const valves = lastStatus.valves.map((valve): ValveStatus => {
      const { wish, blocks } = valve.decision;
      const decision = {
        action: "closed" as const,
        reason: `${passFailed}: ${reason}`,
        gist: passFailed,
        wish,
        blocks,
      };
      return { ...valve, decision, reported: "unknown", openSince_monotonicMs: undefined };
    });
    lastStatus = {
      ...lastStatus,
      at_epochMs: now_epochMs,
      at_monotonicMs: now_monotonicMs,
      valves,
      alarms: followed,
    };
    for (const valve of valves) sayOnce(valve, now_epochMs);
  }

  function hearReport(report: RelayReport): void {
    for (const valve of inUse.current().valves.values()) {
      if (!relaysOf(valve.rules).some((relay) => relay.relayId === report.relayId)) continue;
      const { valveId } = valve.rules;
      if (!trials.hear(valveId, report)) memories.hear(valveId, report);
    }
  }

  function rehomeTrips(next: SiteModel, heirs: (subject: TripSubject) => readonly string[]): void {
    kept.rehomeTrips(({ kind, id }) => (kind === "tank" ? next.tanks : next.valves).has(id), heirs);
  }

  /** What a person accepted once must not excuse another wrong time after the next restart. */
  function forgetEndedAcceptance(): void {
    if (kept.current().acceptedClock_epochMs === undefined || believed.isAccepted()) return;
    kept.keepAcceptedClock(undefined);
  }
}

function latestHere(journal: Pick<JournalView, "entriesOf">, vesselId: string): number | undefined {
  return journal
    .entriesOf("charge closed", vesselId, Number.NEGATIVE_INFINITY)
    .filter(({ source }) => source === "local")
    .at(-1)?.at_epochMs;
}
