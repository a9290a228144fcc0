import { alarmPriorities } from "../../lib/alarm/alarm-condition.js";
import { placeholders } from "../../lib/alerts/alert-message.js";
import { placeholdersIn } from "../../lib/alerts/template.js";
import { quoted, type KeyPath } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";
import { nearestName } from "./nearest-name.js";

const ofMessages = Object.keys(placeholders);
const subjectSections = { vessel: "vessels", tank: "tanks", valve: "valves", sensor: "sensors" } as const;
type SubjectKind = keyof typeof subjectSections;

/** What the keys of `alerts` say against each other and against the rest. */
export function checkAlerts(context: CheckContext): void {
  for (const id of context.view.keys(["alerts", "channels"]))
    checkChannel(context, ["alerts", "channels", id]);
  const routes = context.view.length(["alerts", "routes"]);
  for (let index = 0; index < routes; index += 1) checkRoute(context, ["alerts", "routes", index]);
  checkChannels(context, ["alerts", "digest", "to"]);
  warnOfUntoldCritical(context, routes);
}

function checkChannel(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const file = [...path, "secretFile"];
  const variable = [...path, "secretVariable"];
  if (view.has(file) && view.has(variable)) {
    context.faultOfKey(variable, {
      what: `stands beside secretFile (line ${view.positionOfKey(file).line})`,
      allowed: "one of the two",
      todo: "remove one",
    });
  }
  const hasSecret = view.has(file) || view.has(variable);
  const kind = view.text([...path, "kind"]);
  const isPlain =
    view.text([...path, "url"])?.startsWith("http://") === true ||
    view.text([...path, "encryption"]) === "none";
  if (isPlain && view.has([...path, "caFile"])) {
    context.faultOfKey([...path, "caFile"], {
      what: "stands at a channel that is not encrypted, so that no certificate is looked at",
      allowed: "caFile with an address that begins with https://, or with encryption starttls or tls",
      todo: "encrypt the channel, or remove caFile",
    });
  }
  if (kind === "webhook") {
    checkUrl(context, [...path, "url"], hasSecret);
    for (const name of view.keys([...path, "headers"])) {
      checkPlaceholders(context, [...path, "headers", name], hasSecret, ["secret"]);
    }
  }
  if (kind === "smtp") {
    checkPlaceholders(context, [...path, "subject"], hasSecret);
    checkPlaceholders(context, [...path, "text"], hasSecret);
    checkMailLogin(context, path, hasSecret);
  }
  if (kind === "mqtt") checkTopic(context, [...path, "topic"]);
  checkTree(context, [...path, "body"]);
}

function checkUrl(context: CheckContext, path: KeyPath, hasSecret: boolean): void {
  const text = context.view.text(path);
  if (text === undefined) return;
  checkPlaceholders(context, path, hasSecret, ["secret"]);
  const written = text.replaceAll("{secret}", "secret");
  const url = URL.canParse(written) ? new URL(written) : undefined;
  if (url === undefined || (url.protocol !== "https:" && url.protocol !== "http:")) {
    context.fault(path, {
      what: "is no address of the web",
      allowed: "an address that begins with https:// or http://",
      todo: "correct the address",
    });
    return;
  }
  if (url.username !== "" || url.password !== "") {
    context.fault(path, {
      what: "holds a user name or a password",
      allowed: "an address without them; a header such as Authorization may hold {secret}",
      todo: "move the secret to a file and name it in secretFile",
    });
  }
  if (url.protocol === "http:" && !isThisMachine(url.hostname)) {
    context.warning(path, {
      what: "is not encrypted, so that whoever is in between can read and change what is told",
      allowed: "an address that begins with https://",
      todo: "use https where the receiver offers it",
    });
  }
}

function checkMailLogin(context: CheckContext, path: KeyPath, hasSecret: boolean): void {
  const { view } = context;
  const user = [...path, "user"];
  if (view.has(user) !== hasSecret) {
    context.fault(view.has(user) ? user : path, {
      what: view.has(user) ? "stands without a secret" : "has a secret without a user",
      allowed: "user together with secretFile or secretVariable, or neither",
      todo: "add the other one, or remove this one",
    });
  }
  if (!hasSecret || view.text([...path, "encryption"]) !== "none") return;
  if (isThisMachine(view.text([...path, "host"]) ?? "")) return;
  context.fault([...path, "encryption"], {
    what: "sends the password unencrypted",
    allowed: "starttls or tls, where a password is sent to another machine",
    todo: "use starttls or tls",
  });
}

