import { alarmDocuments } from "./alarms/alarm-document.js";
import { isOfNow } from "./alarms/alarm-text.js";
import { lastChargeFields } from "./charge-log/charge-document.js";
import { instantInZone } from "./cli/instant-text.js";
import { leakTestEssence, leakTestFields } from "./leak-tests/leak-test-text.js";
import type { UpkeepItem } from "../lib/upkeep/upkeep-items.js";
import type { SiteStatus } from "./site-status.js";
import { upkeepDocument } from "./upkeep/upkeep-text.js";
import type { Clock } from "./ports/clock.js";
import type { MessageBus } from "./ports/message-bus.js";
import type { BatteryView } from "./sensor-batteries.js";
import type { SensorView } from "./sensor-inbox.js";
import type { SiteModel } from "./site-model.js";
import { learntEssence, learntFields } from "./tank/learnt-document.js";
import { endFields } from "./supply/end-document.js";
import { supplyEssence, supplyFields } from "./supply/supply-document.js";
import { tankEssence, tankFields } from "./tank/tank-document.js";
import type { LearntTankStatus } from "./tank/learnt-tank-status.js";

export interface Publications {
  /** Publishes what changed, and everything at least each `repeat_s`. */
  publish(status: SiteStatus): void;
  /** Publishes the daemon's own state: "ready" while it runs, "stopped" at an orderly end. */
  publishDaemonState(state: "ready" | "stopped"): Promise<void>;
}

/** The document that the broker publishes in our name when the connection breaks. */
export function daemonWill(baseTopic: string): {
  readonly topic: string;
  readonly payload: string;
  readonly qos: 1;
  readonly retain: true;
} {
  return { topic: `${baseTopic}/daemon`, payload: JSON.stringify({ state: "lost" }), qos: 1, retain: true };
}

/** Unchanged documents go out again this often, so that the ages in them stay true. */
const repeat_s = 60;
/** Between two documents of the same topic while only numbers and ages move. */
const leastGap_s = 10;

interface Sent {
  readonly essence: string;
  readonly text: string;
  readonly at_monotonicMs: number;
}

/** One retained JSON document for each vessel, valve and tank, with units in the names and an age beside each value. */
export function createPublications(
  ports: { readonly bus: MessageBus; readonly clock: Clock },
  model: () => SiteModel,
  upkeep: () => readonly UpkeepItem[] = () => [],
): Publications {
  const { bus, clock } = ports;
  const sent = new Map<string, Sent>();
  /** Every topic that holds a retained document of ours. */
  const told = new Set<string>();
  bus.onStateChange(() => sent.clear());

  return { publish, publishDaemonState };

  function publish(status: SiteStatus): void {
    if (bus.state().kind !== "connected") return;
    const site = model();
    const documents = [...documentsOf(site, status), ...upkeepDocuments(site, status, upkeep())];
    for (const { topic, document, essence } of documents) {
      offer(`${site.baseTopic}/${topic}`, document, JSON.stringify(essence), status.at_monotonicMs);
    }
    const current = new Set(documents.map(({ topic }) => `${site.baseTopic}/${topic}`));
    for (const topic of told) {
      if (!current.has(topic)) clear(topic);
    }
  }

  /** What is no longer in the config must not stay with the broker as if it were fresh. */
  function clear(topic: string): void {
    told.delete(topic);
    sent.delete(topic);
    void bus.publish({ topic, payload: "", qos: 1, retain: true }).then((outcome) => {
      if (outcome.kind !== "sent") told.add(topic);
    });
  }

  function offer(topic: string, document: unknown, essence: string, now_monotonicMs: number): void {
    const text = JSON.stringify(document);
    const last = sent.get(topic);
    const age_s =
      last === undefined ? Number.POSITIVE_INFINITY : (now_monotonicMs - last.at_monotonicMs) / 1000;
    const due = last?.essence !== essence || age_s >= repeat_s || (age_s >= leastGap_s && last.text !== text);
    if (!due) return;
    told.add(topic);
    sent.set(topic, { essence, text, at_monotonicMs: now_monotonicMs });
    void bus.publish({ topic, payload: text, qos: 0, retain: true }).then((outcome) => {
      if (outcome.kind !== "sent") sent.delete(topic);
    });
  }

  async function publishDaemonState(state: "ready" | "stopped"): Promise<void> {
    const document = { state, at: new Date(clock.now_epochMs()).toISOString() };
    await bus.publish({
      topic: `${model().baseTopic}/daemon`,
      payload: JSON.stringify(document),
      qos: 1,
      retain: true,
    });
  }
}

interface Document {
  readonly topic: string;
  readonly document: unknown;
  /** What must be told at once when it changes. */
  readonly essence: unknown;
}

