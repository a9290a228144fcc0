import { stepAlarms, type AlarmCondition, type TrackedAlarm } from "../lib/alarm/alarm-state.js";
import {
  initialValveMemory,
  isConfirmedClosed,
  relaysOf,
  reportedState,
  stepValve,
  type ValveDecision,
  type ValveMemory,
} from "../lib/control/control-step.js";
import type { Override, WindowState } from "../lib/control/decide.js";
import type { GuardView, StandingCause, TankView } from "../lib/control/interlock.js";
import { initialRelayDriver, onReconnected, onRelayReport } from "../lib/control/relay-driver.js";
import { withTrip, type Trip } from "../lib/control/trip.js";
import {
  acceptClock,
  createClockPlausibilityState,
  judgeClock,
  type ClockVerdict,
  type Synchronisation,
} from "../lib/schedule/clock-plausibility.js";
import { conditionsFor } from "./alarm-conditions.js";
import type { Clock } from "./ports/clock.js";
import type { DeadMan } from "./ports/dead-man.js";
import type { Logger } from "./ports/logger.js";
import type { MessageBus } from "./ports/message-bus.js";
import type { SiteEvent, SiteStore } from "./ports/site-store.js";
import { createRelayLink, type RelayReport } from "./relay-link.js";
import { createSensorInbox, type SensorView } from "./sensor-inbox.js";
import type { SiteModel, ValveModel } from "./site-model.js";
import { estimateTank, type TankEstimate } from "./tank-estimate.js";

export interface ControlPorts {
  readonly clock: Clock;
  readonly bus: MessageBus;
  readonly deadMan: DeadMan;
  readonly store: SiteStore;
  readonly logger: Logger;
  readonly synchronisation: () => Synchronisation;
}

/** What a restart goes on from. */
export interface ControlSnapshot {
  readonly trips: readonly Trip[];
  readonly overrides: readonly Override[];
  /** Relays whose auto-off and power-on state a person has tried, by the fingerprint of what was tried. */
  readonly commissioned: Readonly<Record<string, string>>;
  readonly acceptedClock_epochMs: number | undefined;
}

export const emptySnapshot: ControlSnapshot = {
  trips: [],
  overrides: [],
  commissioned: {},
  acceptedClock_epochMs: undefined,
};

export interface ValveStatus {
  readonly valveId: string;
  readonly decision: ValveDecision;
  readonly reported: "open" | "closed" | "unknown";
  readonly window: WindowState;
  readonly openSince_monotonicMs: number | undefined;
  readonly override: Override | undefined;
}

export interface SiteStatus {
  readonly at_epochMs: number;
  readonly at_monotonicMs: number;
  readonly clock: ClockVerdict;
  readonly valves: readonly ValveStatus[];
  readonly tanks: readonly TankEstimate[];
  readonly sensors: readonly SensorView[];
  readonly alarms: readonly TrackedAlarm[];
  readonly trips: readonly Trip[];
  /** Causes of trips that hold at this instant. */
  readonly standing: readonly StandingCause[];
}

export interface ControlCycle {
  /** One pass: judge, decide, command, record. Throws nothing: a pass that fails closes every valve. */
  tick(): void;
  /** From now on every valve is wished closed; the ticks go on until `isClosed`. */
  beginClosing(reason: string): void;
  isClosed(): boolean;
  status(): SiteStatus | undefined;
  snapshot(): ControlSnapshot;
  replaceModel(model: SiteModel): void;
  /** Replaces what survives a restart: trips after a re-arming, an override, a commissioning. */
  replaceSnapshot(next: ControlSnapshot, event: SiteEvent): Promise<boolean>;
  acceptClock(): void;
  /** Hands a relay to a person's trial: the valve is held closed for others, its reports go to the listener. */
  beginTrial(valveId: string, listener: (report: RelayReport) => void): void;
  endTrial(valveId: string): void;
  /** Only for a trial: one command outside of the tick. */
  commandForTrial(relayId: string, command: "on" | "off"): void;
  /** Asks a relay for its state, where it can be asked. */
  queryRelay(relayId: string): void;
  onEvent(listener: (event: SiteEvent) => void): void;
}

/** The build's own date: no true time lies before it. */
const buildDate_epochMs = Date.UTC(2026, 0, 1);