/** A message must never be taken for a command. */
function checkTopic(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const topic = view.text(path);
  if (topic === undefined) return;
  const base = view.text(["broker", "baseTopic"]) ?? `fizzward/${view.text(["site", "id"]) ?? ""}`;
  const relays = view
    .keys(["valves"])
    .flatMap((id) => ["relay", "seriesRelay", "airPump"].map((relay) => ["valves", id, relay]));
  const taken = [
    ...relays.flatMap((relay) => [
      view.text([...relay, "commandTopic"]),
      view.text([...relay, "stateTopic"]),
      view.text([...relay, "statusQuery", "topic"]),
    ]),
    ...view
      .keys(["sensors"])
      .flatMap((id) => [view.text(["sensors", id, "topic"]), view.text(["sensors", id, "battery", "topic"])]),
  ];
  const homie = ["hub", "homie"];
  const ours = [base, ...(view.has(homie) ? [`${view.text([...homie, "domain"]) ?? "homie"}/5`] : [])];
  if (taken.includes(topic) || ours.some((our) => topic === our || topic.startsWith(`${our}/`))) {
    context.fault(path, {
      what: `is ${quoted(topic)}, at which a relay, a sensor or this daemon listens or speaks`,
      allowed: "a topic that nothing else uses",
      todo: "choose another topic",
    });
  }
}

function checkTree(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  checkPlaceholders(context, path, false);
  for (const key of view.keys(path)) checkTree(context, [...path, key]);
  for (let index = 0; index < view.length(path); index += 1) checkTree(context, [...path, index]);
}

function checkPlaceholders(
  context: CheckContext,
  path: KeyPath,
  hasSecret: boolean,
  names: readonly string[] = ofMessages,
): void {
  const text = context.view.text(path);
  if (text === undefined) return;
  for (const name of placeholdersIn(text)) {
    if (!names.includes(name)) {
      const nearest = nearestName(name, names);
      context.fault(path, {
        what: `holds {${name}}, which stands for nothing here`,
        allowed: `${names.map((known) => `{${known}}`).join(", ")}; a brace itself is written twice`,
        todo: nearest === undefined ? "correct it" : `did you mean {${nearest}}?`,
      });
    } else if (name === "secret" && !hasSecret) {
      context.fault(path, {
        what: "holds {secret}, and there is none",
        allowed: "{secret} together with secretFile or secretVariable",
        todo: "add one of them",
      });
    }
  }
}

function checkRoute(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  checkChannels(context, [...path, "to"]);
  checkChannels(context, [...path, "escalation", "to"]);
  const about = [...path, "about"];
  for (let index = 0; index < view.length(about); index += 1) checkSubject(context, [...about, index]);
  const quiet = [...path, "quietHours"];
  const from = view.text([...quiet, "from"]);
  if (from !== undefined && from === view.text([...quiet, "to"])) {
    context.fault([...quiet, "to"], {
      what: "is when they begin, so they have no length",
      allowed: "another time than from",
      todo: "correct one of the two, or remove quietHours",
    });
  }
}

function checkChannels(context: CheckContext, path: KeyPath): void {
  const { view } = context;
  const known = view.keys(["alerts", "channels"]);
  for (let index = 0; index < view.length(path); index += 1) {
    const name = view.text([...path, index]);
    if (name === undefined || known.includes(name)) continue;
    const nearest = nearestName(name, known);
    context.fault([...path, index], {
      what: `names ${quoted(name)}, which does not stand under alerts.channels`,
      allowed: known.length === 0 ? "nothing yet: there is no channel" : known.join(", "),
      todo: nearest === undefined ? "add it, or correct the name" : `did you mean ${quoted(nearest)}?`,
    });
  }
}

function checkSubject(context: CheckContext, path: KeyPath): void {
  const text = context.view.text(path);
  if (text === undefined) return;
  const [kind = "", id = ""] = text.split("/");
  const known = isSubjectKind(kind) ? context.view.keys([subjectSections[kind]]) : [];
  if (known.includes(id)) return;
  const nearest = nearestName(id, known);
  context.fault(path, {
    what: `is ${quoted(text)}, which this site does not have`,
    allowed: "vessel/<name>, tank/<name>, valve/<name> or sensor/<name>",
    todo: nearest === undefined ? "correct it" : `did you mean ${quoted(`${kind}/${nearest}`)}?`,
  });
}

function isSubjectKind(kind: string): kind is SubjectKind {
  return Object.hasOwn(subjectSections, kind);
}

/** Somebody who sets up alerts expects to hear of what is critical. */
function warnOfUntoldCritical(context: CheckContext, routes: number): void {
  const { view } = context;
  if (!view.has(["alerts"])) return;
  const takesCritical = (index: number): boolean => {
    const path = ["alerts", "routes", index];
    const priorities = [...path, "priorities"];
    const named = Array.from({ length: view.length(priorities) }, (_, at) => view.text([...priorities, at]));
    const isForAll = view.length([...path, "about"]) === 0;
    return isForAll && (!view.has(priorities) || named.includes(alarmPriorities[0]));
  };
  if (Array.from({ length: routes }, (_, index) => index).some(takesCritical)) return;
  context.warning(["alerts"], {
    what: "has no route that takes every critical alarm, so some are told to nobody",
    allowed: "a last route for critical alarms without about",
    todo: "add one",
  });
}

function isThisMachine(host: string): boolean {
  return ["localhost", "127.0.0.1", "::1", "[::1]"].includes(host);
}
