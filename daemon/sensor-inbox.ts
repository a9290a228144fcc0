import { firstWord, type FirstWord } from "../lib/control/first-word.js";
import { calibrated, type LinearCalibration } from "../lib/readings/calibration.js";
import { isPlausible } from "../lib/readings/plausible-span.js";
import {
  createReadingGateState,
  isContradicted,
  judgeReading,
  rejectUndecodable,
  type JudgedReading,
  type ReadingGateState,
} from "../lib/readings/reading-gate.js";
import type { Reading, RejectedReading } from "../lib/readings/reading.js";
import { freshness, type FreshnessInstant, type SensorFreshness } from "../lib/readings/sensor-freshness.js";
import { decodeSensorPayload } from "./mqtt/payload-codec.js";
import type { Clock } from "./ports/clock.js";
import type { BusMessage, MessageBus } from "./ports/message-bus.js";
import type { SiteStore } from "./ports/site-store.js";
import { createSensorBatteries, type BatteryView } from "./sensor-batteries.js";
import type { SensorModel } from "./site-model.js";

/** What is known of one sensor. */
export interface SensorView {
  readonly sensorId: string;
  readonly lastAccepted: Reading | undefined;
  readonly lastRejected: RejectedReading | undefined;
  readonly freshness: SensorFreshness;
  readonly firstWord: FirstWord;
  /** Too old, and not by its own silence: an outage of the broker or another clock made it so, and it may still speak in time. */
  readonly isAwaitedAgain?: boolean;
  readonly counts: ReadingGateState;
  /** Absent where the config names no battery, or nothing was heard of it. */
  readonly battery?: BatteryView;
}

/** What a sensor that is silent was refused for, after its last value; an older refusal is not why it is silent. */
export function refusedSince(
  view: Pick<SensorView, "lastAccepted" | "lastRejected"> | undefined,
): RejectedReading | undefined {
  const { lastAccepted, lastRejected } = view ?? {};
  if (lastRejected === undefined || lastAccepted === undefined) return lastRejected;
  return lastRejected.at_epochMs > lastAccepted.at_epochMs ? lastRejected : undefined;
}

export interface SensorInbox {
  view(sensorId: string, now: FreshnessInstant): SensorView | undefined;
  views(now: FreshnessInstant): readonly SensorView[];
  /** The value of a fresh sensor, undefined in every other case. */
  freshValue(sensorId: string | undefined, now: FreshnessInstant): number | undefined;
  /** Takes other sensors, or other rules for the same ones; what is unchanged keeps its history. */
  replaceSensors(sensors: ReadonlyMap<string, SensorModel>): void;
}

interface Connection {
  /** Infinity: there is none. */
  readonly since_monotonicMs: number;
  /** When the one before it was lost. */
  readonly lost_monotonicMs: number;
}

interface Slot {
  readonly model: SensorModel;
  gate: ReadingGateState;
  lastAccepted: Reading | undefined;
  lastRejected: RejectedReading | undefined;
  /** Since when it can be heard; undefined: no broker has been there yet. */
  listensSince_monotonicMs: number | undefined;
}

