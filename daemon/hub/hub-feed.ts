import type { PublishedVersion } from "../../lib/hub/homie-description.js";
import { textPayload } from "../../lib/hub/homie-payload.js";
import type { PropertyForm } from "../../lib/hub/property.js";
import type { BusMessage, MessageBus } from "../ports/message-bus.js";
import type { SiteStore } from "../ports/site-store.js";
import { deviceTopics } from "../device-topics.js";
import type { SiteModel } from "../site-model.js";
import type { SiteStatus } from "../site-status.js";
import { homieAlerts } from "./hub-alerts.js";
import { createHubCommands, type HubCommandPorts, type HubOutcome, type HubRequest } from "./hub-commands.js";
import type { HubTree } from "./hub-device.js";
import { hubSnapshotName, readHubMemory, type HubMemory } from "./hub-memory.js";
import {
  homieDevices,
  retainedTopicsOf,
  valuePayload,
  type HomieDevice,
  type HomieValue,
} from "./homie-device.js";
import { deviceTopic, propertyTopic, type HomiePlace } from "./homie-topics.js";
import { createPacedSender } from "./paced-sender.js";
import { hubTree } from "./site-device.js";

export interface HubFeed {
  /** Tells what changed; called after each control pass. */
  publish(status: SiteStatus): void;
  /** Says of every device that it is gone in an orderly way. The bus is still to be stopped. */
  stop(): Promise<void>;
}

export interface HubFeedPorts extends Omit<HubCommandPorts, "bus"> {
  /** A connection of its own: what a hub does or a broker forbids here moves no valve. */
  readonly bus: MessageBus;
  readonly store: Pick<SiteStore, "saveSnapshot">;
}

export interface HubFeedOptions {
  /** Undefined: nothing is told any more, and what an earlier run told is cleared. */
  readonly homie: HomiePlace | undefined;
  /** What a hub says when it comes up: everything is told again. */
  readonly online: { readonly topic: string; readonly payload: string } | undefined;
  /** Further retained messages, by their topics. */
  readonly further: (tree: HubTree) => ReadonlyMap<string, string>;
}

/** Figures of a value or a text move slowly for a hub; states do not wait. */
const leastGap_ms = 10_000;
const alertTextGap_ms = 60_000;
/** A hub that restarts again and again gets the whole not more often. */
const retoldEvery_ms = 5000;
const longestWait_ms = 30_000;
const longestOnline_bytes = 1000;

