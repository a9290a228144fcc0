import type { AlarmCondition } from "../lib/alarm/alarm-condition.js";
import { relaysOf, type ValveMemory } from "../lib/control/control-step.js";
import { silenceDelay_s } from "../lib/control/first-word.js";
import { describeRelayFault, type RelayFault } from "../lib/control/relay-driver.js";
import type { RelayRules } from "../lib/control/valve-rules.js";
import type { JournalView } from "../lib/journal/journal-entry.js";
import { subjectsOfSensor, subjectsOfValve } from "./alarm-subjects.js";
import { batteryConditions } from "./battery-alarms.js";
import type { ClosedVesselLoss } from "../lib/tank/night-rest.js";
import { learningConditions } from "./tank/learning-alarms.js";
import { refusedSince } from "./sensor-inbox.js";
import type { SiteStatus } from "./site-status.js";
import type { BusState } from "./ports/message-bus.js";
import type { StoreHealth } from "./ports/site-store.js";
import type { SiteModel } from "./site-model.js";
import { endConditions } from "./supply/end-alarms.js";
import { supplyConditions } from "./supply/supply-alarms.js";
import { co2Conditions } from "./tank/tank-alarms.js";
import { roomConditions } from "./room-alarms.js";
import { tripConditions } from "./trip-alarms.js";
import { holdConditions, ratingConditions, silencedByRefill } from "./vessel-alarms.js";
import { silentPressureConditions } from "./vessel-sensor-alarms.js";
import { tankSensorConditions } from "./tank/tank-sensor-alarms.js";

interface Surroundings {
  readonly bus: BusState;
  readonly store: StoreHealth;
  readonly model: SiteModel;
  readonly memories: ReadonlyMap<string, ValveMemory>;
  readonly journal: Pick<JournalView, "latest">;
}

/** What most conditions have in common is left out: no off-delay, silenced by nothing, no latch. */
type NewCondition = Omit<AlarmCondition, "offDelay_s" | "suppressedBy" | "latch"> &
  Partial<Pick<AlarmCondition, "offDelay_s" | "suppressedBy" | "latch">>;

const brokerAlarmId = "broker";
/** Without gas plants lose a day's growth and algae gain; the next photoperiod is when that begins. A judgement. */
const untilPlantsMissIt_min = 720;
/** Fish in too much CO2 or without oxygen: look at once. A judgement. */
const untilFishSuffer_min = 10;
/** More than a relay is sent before its silence counts as a fault, and the time in which its drops are counted. */
const commandsUntilFault = 5;
const dropsWithin_s = 600;
const gasHeldOff = "The tanks get no CO2: plants stop growing well, algae gain. The fish are in no danger.";