function documentsOf(site: SiteModel, status: SiteStatus): readonly Document[] {
  const sensor = (id: string | undefined): SensorView | undefined =>
    status.sensors.find((view) => view.sensorId === id);
  const learntOf = (id: string): LearntTankStatus | undefined =>
    status.learnt.find(({ tankId }) => tankId === id);
  const at = new Date(status.at_epochMs).toISOString();
  const isFresh = (id: string | undefined): boolean => sensor(id)?.freshness.kind === "fresh";
  const supplyOf = (id: string) => status.supplies.find(({ vesselId }) => vesselId === id);
  const endedOf = (id: string) => status.endedCharges.find(({ vesselId }) => vesselId === id)?.report;
  const leakTestOf = (id: string) => status.leakTests.find(({ test }) => test.vesselId === id);
  const endOf = (id: string) => status.ends.find(({ vesselId }) => vesselId === id);
  const civil = { now_epochMs: status.at_epochMs, timeZone: site.timeZone };
  const vessels = [...site.vessels].map(([vesselId, vessel]): Document => ({
    topic: `vessel/${vesselId}`,
    essence: [
      isFresh(vessel.pressureSensor),
      isFresh(vessel.temperatureSensor),
      isFresh(vessel.massSensor),
      isFresh(vessel.outletPressureSensor),
      ...supplyEssence(supplyOf(vesselId)),
      leakTestEssence(leakTestOf(vesselId)),
      endOf(vesselId)?.reason !== undefined,
      endedOf(vesselId)?.chargeId,
      endedOf(vesselId)?.ended.kind,
    ],
    document: {
      at,
      kind: vessel.kind,
      volume_L: vessel.volume_L,
      pressureGauge_bar: valueAndAge(sensor(vessel.pressureSensor)),
      temperature_degC: valueAndAge(sensor(vessel.temperatureSensor)),
      vesselMass_g: valueAndAge(sensor(vessel.massSensor)),
      outletPressureGauge_bar: valueAndAge(sensor(vessel.outletPressureSensor)),
      ...supplyFields(supplyOf(vesselId), civil),
      lastCharge: lastChargeFields(endedOf(vesselId), (at_epochMs) =>
        instantInZone(at_epochMs, site.timeZone),
      ),
      leakTest: leakTestFields(leakTestOf(vesselId), (at_epochMs) =>
        instantInZone(at_epochMs, site.timeZone),
      ),
      endOfCharge: endFields(endOf(vesselId), civil),
    },
  }));
  const valves = status.valves.map((valve): Document => {
    const rules = site.valves.get(valve.valveId)?.rules;
    const essence = {
      state: valve.reported,
      wanted: valve.decision.action,
      reason: valve.decision.reason,
      trips: status.trips
        .filter(({ subject }) => subject.id === valve.valveId || rules?.tankIds.includes(subject.id) === true)
        .map(({ cause, reason, subject }) => ({ cause, reason, subject: subject.id })),
      holds: valve.holds.map(({ kind, subject, note, since_epochMs }) => ({
        kind,
        subject: `${subject.kind}/${subject.id}`,
        note,
        since: instant(since_epochMs),
      })),
      acceptedWithoutAutoOff: rules?.acceptedWithoutAutoOff ?? false,
    };
    return {
      topic: `valve/${valve.valveId}`,
      essence: { ...essence, reason: valve.decision.gist },
      document: {
        at,
        ...essence,
        closesAt: valve.window.kind === "open" ? instant(valve.window.closes_epochMs) : null,
        opensAt: valve.window.kind === "closed" ? instant(valve.window.opens_epochMs) : null,
        overrideUntil: instant(valve.override?.until_epochMs),
      },
    };
  });
  const tanks = status.tanks.map((tank): Document => {
    const model = site.tanks.get(tank.tankId);
    return {
      topic: `tank/${tank.tankId}`,
      essence: [
        isFresh(model?.phSensorId),
        isFresh(model?.temperatureSensorId),
        ...tankEssence(tank),
        ...learntEssence(learntOf(tank.tankId)),
      ],
      document: {
        at,
        ...tankFields(tank, status.at_epochMs),
        learnt: learntFields(learntOf(tank.tankId)),
        pH: valueAndAge(sensor(model?.phSensorId)),
        temperature_degC: valueAndAge(sensor(model?.temperatureSensorId)),
      },
    };
  });
  const alarms = alarmDocuments(status.alarms.filter(isOfNow));
  const essence = alarms.map(({ id, priority, state }) => ({ id, priority, state }));
  return [...vessels, ...valves, ...tanks, { topic: "alarms", essence, document: { at, alarms } }];
}

function upkeepDocuments(
  { timeZone }: SiteModel,
  status: SiteStatus,
  items: readonly UpkeepItem[],
): readonly Document[] {
  if (items.length === 0) return [];
  const tasks = upkeepDocument(items, timeZone);
  const at = new Date(status.at_epochMs).toISOString();
  return [{ topic: "upkeep", essence: tasks, document: { at, tasks } }];
}

function valueAndAge(view: SensorView | undefined): unknown {
  if (view?.lastAccepted === undefined || view.freshness.kind === "never") return null;
  return {
    value: Number(view.lastAccepted.value.toPrecision(5)),
    age_s: Math.round(view.freshness.age_s),
    fresh: view.freshness.kind === "fresh",
    ...(view.battery === undefined ? {} : { battery: batteryFields(view.battery) }),
  };
}

function batteryFields({ value, unit, isLow, heardAt_epochMs }: BatteryView): unknown {
  return { value, unit, low: isLow, heardAt: instant(heardAt_epochMs) };
}

function instant(at_epochMs: number | undefined): string | null {
  return at_epochMs === undefined ? null : new Date(at_epochMs).toISOString();
}