/** Payload in, judged reading out. Rejections are counted, not logged. */
export function createSensorInbox(
  ports: {
    readonly bus: MessageBus;
    readonly store: Pick<SiteStore, "appendReading">;
    readonly clock: Pick<Clock, "monotonic_ms">;
  },
  initial: ReadonlyMap<string, SensorModel>,
): SensorInbox {
  const slots = new Map<string, Slot>();
  let connection: Connection = { since_monotonicMs: Infinity, lost_monotonicMs: -Infinity };
  /** Several sensors may read one message. */
  let slotsOfTopic: ReadonlyMap<string, readonly Slot[]> = new Map();
  const subscribed = new Set<string>();
  const batteries = createSensorBatteries(ports);
  replaceSensors(initial);
  ports.bus.onStateChange(({ kind }) => {
    const now_monotonicMs = ports.clock.monotonic_ms();
    if (kind !== "connected") {
      // Once for each loss: every try to come back says so again.
      if (connection.since_monotonicMs < Infinity) {
        connection = { since_monotonicMs: Infinity, lost_monotonicMs: now_monotonicMs };
      }
      return;
    }
    connection = { ...connection, since_monotonicMs: now_monotonicMs };
    for (const slot of slots.values()) slot.listensSince_monotonicMs ??= ports.clock.monotonic_ms();
  });

  return {
    replaceSensors,
    view: (sensorId, now) => {
      const slot = slots.get(sensorId);
      return slot === undefined ? undefined : withBattery(viewOf(slot, now, connection));
    },
    views: (now) => [...slots.values()].map((slot) => withBattery(viewOf(slot, now, connection))),
    freshValue: (sensorId, now) => {
      const slot = sensorId === undefined ? undefined : slots.get(sensorId);
      if (slot?.lastAccepted === undefined) return undefined;
      return freshnessOf(slot, now).kind === "fresh" ? slot.lastAccepted.value : undefined;
    },
  };

  function withBattery(view: SensorView): SensorView {
    const battery = batteries.battery(view.sensorId);
    return battery === undefined ? view : { ...view, battery };
  }

  function replaceSensors(sensors: ReadonlyMap<string, SensorModel>): void {
    batteries.replaceSensors(sensors);
    for (const sensorId of slots.keys()) {
      if (!sensors.has(sensorId)) slots.delete(sensorId);
    }
    for (const [sensorId, model] of sensors) {
      const known = slots.get(sensorId);
      if (known === undefined || signature(known.model) !== signature(model)) {
        slots.set(sensorId, rejudged(known, model) ?? newSlot(model, listeningNow_monotonicMs()));
      }
      if (!subscribed.has(model.topic)) {
        subscribed.add(model.topic);
        ports.bus.subscribe(model.topic, 0, hear);
      }
    }
    slotsOfTopic = byTopic(slots.values());
  }

  function listeningNow_monotonicMs(): number | undefined {
    return ports.bus.state().kind === "connected" ? ports.clock.monotonic_ms() : undefined;
  }

  function hear(message: BusMessage): void {
    for (const slot of slotsOfTopic.get(message.topic) ?? []) judge(slot, message);
  }

  function judge(slot: Slot, message: BusMessage): void {
    const judged = judgedFrom(slot, message);
    slot.gate = judged.state;
    if (judged.result.kind === "rejected") {
      slot.lastRejected = judged.result;
      return;
    }
    slot.lastAccepted = judged.result;
    const { sensorId, quantity, value, at_epochMs } = judged.result;
    ports.store.appendReading({ sensorId, quantity, value, at_epochMs });
  }
}

function byTopic(slots: Iterable<Slot>): ReadonlyMap<string, readonly Slot[]> {
  const found = new Map<string, Slot[]>();
  for (const slot of slots) {
    const { topic } = slot.model;
    found.set(topic, [...(found.get(topic) ?? []), slot]);
  }
  return found;
}

function newSlot(model: SensorModel, listensSince_monotonicMs: number | undefined): Slot {
  return {
    model,
    gate: createReadingGateState(),
    lastAccepted: undefined,
    lastRejected: undefined,
    listensSince_monotonicMs,
  };
}

/** Equal for two models that judge alike. */
function signature(model: SensorModel): string {
  const texts = [model.selector, model.timestampSelector].map((selector) =>
    selector === undefined || selector.kind === "bare" ? "" : selector.text,
  );
  return JSON.stringify([model.rules, model.topic, texts]);
}

/**
 * Where the same number still means the same, the last reading still stands, corrected by the new calibration and judged by the
 * new limits: a person who calibrates a probe or allows it another age does not make its tank unknown. Undefined in every other
 * case.
 */
