import { quoted, type KeyPath } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";

const homiePath = ["hub", "homie"];
const relayKeys = ["relay", "seriesRelay", "airPump"] as const;

/** What the keys of `hub` say against each other and against the rest. */
export function checkHub(context: CheckContext): void {
  const { view } = context;
  if (!view.has(["hub"])) return;
  const hasHomie = view.has(homiePath);
  for (const key of ["online", "things"]) {
    if (!view.has(["hub", key]) || hasHomie) continue;
    context.faultOfKey(["hub", key], {
      what: "stands without homie, so that there is nothing to tell",
      allowed: `${key} together with homie`,
      todo: `add homie: {}, or remove ${key}`,
    });
  }
  if (hasHomie) checkTree(context);
  checkOnline(context);
}

/** Nobody else may speak where our devices stand. */
function checkTree(context: CheckContext): void {
  const { view } = context;
  const siteId = view.text(["site", "id"]) ?? "";
  const domain = view.text([...homiePath, "domain"]) ?? "homie";
  const rootId = view.text([...homiePath, "deviceId"]) ?? siteId;
  const base = `${domain}/5`;
  const baseTopic = view.text(["broker", "baseTopic"]);
  if (baseTopic !== undefined && (isAtOrBelow(baseTopic, base) || isAtOrBelow(base, baseTopic))) {
    context.fault(["broker", "baseTopic"], {
      what: `meets ${base}, where the devices of hub.homie stand`,
      allowed: "a topic outside of it",
      todo: "choose another baseTopic, or another hub.homie.domain",
    });
  }
  const own = ownDevices(context, rootId).map((deviceId) => `${base}/${deviceId}`);
  for (const path of foreignTopics(context)) {
    const topic = view.text(path);
    if (topic === undefined || !own.some((device) => isAtOrBelow(topic, device))) continue;
    context.fault(path, {
      what: `is ${quoted(topic)}, below a device that hub.homie publishes`,
      allowed: "a topic of another device",
      todo: "choose another topic, or another hub.homie.deviceId",
    });
  }
}

function ownDevices({ view }: CheckContext, rootId: string): readonly string[] {
  const kinds = { vessels: "vessel", valves: "valve", tanks: "tank" } as const;
  return [
    rootId,
    ...Object.entries(kinds).flatMap(([section, kind]) =>
      view.keys([section]).map((id) => `${rootId}-${kind}-${id}`),
    ),
  ];
}

function checkOnline(context: CheckContext): void {
  const { view } = context;
  const path = ["hub", "online", "topic"];
  const topic = view.text(path);
  if (topic === undefined) return;
  const base = view.text(["broker", "baseTopic"]) ?? `fizzward/${view.text(["site", "id"]) ?? ""}`;
  const commands = foreignTopics(context).filter((other) => other.at(-1) === "commandTopic");
  if (isAtOrBelow(topic, base) || commands.some((other) => view.text(other) === topic)) {
    context.fault(path, {
      what: `is ${quoted(topic)}, where this daemon itself speaks`,
      allowed: "the topic at which the hub says that it is up",
      todo: "look it up in the hub's settings",
    });
  }
}

/** The topics of sensors and relays. */
function foreignTopics({ view }: CheckContext): readonly KeyPath[] {
  return [
    ...view.keys(["sensors"]).map((sensor) => ["sensors", sensor, "topic"]),
    ...view
      .keys(["valves"])
      .flatMap((valve) => relayKeys.map((key) => ["valves", valve, key]))
      .flatMap((relay) => [
        [...relay, "commandTopic"],
        [...relay, "stateTopic"],
        [...relay, "statusQuery", "topic"],
      ]),
  ];
}

function isAtOrBelow(topic: string, base: string): boolean {
  return topic === base || topic.startsWith(`${base}/`);
}