/** Every condition that needs a person at this instant, and which of the others silences it. */
export function conditionsFor(
  status: Omit<SiteStatus, "alarms">,
  { bus, store, model, memories, journal }: Surroundings,
): readonly AlarmCondition[] {
  const conditions: AlarmCondition[] = [];
  const add = (condition: NewCondition): void => {
    conditions.push({ offDelay_s: 0, suppressedBy: [], latch: "none", ...condition });
  };
  tripConditions(status, model).forEach(add);
  ratingConditions(status, model, journal).forEach(add);
  roomConditions(status, model, brokerAlarmId).forEach(add);
  holdConditions(status.holds, model).forEach(add);
  co2Conditions(status.tanks, model, status.trips).forEach(add);
  tankSensorConditions(status.tanks, status.sensors, model, brokerAlarmId).forEach(add);
  batteryConditions(status, model).forEach(add);
  learningConditions(status.learnt, model, status.trips, closedLoss(status)).forEach(add);
  [
    ...supplyConditions(status.supplies, model, status.at_epochMs),
    ...endConditions(status.ends, model),
    ...silentPressureConditions(status.sensors, model, brokerAlarmId),
  ]
    .map((condition) => silencedByRefill(condition, status.holds))
    .forEach(add);
  for (const valve of model.valves.values()) {
    const { valveId } = valve.rules;
    const subjects = subjectsOfValve(model, valveId);
    const memory = memories.get(valveId);
    for (const relay of relaysOf(valve.rules)) {
      const state = memory?.relays[relay.relayId];
      const fault = state === undefined ? undefined : describeRelayFault(relay, state);
      if (fault === undefined) continue;
      add({
        alarmId: `relay/${relay.relayId}`,
        subjects,
        cause: fault,
        onDelay_s: 0,
        offDelay_s: relayOffDelay_s(state?.fault?.kind, relay),
        ...adviceFor(state?.fault?.kind),
      });
    }
    if (valve.rules.acceptedWithoutAutoOff) {
      add({
        alarmId: `without-auto-off/${valveId}`,
        priority: "low",
        subjects,
        cause: `valve ${valveId} opens though nobody has tried that its relay drops by itself, as the config accepts`,
        consequence:
          "When machine, network and broker fail together, nothing closes the valve: gas flows until the vessel is empty.",
        whatToDo:
          "Use a relay with auto-off and power-on state off, run `commission`, and take acceptWithoutAutoOff out of the config.",
        allowableResponse_min: 30 * 1440,
        onDelay_s: 0,
      });
    }
  }
  if (status.clock.kind === "implausible") {
    add({
      alarmId: "clock",
      priority: "high",
      subjects: [],
      cause: `the clock is not plausible: ${status.clock.reason}`,
      consequence: gasHeldOff,
      whatToDo:
        "Gas is held off. Let the machine get the time from the network, or check the time and run `accept-clock`.",
      allowableResponse_min: untilPlantsMissIt_min,
      onDelay_s: 0,
    });
  }
  if (store.kind === "failing") {
    add({
      alarmId: "store",
      priority: "high",
      subjects: [],
      cause: `the store fails: ${store.reason}`,
      consequence: `What is measured and done is not kept. ${gasHeldOff}`,
      whatToDo:
        "Gas is held off once that has lasted a minute. Make room on the disk or mend it; a disk that fails may be about to end.",
      allowableResponse_min: untilPlantsMissIt_min,
      onDelay_s: 0,
    });
  }
  if (bus.kind === "disconnected") {
    add({
      alarmId: brokerAlarmId,
      priority: "high",
      subjects: [],
      cause: `the broker is lost: ${bus.reason}`,
      consequence: `No sensor is heard and no relay can be told; a relay that is on drops by its own auto-off. ${gasHeldOff}`,
      whatToDo: "Gas is held off. Look at the broker and the network.",
      allowableResponse_min: untilPlantsMissIt_min,
      onDelay_s: 10,
    });
  }
  for (const { valveId, decision } of status.valves) {
    const subjects = subjectsOfValve(model, valveId);
    for (const { rule, reason } of decision.blocks) {
      if (rule === "dead-man not armed") {
        add({
          alarmId: `dead-man/${valveId}`,
          priority: "high",
          subjects,
          cause: `valve ${valveId}: ${reason}`,
          consequence: gasHeldOff,
          whatToDo:
            "Gas is held off. Look at the broker: it must take a connection for each relay, with a Last Will.",
          allowableResponse_min: untilPlantsMissIt_min,
          onDelay_s: 10,
          suppressedBy: [brokerAlarmId],
        });
      }
      if (rule === "temperature above the limit") {
        add({
          alarmId: `temperature/${valveId}`,
          priority: "high",
          subjects,
          cause: `valve ${valveId}: ${reason}`,
          consequence: "Warm water holds less oxygen while the animals need more of it: they can suffocate.",
          whatToDo:
            "Gas is held off: warm water holds less oxygen. Aerate, cool the tank, look at the heater.",
          allowableResponse_min: 60,
          onDelay_s: 0,
        });
      }
    }
  }
  const guardSensorIds = new Set([...model.valves.values()].flatMap((valve) => valve.rules.guardSensorIds));
  for (const sensorId of guardSensorIds) {
    const view = status.sensors.find((candidate) => candidate.sensorId === sensorId);
    if (view?.freshness.kind === "fresh" || view?.isAwaitedAgain === true) continue;
    const rejected = refusedSince(view);
    add({
      alarmId: `guard-silent/${sensorId}`,
      priority: "high",
      subjects: subjectsOfSensor(model, sensorId),
      cause: `guard sensor ${sensorId} gives no believable value${rejected === undefined ? "" : ` (last rejected: ${rejected.reason}, ${rejected.detail})`}`,
      consequence: `Nothing watches what it measured. ${gasHeldOff}`,
      whatToDo: "Gas is held off. Look at the sensor, its power and its calibration.",
      allowableResponse_min: untilPlantsMissIt_min,
      onDelay_s: view === undefined ? 0 : silenceDelay_s(view.firstWord),
      suppressedBy: [brokerAlarmId],
    });
  }
  return conditions;
}

