import { decodeSensorPayload } from "./mqtt/payload-codec.js";
import type { BusMessage, MessageBus } from "./ports/message-bus.js";
import type { BatteryModel, SensorModel } from "./site-model.js";

/** What a sensor last said of its battery. */
export interface BatteryView {
  /** In the unit of `unit`. */
  readonly value: number;
  readonly unit: BatteryModel["unit"];
  readonly low: number;
  readonly isLow: boolean;
  readonly heardAt_epochMs: number;
}

/** A battery that warms up or rests recovers a little: so far above the limit it must be to count as good again. A judgement. */
const deadband: Readonly<Record<BatteryModel["unit"], number>> = { percent: 5, volt: 0.1 };

export interface SensorBatteries {
  replaceSensors(sensors: ReadonlyMap<string, SensorModel>): void;
  /** Undefined where the config names no battery, or nothing was heard of it. */
  battery(sensorId: string): BatteryView | undefined;
}

/**
 * Hears how full the sensors' batteries are. They speak seldom, so that what the broker has kept counts too, and what was heard
 * counts until something else is; what is no number says nothing.
 */
export function createSensorBatteries(ports: {
  readonly bus: Pick<MessageBus, "subscribe">;
}): SensorBatteries {
  const followed = new Map<string, { readonly model: BatteryModel; heard: BatteryView | undefined }>();
  const subscribed = new Set<string>();
  return {
    battery: (sensorId) => followed.get(sensorId)?.heard,
    replaceSensors: (sensors) => {
      for (const sensorId of followed.keys()) {
        if (sensors.get(sensorId)?.battery === undefined) followed.delete(sensorId);
      }
      for (const [sensorId, { battery }] of sensors) {
        if (battery === undefined) continue;
        const known = followed.get(sensorId);
        if (known === undefined || signature(known.model) !== signature(battery)) {
          followed.set(sensorId, { model: battery, heard: undefined });
        }
        if (subscribed.has(battery.topic)) continue;
        subscribed.add(battery.topic);
        ports.bus.subscribe(battery.topic, 0, hear);
      }
    },
  };

  function hear({ topic, payload, at_epochMs }: BusMessage): void {
    for (const slot of followed.values()) {
      if (slot.model.topic !== topic) continue;
      const decoded = decodeSensorPayload(payload, slot.model.selector);
      if (decoded.kind !== "value") continue;
      const { unit, low } = slot.model;
      const { value } = decoded;
      const good = slot.heard?.isLow === true ? low + deadband[unit] : low;
      slot.heard = { value, unit, low, isLow: value <= good, heardAt_epochMs: at_epochMs };
    }
  }
}

function signature({ topic, selector, unit, low }: BatteryModel): string {
  return JSON.stringify([topic, selector.kind === "bare" ? "" : selector.text, unit, low]);
}
