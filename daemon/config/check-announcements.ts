import { placeholdersIn } from "../../lib/alerts/template.js";
import { devicePlaceholders, propertyPlaceholders } from "../hub/hub-announcement.js";
import { homiePlace, plannedAnnouncements } from "../hub/hub-plan.js";
import { hubTree } from "../hub/site-device.js";
import { faultOfTopicName } from "../mqtt/topics.js";
import { siteModelFrom } from "../site-model.js";
import { quoted, type KeyPath } from "./config-faults.js";
import type { SiteConfig } from "./config-schema.js";
import type { CheckContext } from "./config-view.js";
import { nearestName } from "./nearest-name.js";

const listPath = ["hub", "announcements"];

/** What the templates of `hub.announcements` name. */
export function checkAnnouncements(context: CheckContext): void {
  const { view } = context;
  const count = view.length(listPath);
  if (count > 0 && !view.has(["hub", "homie"])) {
    context.faultOfKey(listPath, {
      what: "stands without homie, whose topics hold what is announced",
      allowed: "announcements together with homie",
      todo: "add homie: {}, or remove announcements",
    });
  }
  for (let index = 0; index < count; index += 1) {
    const path = [...listPath, index];
    const each = view.text([...path, "each"]);
    const names = Object.keys(each === "device" ? devicePlaceholders : propertyPlaceholders);
    checkPlaceholders(context, [...path, "topic"], names);
    checkTree(context, [...path, "payload"], names);
    if (each !== "device") continue;
    for (const key of ["datatypes", "settable", "properties"]) {
      if (!view.has([...path, "where", key])) continue;
      context.faultOfKey([...path, "where", key], {
        what: "asks for properties where each is device",
        allowed: "kinds",
        todo: "remove it, or write each: property",
      });
    }
  }
}

function checkTree(context: CheckContext, path: KeyPath, names: readonly string[]): void {
  const { view } = context;
  checkPlaceholders(context, path, names);
  for (const key of view.keys(path)) checkTree(context, [...path, key], names);
  for (let index = 0; index < view.length(path); index += 1) checkTree(context, [...path, index], names);
}

function checkPlaceholders(context: CheckContext, path: KeyPath, names: readonly string[]): void {
  const text = context.view.text(path);
  if (text === undefined) return;
  for (const name of placeholdersIn(text)) {
    if (names.includes(name)) continue;
    const nearest = nearestName(name, names);
    context.fault(path, {
      what: `holds {${name}}, which stands for nothing here`,
      allowed: `${names.map((known) => `{${known}}`).join(", ")}; a brace itself is written twice`,
      todo: nearest === undefined ? "correct it" : `did you mean {${nearest}}?`,
    });
  }
}

/**
 * What the templates make of this very site: each message has a topic of its own, at which nothing else speaks or listens. A
 * retained message at a relay's command topic would switch it.
 */
export function checkRenderedAnnouncements(context: CheckContext, config: SiteConfig): void {
  const place = homiePlace(config.hub, config.site.id);
  if (place === undefined) return;
  const taken = topicsInUse(config);
  const own = [config.broker.baseTopic, `${place.domain}/5`];
  const { things } = config.hub;
  if (things !== undefined) {
    const isTaken = [...taken].some((topic) => isAtOrBelow(topic, things.topic));
    if (isTaken || own.some((base) => isAtOrBelow(things.topic, base) || isAtOrBelow(base, things.topic))) {
      context.fault(["hub", "things", "topic"], {
        what: `is ${quoted(things.topic)}, where something else speaks or listens`,
        allowed: "a topic below which there is nothing else",
        todo: "choose another topic",
      });
    }
    own.push(things.topic);
  }
  const tree = hubTree(siteModelFrom(config), place.rootId);
  const first = new Map<string, number>();
  const told = new Set<number>();
  const fitting = new Set<number>();
  for (const { topic, index } of plannedAnnouncements(config.hub, tree, place)) {
    fitting.add(index);
    if (told.has(index)) continue;
    const before = first.get(topic);
    first.set(topic, index);
    const what = faultOfRendered(topic, before, taken, own);
    if (what === undefined) continue;
    told.add(index);
    context.fault([...listPath, index, "topic"], {
      what: `makes ${quoted(topic)}, ${what}`,
      allowed: "a topic that nothing else uses, another one for each message",
      todo: "choose another topic; {device}, {node} and {property} together tell every property apart",
    });
  }
  for (const index of config.hub.announcements.keys()) {
    if (fitting.has(index)) continue;
    context.warning([...listPath, index], {
      what: "fits nothing of this site",
      allowed: "where as its devices and properties are",
      todo: "correct where, or remove it",
    });
  }
}

function faultOfRendered(
  topic: string,
  before: number | undefined,
  taken: ReadonlySet<string>,
  own: readonly string[],
): string | undefined {
  const fault = faultOfTopicName(topic);
  if (fault !== undefined) return `and ${fault}`;
  if (topic.startsWith("$")) return "and what begins with $ is the broker's own";
  if (before !== undefined) return `which announcement ${before + 1} makes already`;
  if (taken.has(topic)) return "at which a sensor, a relay, a channel of alerts or the hub speaks or listens";
  return own.some((base) => isAtOrBelow(topic, base)) ? "where this daemon publishes" : undefined;
}

function topicsInUse({ sensors, valves, alerts, hub }: SiteConfig): ReadonlySet<string> {
  const relays = Object.values(valves).flatMap(({ relay, seriesRelay, airPump }) =>
    [relay, seriesRelay, airPump].flatMap((known) =>
      known === undefined ? [] : [known.commandTopic, known.stateTopic, known.statusQuery?.topic ?? ""],
    ),
  );
  const channels = Object.values(alerts.channels).map((channel) =>
    channel.kind === "mqtt" ? channel.topic : "",
  );
  return new Set([
    ...Object.values(sensors).flatMap(({ topic, battery }) => [topic, battery?.topic ?? ""]),
    ...relays,
    ...channels,
    hub.online?.topic ?? "",
  ]);
}

function isAtOrBelow(topic: string, base: string): boolean {
  return topic === base || topic.startsWith(`${base}/`);
}
