import { connectAsync, type MqttClient } from "mqtt";
import { setTimeout as sleep } from "node:timers/promises";
import { homieFault } from "./homie-rules.js";

/** What a client that knows nothing but the Homie 5 convention makes of what is on the wire. */
export interface HomieController {
  /** The devices that exist: those with a state. */
  devices(): ReadonlyMap<string, SeenDevice>;
  /** The state that counts: a lost root takes its children along. */
  stateOf(deviceId: string): string | undefined;
  /** Root with its children, as the descriptions say. */
  tree(rootId: string): { readonly root: SeenDevice; readonly children: readonly SeenDevice[] };
  value(deviceId: string, nodeId: string, propertyId: string): string | undefined;
  target(deviceId: string, nodeId: string, propertyId: string): string | undefined;
  alerts(deviceId: string): ReadonlyMap<string, string>;
  /** Log messages as they came: device, level, text. */
  readonly log: readonly { readonly deviceId: string; readonly level: string; readonly text: string }[];
  /** Momentary events: topic and payload. */
  readonly events: readonly { readonly topic: string; readonly payload: string }[];
  /** As a controller sets a property: not retained. */
  set(deviceId: string, nodeId: string, propertyId: string, payload: string, qos?: 0 | 2): Promise<void>;
  /** Any message, as anyone at the broker may send it. */
  publish(topic: string, payload: string, options?: { readonly retain?: boolean }): Promise<void>;
  /** What holds at the device's topics: values, targets and alerts. */
  attributesOf(deviceId: string): ReadonlyMap<string, string>;
  /** Everything that went by, in order. */
  readonly passed: readonly { readonly topic: string; readonly payload: string }[];
  /** Every breach of the convention, in words. */
  breaches(): readonly string[];
  /** Resolves once the condition holds; fails with what is seen after the time. */
  until(what: string, holds: () => boolean, timeout_ms?: number): Promise<void>;
  close(): Promise<void>;
}

export interface SeenProperty {
  readonly name?: string;
  readonly datatype: string;
  readonly format?: string;
  readonly unit?: string;
  readonly settable?: boolean;
  readonly retained?: boolean;
}

export interface SeenDescription {
  readonly homie: string;
  readonly version: number;
  readonly name?: string;
  readonly type?: string;
  readonly nodes?: Readonly<
    Record<string, { readonly name?: string; readonly properties?: Readonly<Record<string, SeenProperty>> }>
  >;
  readonly children?: readonly string[];
  readonly root?: string;
  readonly parent?: string;
}

export interface SeenDevice {
  readonly deviceId: string;
  state: string | undefined;
  /** Every state that it went through, in order. */
  readonly states: string[];
  description: SeenDescription | undefined;
  readonly attributes: Map<string, string>;
}