/** The site as devices of the Homie convention, kept up to date with the broker. */
export function createHubFeed(
  ports: HubFeedPorts,
  options: HubFeedOptions,
  model: () => SiteModel,
  stored: unknown,
): HubFeed {
  const { bus, machineClock, clock, store, logger } = ports;
  const { homie, online, further } = options;
  const sender = createPacedSender(bus, () => machineClock.monotonic_ms());
  const commands = createHubCommands({ ...ports, bus }, tellOutcome);
  let memory = readHubMemory(stored);
  let seen: { readonly model: SiteModel; readonly told: ToldTree } | undefined;
  /** Of the devices that are complete on this connection, by what they were described. */
  let described = new Map<string, string>();
  let alertsTold: ReadonlySet<string> = new Set();
  let complete: ToldTree | undefined;
  let telling: Promise<void> | undefined;
  let connections = 0;
  let failures = 0;
  let nextTry_monotonicMs = Number.NEGATIVE_INFINITY;
  let told_monotonicMs = Number.NEGATIVE_INFINITY;
  let isToldAgainWanted = false;
  let isStopping = false;

  bus.onStateChange((state) => {
    if (state.kind !== "connected") return;
    forgetTold();
    connections += 1;
    failures = 0;
    nextTry_monotonicMs = Number.NEGATIVE_INFINITY;
  });
  if (online !== undefined) bus.subscribe(online.topic, 1, hearHub);
  // Before the first connection, so that it begins with them.
  follow(model());

  return { publish, stop };

  function publish(status: SiteStatus): void {
    if (isStopping || bus.state().kind !== "connected" || telling !== undefined) return;
    const tree = follow(model());
    const now_monotonicMs = machineClock.monotonic_ms();
    if (isToldAgainWanted && now_monotonicMs - told_monotonicMs >= retoldEvery_ms) forgetTold();
    if (complete === tree) {
      tellChanges(tree, status);
      return;
    }
    if (now_monotonicMs < nextTry_monotonicMs) return;
    telling = tell(tree, status)
      .catch((error: unknown) => {
        logger.error({ reason: String(error) }, "the hub could not be told of the site");
        return false;
      })
      .then((isDone) => {
        telling = undefined;
        failures = isDone ? 0 : failures + 1;
        nextTry_monotonicMs = isDone
          ? Number.NEGATIVE_INFINITY
          : machineClock.monotonic_ms() + Math.min(longestWait_ms, 500 * 2 ** failures);
      });
  }

  function forgetTold(): void {
    isToldAgainWanted = false;
    sender.forget();
    described = new Map();
    complete = undefined;
  }

  /** The tree of a model; the very same object as long as nothing that a hub is told of the site itself changes. */
  function follow(next: SiteModel): ToldTree {
    if (seen?.model === next) return seen.told;
    const tree = homie === undefined ? undefined : hubTree(next, homie.rootId);
    const devices =
      tree === undefined || homie === undefined
        ? []
        : homieDevices(tree, homie.domain, memory.versions, clock.now_epochMs());
    const told: ToldTree = { tree, devices, further: tree === undefined ? new Map() : further(tree) };
    if (tree !== undefined && homie !== undefined) commands.listen(tree, homie.domain);
    const isSame = seen !== undefined && contentOf(seen.told) === contentOf(told);
    if (isSame && complete === seen?.told) complete = told;
    seen = { model: next, told };
    return told;
  }

  /** Everything in the order of the convention; false where the connection did not take it. */
  async function tell({ tree, devices, further: documents }: ToldTree, status: SiteStatus): Promise<boolean> {
    const alerts =
      tree === undefined || homie === undefined
        ? new Map<string, string>()
        : homieAlerts(status.alarms, tree, homie.domain);
    const current = new Set([...devices.flatMap(retainedTopicsOf), ...documents.keys(), ...alerts.keys()]);
    // What was ours once may be a relay's by now, and an empty message is a command to many a relay.
    const ofDevices = deviceTopics(model());
    const stale = memory.retained.filter((topic) => !current.has(topic) && !ofDevices.has(topic));
    const connection = connections;
    // On disk before it is with the broker: whatever happens now, a later run knows what to clear.
    await remember({
      versions: { ...memory.versions, ...versionsOf(devices) },
      retained: [...new Set([...memory.retained, ...current])],
    });
    alertsTold = new Set(alerts.keys());
    const due = devices.filter(({ device, description }) => described.get(device.deviceId) !== description);
    const root = devices.at(-1);
    const rootIsDue = root !== undefined && due.includes(root);
    if (rootIsDue && !(await setState(root, "init"))) return false;
    for (const device of due) if (!(await tellDevice(device, status, alerts))) return false;
    const rest = [...documents, ...[...alerts].filter(([topic]) => sender.last(topic) === undefined)];
    if (!(await all(rest.map(([topic, payload]) => sender.send(topic, payload))))) return false;
    if (rootIsDue && !(await setState(root, "ready"))) return false;
    for (const topic of statesFirst(stale)) if (!(await sender.send(topic, undefined))) return false;
    await remember({ ...memory, retained: [...current] });
    // What was told on an earlier connection may be lost.
    if (connection !== connections) return false;
    complete = seen?.told;
    told_monotonicMs = machineClock.monotonic_ms();
    logger.info({ devices: devices.length, cleared: stale.length }, "the hub feed is complete");
    return true;
  }

  /** A child becomes ready at once; the root is ready when all of them are. */
  async function tellDevice(
    homieDevice: HomieDevice,
    status: SiteStatus,
    alerts: ReadonlyMap<string, string>,
  ): Promise<boolean> {
    if (isStopping) return false;
    const { device, descriptionTopic, description, values } = homieDevice;
    const isRoot = device.kind === "site";
    if (!isRoot && !(await setState(homieDevice, "init"))) return false;
    if (!(await sender.send(descriptionTopic, description))) return false;
    const own = `${descriptionTopic.slice(0, -"$description".length)}$alert/`;
    const isTaken = await all([
      ...values.flatMap(({ property, topic, targetTopic }) => {
        const payload = valuePayload({ property, topic, targetTopic }, status);
        return targetTopic === undefined
          ? [sender.send(topic, payload)]
          : [sender.send(targetTopic, payload), sender.send(topic, payload)];
      }),
      ...[...alerts]
        .filter(([topic]) => topic.startsWith(own))
        .map(([topic, text]) => sender.send(topic, text)),
    ]);
    if (!isTaken || (!isRoot && !(await setState(homieDevice, "ready")))) return false;
    described.set(device.deviceId, description);
    return true;
  }

  function setState({ stateTopic }: HomieDevice, state: "init" | "ready" | "disconnected"): Promise<boolean> {
    return isStopping && state !== "disconnected" ? Promise.resolve(false) : sender.send(stateTopic, state);
  }

  function tellChanges({ tree, devices }: ToldTree, status: SiteStatus): void {
    if (tree === undefined || homie === undefined) return;
    for (const { values } of devices) for (const value of values) offerValue(value, status);
    const alerts = homieAlerts(status.alarms, tree, homie.domain);
    const gone = [...alertsTold].filter((topic) => !alerts.has(topic));
    if (gone.length > 0 || [...alerts.keys()].some((topic) => !alertsTold.has(topic))) {
      const others = memory.retained.filter((topic) => !gone.includes(topic));
      void remember({ ...memory, retained: [...new Set([...others, ...alerts.keys()])] });
      alertsTold = new Set(alerts.keys());
    }
    for (const topic of gone) void clear(topic);
    for (const [topic, text] of alerts) sender.offer(topic, text, alertTextGap_ms);
  }

  /** What is not cleared now is cleared with the next telling of the whole. */
  async function clear(topic: string): Promise<void> {
    if (deviceTopics(model()).has(topic) || (await sender.send(topic, undefined))) return;
    await remember({ ...memory, retained: [...new Set([...memory.retained, topic])] });
    complete = undefined;
  }

  /** "The $target attribute must either be used for every value update, or it must never be used." */
  function offerValue(value: HomieValue, status: SiteStatus): void {
    const { property, topic, targetTopic } = value;
    const payload = valuePayload(value, status);
    const waits = payload !== undefined && !property.settable && !isState(property.form);
    const gap_ms = waits ? leastGap_ms : 0;
    if (targetTopic !== undefined && !isSameValue(property.form, sender.last(targetTopic), payload)) {
      sender.offer(targetTopic, payload, gap_ms);
    }
    sender.offer(topic, payload, gap_ms);
  }

  function tellOutcome({ device, property, text }: HubRequest, outcome: HubOutcome): void {
    if (homie === undefined) return;
    const topic = propertyTopic(homie.domain, device.deviceId, property);
    const { kind } = outcome;
    logger.info({ topic, outcome: kind }, "a command of a hub came");
    if (outcome.kind === "refused") {
      // The convention has no answer but the missing target; the device's log says why.
      void bus.publish({
        topic: deviceTopic(homie.domain, device.deviceId, "$log/warn"),
        payload: textPayload(`${property.name}: ${outcome.reason}`),
        qos: 0,
        retain: false,
      });
    } else if (property.retained) {
      void sender.send(`${topic}/$target`, text);
    } else {
      void bus.publish({ topic, payload: text, qos: 0, retain: false });
    }
  }

  function hearHub({ payload, retained }: BusMessage): void {
    // What the broker kept is told after each connection, when everything is told anyway.
    if (retained || payload.byteLength > longestOnline_bytes) return;
    if (new TextDecoder().decode(payload) === online?.payload) isToldAgainWanted = true;
  }

  async function remember(next: HubMemory): Promise<void> {
    if (JSON.stringify(next) === JSON.stringify(memory)) return;
    memory = next;
    await store.saveSnapshot(hubSnapshotName, next);
  }

  async function stop(): Promise<void> {
    isStopping = true;
    await telling;
    if (bus.state().kind !== "connected") return;
    const devices = seen?.told.devices ?? [];
    const root = devices.at(-1);
    await all(devices.slice(0, -1).map((device) => setState(device, "disconnected")));
    if (root !== undefined) await setState(root, "disconnected");
  }
}