export function createControlCycle(
  ports: ControlPorts,
  initialModel: SiteModel,
  restored: ControlSnapshot,
): ControlCycle {
  const { clock, bus, deadMan, store, logger } = ports;
  let model = initialModel;
  let saved = restored;
  let clockState = createClockPlausibilityState(restored.acceptedClock_epochMs);
  let alarms: readonly TrackedAlarm[] = [];
  let closingReason: string | undefined;
  let lastStatus: SiteStatus | undefined;
  let tickFailure: string | undefined;
  const memories = new Map<string, ValveMemory>();
  const lastSaid = new Map<string, string>();
  const trials = new Map<string, (report: RelayReport) => void>();
  const eventListeners: ((event: SiteEvent) => void)[] = [];
  const notBefore_epochMs = Math.max(buildDate_epochMs, store.latestKnown_epochMs() ?? 0);

  const inbox = createSensorInbox({ bus, store }, model.sensors);
  const relayLink = createRelayLink({ bus, clock, logger }, model.relays, hearReport);
  bus.onStateChange((state) => {
    if (state.kind !== "connected") return;
    for (const [valveId, memory] of memories) {
      const relays = Object.entries(memory.relays).map(([id, relay]) => [id, onReconnected(relay)] as const);
      memories.set(valveId, { ...memory, relays: Object.fromEntries(relays) });
    }
    for (const relayId of model.relays.keys()) relayLink.query(relayId);
  });

  return {
    tick,
    beginClosing: (reason) => {
      closingReason = reason;
    },
    isClosed: () =>
      [...model.valves.values()].every((valve) => isConfirmedClosed(valve.rules, memoryOf(valve))),
    status: () => lastStatus,
    snapshot: () => saved,
    replaceModel: (next) => {
      model = next;
      inbox.replaceSensors(next.sensors);
    },
    replaceSnapshot: (next, event) => {
      saved = next;
      record(event);
      return store.saveSnapshot("control", saved);
    },
    acceptClock: () => {
      const both = { now_epochMs: clock.now_epochMs(), monotonic_ms: clock.monotonic_ms() };
      clockState = acceptClock(clockState, both);
      saved = { ...saved, acceptedClock_epochMs: both.now_epochMs };
      void store.saveSnapshot("control", saved);
    },
    beginTrial: (valveId, listener) => {
      trials.set(valveId, listener);
    },
    endTrial: (valveId) => {
      trials.delete(valveId);
    },
    commandForTrial: (relayId, command) => relayLink.send({ relayId, command, reason: "trial of the relay" }),
    queryRelay: (relayId) => relayLink.query(relayId),
    onEvent: (listener) => {
      eventListeners.push(listener);
    },
  };

  function tick(): void {
    try {
      pass();
      tickFailure = undefined;
      // Only a completed pass may keep the dead-man connections alive.
      deadMan.beat();
    } catch (error) {
      failSafe(error);
    }
  }

  function pass(): void {
    const now_epochMs = clock.now_epochMs();
    const now_monotonicMs = clock.monotonic_ms();
    const judged = judgeClock(clockState, {
      now_epochMs,
      monotonic_ms: now_monotonicMs,
      notBefore_epochMs,
      synchronisation: ports.synchronisation(),
    });
    clockState = judged.state;
    dropEndedOverrides(now_epochMs);

    const tanks = [...model.tanks.values()].map((tank) => estimateTank(tank, inbox, now_monotonicMs));
    const health = store.health();
    const valves: ValveStatus[] = [];
    const standing: StandingCause[] = [];
    for (const valve of model.valves.values()) {
      const { valveId } = valve.rules;
      const override = saved.overrides.find((candidate) => candidate.valveId === valveId);
      const window = valve.calendar.stateAt(now_epochMs);
      const step = stepValve(
        {
          rules: valve.rules,
          now_epochMs,
          now_monotonicMs,
          window,
          override,
          clock: judged.verdict,
          brokerConnected: bus.state().kind === "connected",
          deadManArmed: relaysOf(valve.rules).every((relay) => deadMan.isArmed(relay.relayId)),
          store: health,
          commissioned: isCommissioned(valve),
          guards: valve.rules.guardSensorIds.map((id) => guardView(id, now_monotonicMs)),
          tanks: valve.rules.tankIds.flatMap((id) => tankView(id, tanks)),
          trips: saved.trips,
          heldClosed:
            closingReason ?? (trials.has(valveId) ? "the relay is being tried by a person" : undefined),
        },
        memoryOf(valve),
      );
      memories.set(valveId, step.memory);
      if (!trials.has(valveId)) step.commands.forEach((command) => relayLink.send(command));
      standing.push(...step.standing);
      latchTrips(step.trips, now_epochMs);
      const reported = reportedState(valve.rules, step.memory);
      sayOnce(valveId, step.decision, reported, now_epochMs);
      valves.push({
        valveId,
        decision: step.decision,
        reported,
        window,
        openSince_monotonicMs: step.memory.openSince_monotonicMs,
        override,
      });
    }
    const status = {
      at_epochMs: now_epochMs,
      at_monotonicMs: now_monotonicMs,
      clock: judged.verdict,
      valves,
      tanks,
      sensors: inbox.views(now_monotonicMs),
      trips: saved.trips,
      standing,
    };
    const held = conditionsFor(status, { bus: bus.state(), store: health, tickFailure, model, memories });
    lastStatus = { ...status, alarms: followAlarms(held, now_epochMs, now_monotonicMs) };
  }

  /** A pass that fails leaves no command standing. */
  function failSafe(error: unknown): void {
    const reason = error instanceof Error ? error.message : String(error);
    if (tickFailure !== reason) {
      logger.error(
        { reason, stack: error instanceof Error ? error.stack : undefined },
        "a control pass failed",
      );
    }
    tickFailure = reason;
    for (const relayId of model.relays.keys()) {
      relayLink.send({ relayId, command: "off", reason: "a control pass failed" });
    }
    memories.clear();
  }

  function hearReport(report: RelayReport): void {
    for (const valve of model.valves.values()) {
      if (!relaysOf(valve.rules).some((relay) => relay.relayId === report.relayId)) continue;
      const memory = memoryOf(valve);
      const before = memory.relays[report.relayId] ?? initialRelayDriver;
      memories.set(valve.rules.valveId, {
        ...memory,
        relays: {
          ...memory.relays,
          [report.relayId]: onRelayReport(before, report.reported, report.at_monotonicMs),
        },
      });
      trials.get(valve.rules.valveId)?.(report);
    }
  }

  function memoryOf(valve: ValveModel): ValveMemory {
    return memories.get(valve.rules.valveId) ?? initialValveMemory;
  }

  function guardView(sensorId: string, now_monotonicMs: number): GuardView {
    const view = inbox.view(sensorId, now_monotonicMs);
    const lastRejection =
      view?.lastRejected === undefined
        ? undefined
        : `${view.lastRejected.reason}, ${view.lastRejected.detail}`;
    const state = view?.freshness ?? { kind: "never" as const };
    return { sensorId, state: state.kind === "fresh" ? state : { ...state, lastRejection } };
  }

  function tankView(tankId: string, estimates: readonly TankEstimate[]): readonly TankView[] {
    const tank = model.tanks.get(tankId);
    const estimate = estimates.find((candidate) => candidate.tankId === tankId);
    if (tank === undefined || estimate === undefined) return [];
    return [
      {
        tankId,
        limits: tank.limits,
        pH: estimate.pH,
        temperature_degC: estimate.temperature_degC,
        co2High80_mgPerL: estimate.co2?.co2High80_mgPerL,
      },
    ];
  }

  function isCommissioned(valve: ValveModel): boolean {
    return valve.rules.gasRelays.every((rules) => {
      const relay = model.relays.get(rules.relayId);
      return relay !== undefined && saved.commissioned[rules.relayId] === commissioningFingerprint(relay);
    });
  }

  function latchTrips(trips: readonly Trip[], now_epochMs: number): void {
    const fresh = trips.filter((trip) => !saved.trips.includes(trip));
    if (fresh.length === 0) return;
    saved = { ...saved, trips: fresh.reduce(withTrip, saved.trips) };
    void store.saveSnapshot("control", saved);
    for (const trip of fresh) {
      const { subject, cause, reason } = trip;
      record({
        at_epochMs: now_epochMs,
        area: "trip",
        subject: subject.id,
        what: cause,
        reason,
        details: { ...subject },
      });
    }
  }

  function dropEndedOverrides(now_epochMs: number): void {
    const running = saved.overrides.filter((override) => now_epochMs < override.until_epochMs);
    if (running.length === saved.overrides.length) return;
    saved = { ...saved, overrides: running };
    void store.saveSnapshot("control", saved);
  }

  function followAlarms(
    held: readonly AlarmCondition[],
    now_epochMs: number,
    now_monotonicMs: number,
  ): readonly TrackedAlarm[] {
    const step = stepAlarms(alarms, held, { now_epochMs, now_monotonicMs });
    alarms = step.alarms;
    for (const { kind, condition } of step.changes) {
      const { alarmId, priority, cause, whatToDo } = condition;
      record({
        at_epochMs: now_epochMs,
        area: "alarm",
        subject: alarmId,
        what: kind,
        reason: cause,
        details: { priority, whatToDo },
      });
    }
    return alarms;
  }

  function sayOnce(
    valveId: string,
    decision: ValveDecision,
    reported: "open" | "closed" | "unknown",
    now_epochMs: number,
  ): void {
    const rule = decision.blocks[0]?.rule ?? decision.wish.reason;
    const key = `${decision.action}/${reported}/${decision.action === "open" ? "" : rule}/${closingReason ?? ""}`;
    if (lastSaid.get(valveId) === key) return;
    lastSaid.set(valveId, key);
    record({
      at_epochMs: now_epochMs,
      area: "valve",
      subject: valveId,
      what: decision.action === "open" ? "commanded open" : "commanded closed",
      reason: decision.reason,
      details: { reported, wish: decision.wish.reason },
    });
  }

  function record(event: SiteEvent): void {
    logger.info({ area: event.area, subject: event.subject, reason: event.reason }, event.what);
    void store.recordEvent(event);
    eventListeners.forEach((listener) => listener(event));
  }
}

/** What was tried: another topic, payload or time makes another relay of it. */
export function commissioningFingerprint(relay: {
  readonly commandTopic: string;
  readonly payloadOn: string;
  readonly payloadOff: string;
  readonly rules: { readonly autoOff_s: number | undefined };
}): string {
  return JSON.stringify([
    relay.commandTopic,
    relay.payloadOn,
    relay.payloadOff,
    relay.rules.autoOff_s ?? null,
  ]);
}