/** Watches every device of the domain. */
export async function watchHomie(address: string, domain = "homie"): Promise<HomieController> {
  const seen = new Map<string, SeenDevice>();
  const breaches: string[] = [];
  const log: { deviceId: string; level: string; text: string }[] = [];
  const passed: { topic: string; payload: string }[] = [];
  const events: { topic: string; payload: string }[] = [];
  const client: MqttClient = await connectAsync(address, {
    protocolVersion: 5,
    clientId: `homie-controller-${Math.random()}`,
    reconnectPeriod: 50,
  });
  client.on("error", () => undefined);
  // Subscribed to everything of a device at once, which the convention allows; the state alone says that it exists.
  client.on("message", (topic, payload, packet) => {
    const [, , deviceId = "", ...rest] = topic.split("/");
    passed.push({ topic, payload: payload.toString("utf8") });
    if (deviceId.startsWith("$")) return;
    if (rest.at(-1) === "set") {
      return;
    }
    hear(deviceId, rest, payload.toString("utf8"), topic, packet.retain);
    const isText = Buffer.from(payload.toString("utf8"), "utf8").equals(payload);
    if (!isText) breaches.push(`${topic}: no UTF-8`);
    if (payload.subarray(0, 3).equals(Buffer.from([0xef, 0xbb, 0xbf]))) breaches.push(`${topic}: a BOM`);
  });
  await client.subscribeAsync(`${domain}/5/#`, { qos: 2 });

  function hear(
    deviceId: string,
    rest: readonly string[],
    text: string,
    topic: string,
    isKept: boolean,
  ): void {
    const device = seen.get(deviceId) ?? {
      deviceId,
      state: undefined,
      states: [],
      description: undefined,
      attributes: new Map<string, string>(),
    };
    seen.set(deviceId, device);
    const [first = "", second = "", third] = rest;
    if (!/^[a-z0-9-]+$/.test(deviceId)) breaches.push(`${topic}: the id of a device`);
    if (first === "$state") {
      device.state = text === "" ? undefined : text;
      if (text === "") {
        device.description = undefined;
        return;
      }
      device.states.push(text);
      if (!["init", "ready", "disconnected", "sleeping", "lost"].includes(text)) {
        breaches.push(`${topic}: the state ${text}`);
      }
      // What the broker has kept comes in any order.
      if (!isKept && text === "ready" && device.description === undefined)
        breaches.push(`${topic}: ready without description`);
      return;
    }
    if (first === "$description") {
      if (text === "") device.description = undefined;
      else describe(device, text, topic);
      return;
    }
    if (first === "$log") {
      log.push({ deviceId, level: second, text });
      return;
    }
    const key = rest.join("/");
    if (text === "") {
      device.attributes.delete(key);
      return;
    }
    if (first === "$alert") {
      if (!/^[a-z0-9-]+$/.test(second) || third !== undefined) breaches.push(`${topic}: the id of an alert`);
      device.attributes.set(key, text);
      return;
    }
    const property = device.description?.nodes?.[first]?.properties?.[second];
    if (property === undefined) {
      // On a new subscription the broker may send a value before its description.
      device.attributes.set(key, text);
      return;
    }
    if (third !== undefined && third !== "$target") breaches.push(`${topic}: an attribute that is not known`);
    if (property.retained === false) events.push({ topic, payload: text });
    else device.attributes.set(key, text);
  }

  function describe(device: SeenDevice, text: string, topic: string): void {
    let next: SeenDescription;
    try {
      next = JSON.parse(text) as SeenDescription;
    } catch {
      breaches.push(`${topic}: no JSON`);
      return;
    }
    const before = device.description;
    if (before !== undefined && JSON.stringify(before) !== JSON.stringify(next)) {
      if (next.version <= before.version) breaches.push(`${topic}: changed without a higher version`);
      if (device.state === "ready") breaches.push(`${topic}: changed while ready`);
    }
    device.description = next;
  }

  /** What can only be judged once everything has come. */
  function standing(): readonly string[] {
    const found: string[] = [];
    for (const { deviceId, state, description, attributes } of seen.values()) {
      if (state === undefined) {
        if (attributes.size > 0)
          found.push(`${deviceId}: has no state but ${[...attributes.keys()].join(", ")}`);
        continue;
      }
      if (description === undefined) continue;
      if (!/^5\.\d+$/.test(description.homie)) found.push(`${deviceId}: homie is ${description.homie}`);
      if (!Number.isInteger(description.version)) found.push(`${deviceId}: version is no integer`);
      if (description.root !== undefined) {
        const root = seen.get(description.parent ?? description.root);
        if (root?.description?.children?.includes(deviceId) !== true)
          found.push(`${deviceId}: not a child of its root`);
      }
      for (const child of description.children ?? []) {
        if (seen.get(child)?.description === undefined) found.push(`${deviceId}: child ${child} is missing`);
      }
      for (const [nodeId, node] of Object.entries(description.nodes ?? {})) {
        if (!/^[a-z0-9-]+$/.test(nodeId)) found.push(`${deviceId}/${nodeId}: the id of a node`);
        for (const [propertyId, property] of Object.entries(node.properties ?? {})) {
          const place = `${deviceId}/${nodeId}/${propertyId}`;
          if (!/^[a-z0-9-]+$/.test(propertyId)) found.push(`${place}: the id of a property`);
          const ofValue = attributes.get(`${nodeId}/${propertyId}`);
          const ofTarget = attributes.get(`${nodeId}/${propertyId}/$target`);
          for (const payload of [ofValue, ofTarget]) {
            const fault = homieFault(property, payload);
            if (fault !== undefined) found.push(`${place}: ${fault}`);
          }
        }
      }
      for (const key of attributes.keys()) {
        const [nodeId = "", propertyId = ""] = key.split("/");
        if (nodeId !== "$alert" && description.nodes?.[nodeId]?.properties?.[propertyId] === undefined) {
          found.push(`${deviceId}/${key}: not in the description`);
        }
      }
    }
    return found;
  }

  const device = (deviceId: string): SeenDevice => {
    const found = seen.get(deviceId);
    if (found === undefined)
      throw new Error(`no device ${deviceId}; there are ${[...seen.keys()].join(", ")}`);
    return found;
  };
  return {
    devices: () => new Map([...seen].filter(([, { state }]) => state !== undefined)),
    stateOf: (deviceId) => {
      const own = seen.get(deviceId);
      const root = own?.description?.root;
      return root !== undefined && seen.get(root)?.state === "lost" ? "lost" : own?.state;
    },
    tree: (rootId) => ({
      root: device(rootId),
      children: (device(rootId).description?.children ?? []).map(device),
    }),
    value: (deviceId, nodeId, propertyId) => seen.get(deviceId)?.attributes.get(`${nodeId}/${propertyId}`),
    target: (deviceId, nodeId, propertyId) =>
      seen.get(deviceId)?.attributes.get(`${nodeId}/${propertyId}/$target`),
    alerts: (deviceId) =>
      new Map(
        [...(seen.get(deviceId)?.attributes ?? [])].flatMap(([key, text]) =>
          key.startsWith("$alert/") ? [[key.slice("$alert/".length), text] as const] : [],
        ),
      ),
    log,
    events,
    passed,
    attributesOf: (deviceId) => seen.get(deviceId)?.attributes ?? new Map<string, string>(),
    publish: async (topic, payload, options) => {
      await client.publishAsync(topic, payload, { qos: 1, retain: options?.retain === true });
    },
    set: async (deviceId, nodeId, propertyId, payload, qos = 2) => {
      await client.publishAsync(`${domain}/5/${deviceId}/${nodeId}/${propertyId}/set`, payload, {
        qos,
        retain: false,
      });
    },
    breaches: () => [...breaches, ...standing()],
    until: async (what, holds, timeout_ms = 15_000) => {
      const end = Date.now() + timeout_ms;
      while (!holds()) {
        await sleep(10);
        if (Date.now() < end) continue;
        const states = [...seen.values()].map(({ deviceId, state }) => `${deviceId} ${state ?? "gone"}`);
        throw new Error(`not within ${timeout_ms} ms: ${what}; ${states.join(", ")}`);
      }
    },
    close: () => client.endAsync(true),
  };
}
