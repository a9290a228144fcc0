import type { AlarmCondition } from "../lib/alarm/alarm-state.js";
import { relaysOf, type ValveMemory } from "../lib/control/control-step.js";
import { describeRelayFault, type RelayFault } from "../lib/control/relay-driver.js";
import type { SiteStatus } from "./site-status.js";
import type { BusState } from "./ports/message-bus.js";
import type { StoreHealth } from "./ports/site-store.js";
import type { SiteModel } from "./site-model.js";

interface Surroundings {
  readonly bus: BusState;
  readonly store: StoreHealth;
  readonly model: SiteModel;
  readonly memories: ReadonlyMap<string, ValveMemory>;
}

/** Every condition that needs a person at this instant. A lost broker silences the silent sensors that it causes. */
export function conditionsFor(
  status: Omit<SiteStatus, "alarms">,
  { bus, store, model, memories }: Surroundings,
): readonly AlarmCondition[] {
  const conditions: AlarmCondition[] = [];
  const add = (
    alarmId: string,
    priority: AlarmCondition["priority"],
    onDelay_s: number,
    cause: string,
    whatToDo: string,
  ): void => {
    conditions.push({ alarmId, priority, onDelay_s, cause, whatToDo });
  };
  for (const trip of status.trips) {
    add(
      `trip/${trip.subject.kind}/${trip.subject.id}/${trip.cause}`,
      "critical",
      0,
      `${trip.subject.kind} ${trip.subject.id}: ${trip.cause} (${trip.reason})`,
      "Gas stays off. Look at the fish and aerate; when the cause is gone, re-arm at the daemon's own machine.",
    );
  }
  for (const valve of model.valves.values()) {
    const memory = memories.get(valve.rules.valveId);
    for (const relay of relaysOf(valve.rules)) {
      const state = memory?.relays[relay.relayId];
      const fault = state === undefined ? undefined : describeRelayFault(relay, state);
      if (fault === undefined) continue;
      const { priority, whatToDo } = adviceFor(state?.fault?.kind);
      add(`relay/${relay.relayId}`, priority, 0, fault, whatToDo);
    }
    if (valve.rules.acceptedWithoutAutoOff) {
      add(
        `without-auto-off/${valve.rules.valveId}`,
        "low",
        0,
        `valve ${valve.rules.valveId} opens though nobody has tried that its relay drops by itself, as the config accepts`,
        "Use a relay with auto-off and power-on state off, run `commission`, and take acceptWithoutAutoOff out of the config.",
      );
    }
  }
  if (status.clock.kind === "implausible") {
    add(
      "clock",
      "high",
      0,
      `the clock is not plausible: ${status.clock.reason}`,
      "Gas is held off. Let the machine get the time from the network, or check the time and run `accept-clock`.",
    );
  }
  if (store.kind === "failing") {
    add(
      "store",
      "high",
      0,
      `the store fails: ${store.reason}`,
      "Gas is held off once that has lasted a minute. Make room on the disk or mend it.",
    );
  }
  if (bus.kind === "disconnected") {
    add(
      "broker",
      "high",
      10,
      `the broker is lost: ${bus.reason}`,
      "Gas is held off. Look at the broker and the network.",
    );
    return conditions;
  }
  for (const { valveId, decision } of status.valves) {
    for (const { rule, reason } of decision.blocks) {
      if (rule === "dead-man not armed") {
        add(
          `dead-man/${valveId}`,
          "high",
          10,
          `valve ${valveId}: ${reason}`,
          "Gas is held off. Look at the broker: it must take a connection for each relay, with a Last Will.",
        );
      }
      if (rule === "temperature above the limit") {
        add(
          `temperature/${valveId}`,
          "high",
          0,
          `valve ${valveId}: ${reason}`,
          "Gas is held off: warm water holds less oxygen. Aerate, cool the tank, look at the heater.",
        );
      }
    }
  }
  const guardSensorIds = new Set([...model.valves.values()].flatMap((valve) => valve.rules.guardSensorIds));
  for (const sensorId of guardSensorIds) {
    const view = status.sensors.find((candidate) => candidate.sensorId === sensorId);
    if (view?.freshness.kind === "fresh") continue;
    const rejected = view?.lastRejected;
    add(
      `guard-silent/${sensorId}`,
      "high",
      view?.freshness.kind === "never" ? 60 : 0,
      `guard sensor ${sensorId} gives no believable value${rejected === undefined ? "" : ` (last rejected: ${rejected.reason}, ${rejected.detail})`}`,
      "Gas is held off. Look at the sensor, its power and its calibration.",
    );
  }
  return conditions;
}

function adviceFor(fault: RelayFault["kind"] | undefined): Pick<AlarmCondition, "priority" | "whatToDo"> {
  switch (fault) {
    case "does not confirm off":
      return {
        priority: "critical",
        whatToDo:
          "Gas may flow though it was told to stop: shut the vessel by hand, aerate, watch the fish. Then look at the relay.",
      };
    case "is switched on by something else":
      return {
        priority: "critical",
        whatToDo:
          "If gas flows, shut the vessel by hand, aerate, watch the fish. Look who else commands the relay: its button, its own timers, another program on the broker.",
      };
    case "does not confirm on":
    case "drops by itself":
    case undefined:
      return {
        priority: "high",
        whatToDo: "Gas is held off. Look at the relay, its power and its network.",
      };
  }
}

export const passAlarmId = "control-pass";

export function passFailedCondition(reason: string): AlarmCondition {
  return {
    alarmId: passAlarmId,
    priority: "critical",
    onDelay_s: 0,
    cause: `a control pass failed: ${reason}`,
    whatToDo: "Gas is held off. Restart; report it.",
  };
}