function rejudged(known: Slot | undefined, model: SensorModel): Slot | undefined {
  if (known === undefined) return undefined;
  const before = known.model.rules.calibration;
  const { calibration, plausible, unit, quantity } = model.rules;
  const rules = { ...model.rules, unit: known.model.rules.unit, quantity: known.model.rules.quantity };
  if (signature({ ...known.model, rules }) !== signature({ ...model, rules: { ...rules, unit, quantity } }))
    return undefined;
  const { lastAccepted, lastRejected, gate, listensSince_monotonicMs } = known;
  const value =
    lastAccepted === undefined
      ? undefined
      : calibrated((lastAccepted.value - before.offset) / before.gain, calibration);
  return {
    model,
    // Values by the old calibration would make a spike of the first by the new one.
    gate: isSameCalibration(before, calibration)
      ? gate
      : { ...gate, window: undefined, heard: undefined, believed: undefined },
    lastAccepted:
      lastAccepted !== undefined && value !== undefined && isPlausible(value, plausible)
        ? { ...lastAccepted, value }
        : undefined,
    lastRejected,
    listensSince_monotonicMs,
  };
}

function isSameCalibration(a: LinearCalibration, b: LinearCalibration): boolean {
  return a.gain === b.gain && a.offset === b.offset;
}

function judgedFrom(slot: Slot, message: BusMessage): JudgedReading {
  const { rules, selector, timestampSelector } = slot.model;
  const decoded = decodeSensorPayload(message.payload, selector, timestampSelector);
  const at_epochMs = message.at_epochMs;
  if (decoded.kind !== "value") {
    return rejectUndecodable(rules, slot.gate, { detail: decoded.detail, at_epochMs });
  }
  return judgeReading(rules, slot.gate, {
    value: decoded.value,
    measuredAt_epochMs: decoded.measuredAt_epochMs,
    retained: message.retained,
    at_epochMs,
    at_monotonicMs: message.at_monotonicMs,
  });
}

/** What says what cannot be has fallen silent, whatever it said before. */
function freshnessOf({ model, lastAccepted, gate }: Slot, now: FreshnessInstant): SensorFreshness {
  const byAge = freshness(model.rules, lastAccepted, now);
  return byAge.kind === "fresh" && isContradicted(gate) ? { ...byAge, kind: "stale" } : byAge;
}

/**
 * What is too old is not news of a silence: the civil clock was set or the machine slept, while by the monotonic clock it spoke just
 * now; or it spoke until the broker was lost, and has not had the time since the broker is back that it may be silent.
 */
function isAwaitedAgain(
  { model: { rules }, lastAccepted }: Slot,
  now: FreshnessInstant,
  { since_monotonicMs, lost_monotonicMs }: Connection,
): boolean {
  if (lastAccepted === undefined || freshness(rules, lastAccepted, now).kind !== "stale") return false;
  const maximumAge_ms = rules.maximumAge_s * 1000;
  if (now.now_monotonicMs - lastAccepted.at_monotonicMs <= maximumAge_ms) return true;
  if (since_monotonicMs === Infinity) return false;
  const wasFresh = lost_monotonicMs - lastAccepted.at_monotonicMs <= maximumAge_ms;
  return wasFresh && now.now_monotonicMs - since_monotonicMs <= maximumAge_ms;
}

function viewOf(slot: Slot, now: FreshnessInstant, connection: Connection): SensorView {
  const { rules } = slot.model;
  const freshnessNow = freshnessOf(slot, now);
  const since_monotonicMs = slot.listensSince_monotonicMs;
  const listening_ms = since_monotonicMs === undefined ? undefined : now.now_monotonicMs - since_monotonicMs;
  return {
    sensorId: rules.sensorId,
    lastAccepted: slot.lastAccepted,
    lastRejected: slot.lastRejected,
    freshness: freshnessNow,
    firstWord: firstWord(freshnessNow, listening_ms, rules),
    isAwaitedAgain: isAwaitedAgain(slot, now, connection),
    counts: slot.gate,
  };
}