interface ToldTree {
  readonly tree: HubTree | undefined;
  /** The root last. */
  readonly devices: readonly HomieDevice[];
  readonly further: ReadonlyMap<string, string>;
}

function contentOf({ devices, further }: ToldTree): string {
  return JSON.stringify([devices.map(({ description }) => description), [...further]]);
}

function versionsOf(devices: readonly HomieDevice[]): Readonly<Record<string, PublishedVersion>> {
  return Object.fromEntries(devices.map(({ device, published }) => [device.deviceId, published]));
}

/** "Remove the retained $state attribute first. The device will cease to exist." */
function statesFirst(topics: readonly string[]): readonly string[] {
  const isState = (topic: string): boolean => topic.endsWith("/$state");
  return [...topics.filter(isState), ...topics.filter((topic) => !isState(topic))];
}

/** What has states is told at once; what has figures moves all the time. */
function isState({ kind }: PropertyForm): boolean {
  return kind === "boolean" || kind === "enum" || kind === "integer";
}

/** "Functional equivalent, not necessarily a byte-by-byte equality." */
function isSameValue(form: PropertyForm, a: string | undefined, b: string | undefined): boolean {
  if (a === undefined || b === undefined) return a === b;
  return form.kind === "integer" || form.kind === "float" ? Number(a) === Number(b) : a === b;
}

async function all(sendings: readonly Promise<boolean>[]): Promise<boolean> {
  return (await Promise.all(sendings)).every(Boolean);
}
