import {
  createReadingGateState,
  judgeReading,
  rejectUndecodable,
  type JudgedReading,
  type ReadingGateState,
} from "../lib/readings/reading-gate.js";
import type { Reading, RejectedReading } from "../lib/readings/reading.js";
import { freshness, type FreshnessInstant, type SensorFreshness } from "../lib/readings/sensor-freshness.js";
import { decodeSensorPayload } from "./mqtt/payload-codec.js";
import type { BusMessage, MessageBus } from "./ports/message-bus.js";
import type { SiteStore } from "./ports/site-store.js";
import type { SensorModel } from "./site-model.js";

/** What is known of one sensor. */
export interface SensorView {
  readonly sensorId: string;
  readonly lastAccepted: Reading | undefined;
  readonly lastRejected: RejectedReading | undefined;
  readonly freshness: SensorFreshness;
  readonly counts: ReadingGateState;
}

export interface SensorInbox {
  view(sensorId: string, now: FreshnessInstant): SensorView | undefined;
  views(now: FreshnessInstant): readonly SensorView[];
  /** The value of a fresh sensor, undefined in every other case. */
  freshValue(sensorId: string | undefined, now: FreshnessInstant): number | undefined;
  /** Takes other sensors, or other rules for the same ones; what is unchanged keeps its history. */
  replaceSensors(sensors: ReadonlyMap<string, SensorModel>): void;
}

interface Slot {
  readonly model: SensorModel;
  gate: ReadingGateState;
  lastAccepted: Reading | undefined;
  lastRejected: RejectedReading | undefined;
}

/** Payload in, judged reading out. Rejections are counted, not logged. */
export function createSensorInbox(
  ports: { readonly bus: MessageBus; readonly store: Pick<SiteStore, "appendReading"> },
  initial: ReadonlyMap<string, SensorModel>,
): SensorInbox {
  const slots = new Map<string, Slot>();
  const subscribed = new Set<string>();
  replaceSensors(initial);

  return {
    replaceSensors,
    view: (sensorId, now) => {
      const slot = slots.get(sensorId);
      return slot === undefined ? undefined : viewOf(slot, now);
    },
    views: (now) => [...slots.values()].map((slot) => viewOf(slot, now)),
    freshValue: (sensorId, now) => {
      const slot = sensorId === undefined ? undefined : slots.get(sensorId);
      if (slot?.lastAccepted === undefined) return undefined;
      const { kind } = freshness(slot.model.rules, slot.lastAccepted, now);
      return kind === "fresh" ? slot.lastAccepted.value : undefined;
    },
  };

  function replaceSensors(sensors: ReadonlyMap<string, SensorModel>): void {
    for (const sensorId of slots.keys()) {
      if (!sensors.has(sensorId)) slots.delete(sensorId);
    }
    for (const [sensorId, model] of sensors) {
      const known = slots.get(sensorId);
      const same = known !== undefined && signature(known.model) === signature(model);
      if (!same) {
        slots.set(sensorId, {
          model,
          gate: createReadingGateState(),
          lastAccepted: undefined,
          lastRejected: undefined,
        });
      }
      if (!subscribed.has(model.topic)) {
        subscribed.add(model.topic);
        ports.bus.subscribe(model.topic, 0, hear);
      }
    }
  }

  function hear(message: BusMessage): void {
    for (const slot of slots.values()) {
      if (slot.model.topic === message.topic) judge(slot, message);
    }
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

/** Equal for two models that judge alike. */
function signature(model: SensorModel): string {
  const texts = [model.selector, model.timestampSelector].map((selector) =>
    selector === undefined || selector.kind === "bare" ? "" : selector.text,
  );
  return JSON.stringify([model.rules, model.topic, texts]);
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

function viewOf(slot: Slot, now: FreshnessInstant): SensorView {
  return {
    sensorId: slot.model.rules.sensorId,
    lastAccepted: slot.lastAccepted,
    lastRejected: slot.lastRejected,
    freshness: freshness(slot.model.rules, slot.lastAccepted, now),
    counts: slot.gate,
  };
}