/** A relay is tried again after its rest: one that fails again has not been well in between, and calls once, not at each try. */
function relayOffDelay_s(
  fault: RelayFault["kind"] | undefined,
  { confirmWithin_s }: Pick<RelayRules, "confirmWithin_s">,
): number {
  switch (fault) {
    case "does not confirm on":
      return commandsUntilFault * confirmWithin_s + 30;
    case "drops by itself":
      return dropsWithin_s;
    case "does not confirm off":
    case "is switched on by something else":
    case undefined:
      return 0;
  }
}

type Advice = Pick<AlarmCondition, "priority" | "consequence" | "whatToDo" | "allowableResponse_min">;

function adviceFor(fault: RelayFault["kind"] | undefined): Advice {
  switch (fault) {
    case "does not confirm off":
      return {
        priority: "critical",
        consequence:
          "Gas flows, or may flow, when it must not: at night CO2 climbs, and the animals can suffocate.",
        whatToDo:
          "Gas may flow though it was told to stop: shut the vessel by hand, aerate, watch the fish. Then look at the relay.",
        allowableResponse_min: untilFishSuffer_min,
      };
    case "is switched on by something else":
      return {
        priority: "critical",
        consequence: "Gas flows when it must not: at night CO2 climbs, and the animals can suffocate.",
        whatToDo:
          "If gas flows, shut the vessel by hand, aerate, watch the fish. Look who else commands the relay: its button, its own timers, another program on the broker.",
        allowableResponse_min: untilFishSuffer_min,
      };
    case "does not confirm on":
    case "drops by itself":
    case undefined:
      return {
        priority: "high",
        consequence: gasHeldOff,
        whatToDo: "Gas is held off. Look at the relay, its power and its network.",
        allowableResponse_min: untilPlantsMissIt_min,
      };
  }
}

export const passAlarmId = "control-pass";

export function passFailedCondition(reason: string): AlarmCondition {
  return {
    alarmId: passAlarmId,
    priority: "critical",
    subjects: [],
    cause: `a control pass failed: ${reason}`,
    consequence:
      "Nothing is judged any more: every valve is told to close, and no gas flows until it is mended.",
    whatToDo: "Gas is held off. Restart; report it.",
    allowableResponse_min: 60,
    onDelay_s: 0,
    offDelay_s: 0,
    suppressedBy: [],
    latch: "none",
  };
}

/** What each vessel loses besides what its valves let through, as its gauge has it. */
function closedLoss({ supplies }: Pick<SiteStatus, "supplies">) {
  return (vesselId: string): ClosedVesselLoss | undefined => {
    const leak = supplies.find((supply) => supply.vesselId === vesselId)?.told?.estimate.leak_gPerDay;
    return leak === undefined ? undefined : { leak_gPerDay: leak.value, leakSigma_gPerDay: leak.deviation };
  };
}
