import { checkSelector } from "./check-sensors.js";
import type { KeyPath } from "./config-faults.js";
import type { CheckContext, ConfigView } from "./config-view.js";
import { acceptWithoutAutoOffSentence } from "./relay-schema.js";

const relayKeys = ["relay", "seriesRelay", "airPump"] as const;

/** What the keys of each relay say against each other, and whether two of them, or a sensor, meet on a topic. */
export function checkRelays(context: CheckContext): void {
  const relays = relayPaths(context.view);
  for (const path of relays) {
    checkSelector(context, [...path, "stateValue"]);
    checkPayloads(context, path);
    checkFallingBack(context, path);
  }
  checkCommandTopics(context, relays);
  checkStateTopics(context, relays);
  checkQuestions(context, relays);
  checkBaseTopic(context, relays);
}

function relayPaths(view: ConfigView): readonly KeyPath[] {
  return view
    .keys(["valves"])
    .flatMap((valve) => relayKeys.map((key) => ["valves", valve, key]))
    .filter((path) => view.node(path)?.kind === "map");
}

function checkPayloads(context: CheckContext, relay: KeyPath): void {
  const { view } = context;
  for (const [on, off] of [
    ["payloadOn", "payloadOff"],
    ["stateOn", "stateOff"],
  ] as const) {
    const text = view.text([...relay, off]);
    if (text === undefined || text === "" || text !== view.text([...relay, on])) continue;
    context.fault([...relay, off], {
      what: `is the same as ${on}, so that on and off cannot be told apart`,
      allowed: "two different texts",
      todo: "correct one of the two",
    });
  }
  const onFor = view.text([...relay, "payloadOnFor"]);
  if (onFor !== undefined && onFor !== "" && !onFor.includes("{seconds}")) {
    context.fault([...relay, "payloadOnFor"], {
      what: "does not hold {seconds}, which is replaced by autoOff_s",
      allowed: "a text with {seconds} in it",
      todo: "write {seconds} where the relay expects the number",
    });
  }
  if (onFor !== undefined && !view.has([...relay, "autoOff_s"])) {
    context.faultOfKey([...relay, "payloadOnFor"], {
      what: "stands without autoOff_s, so there is no number to put in for {seconds}",
      allowed: "payloadOnFor together with autoOff_s",
      todo: "add autoOff_s, or remove payloadOnFor",
    });
  }
  for (const key of ["payloadOn", "payloadOff", "payloadOnFor"]) {
    const payload = view.text([...relay, key]);
    if (payload !== undefined)
      warnOfBrokenJson(context, [...relay, key], payload.replaceAll("{seconds}", "1"));
  }
}

function warnOfBrokenJson(context: CheckContext, path: KeyPath, payload: string): void {
  if (!/^\s*[{[]/.test(payload)) return;
  try {
    JSON.parse(payload);
  } catch {
    context.warning(path, {
      what: "looks like JSON but is none",
      allowed: "JSON with its names and texts in double quotes, or any other text",
      todo: "check it against the relay's manual",
    });
  }
}

/** The relay must drop by itself and start off; who does without says so in so many words. */
function checkFallingBack(context: CheckContext, relay: KeyPath): void {
  const { view } = context;
  const acceptPath = [...relay, "acceptWithoutAutoOff"];
  const isAccepted = view.text(acceptPath) === acceptWithoutAutoOffSentence;
  const hasAutoOff = view.has([...relay, "autoOff_s"]);
  const powerOn = view.text([...relay, "powerOnState"]);
  const startsOff = powerOn === "off";
  const wayOut = `or write acceptWithoutAutoOff: "${acceptWithoutAutoOffSentence}"`;
  if (!hasAutoOff && !view.has(acceptPath)) {
    context.fault([...relay, "autoOff_s"], {
      what: "is missing: nothing would close the gas when this machine, the broker or the network fails",
      allowed: "a number from 10 to 300 seconds, as set in the relay itself",
      todo: `set the relay's own timer and write it here, ${wayOut}`,
    });
  }
  if ((powerOn === "on" || powerOn === "last") && !view.has(acceptPath)) {
    context.fault([...relay, "powerOnState"], {
      what: `is ${powerOn}: after a power cut the gas could come back by itself`,
      allowed: "off",
      todo: `set the relay so that it starts off and write off here, ${wayOut}`,
    });
  }
  if (!isAccepted) return;
  const isNeeded = !hasAutoOff || !startsOff;
  context.warning(acceptPath, {
    what: isNeeded
      ? "accepts a relay that does not fall back by itself; this is shown for as long as it stands here"
      : "is not needed, since the relay drops by itself and starts off",
    allowed: "a relay with a timer of its own that starts off",
    todo: isNeeded ? "replace the relay when you can" : "remove the line",
  });
}

function checkCommandTopics(context: CheckContext, relays: readonly KeyPath[]): void {
  const { view } = context;
  const commandedBy = new Map<string, KeyPath>();
  for (const relay of relays) {
    const path = [...relay, "commandTopic"];
    const topic = view.text(path);
    if (topic === undefined) continue;
    const first = commandedBy.get(topic);
    if (first === undefined) {
      commandedBy.set(topic, path);
      continue;
    }
    context.fault(path, {
      what: `is the command topic of another relay too (line ${view.positionOfValue(first).line}): one command would switch both`,
      allowed: "a topic of its own for each relay",
      todo: "correct one of the two",
    });
  }
  for (const sensor of view.keys(["sensors"])) {
    const path = ["sensors", sensor, "topic"];
    const command = commandedBy.get(view.text(path) ?? "");
    if (command === undefined) continue;
    context.fault(path, {
      what: `is the topic on which a relay takes commands (line ${view.positionOfValue(command).line})`,
      allowed: "the topic on which the sensor sends",
      todo: "correct one of the two",
    });
  }
  for (const relay of relays) {
    const path = [...relay, "stateTopic"];
    const command = commandedBy.get(view.text(path) ?? "");
    if (command === undefined) continue;
    const isOwn = command.slice(0, -1).every((step, index) => step === relay[index]);
    context.fault(path, {
      what: `is ${isOwn ? "the same as commandTopic" : "the command topic of another relay"} (line ${view.positionOfValue(command).line}), so that a command would pass for its own confirmation`,
      allowed: "the topic on which the relay reports",
      todo: "look the two topics up in the relay's settings",
    });
  }
}

function checkStateTopics(context: CheckContext, relays: readonly KeyPath[]): void {
  const { view } = context;
  const reportedBy = new Map<string, KeyPath>();
  for (const relay of relays) {
    const path = [...relay, "stateTopic"];
    const topic = view.text(path);
    if (topic === undefined) continue;
    const place = `${topic}\n${view.text([...relay, "stateValue"]) ?? ""}`;
    const first = reportedBy.get(place);
    if (first !== undefined) {
      context.fault(path, {
        what: `reports the same state as that of another relay (line ${view.positionOfValue(first).line})`,
        allowed: "a topic, or a stateValue, of its own for each relay",
        todo: "correct one of the two",
      });
    }
    reportedBy.set(place, path);
    const query = [...relay, "statusQuery", "topic"];
    if (view.text(query) !== topic) continue;
    context.fault(query, {
      what: "is the same as stateTopic, so that the question would pass for the answer",
      allowed: "the topic on which the relay can be asked",
      todo: "correct it, or remove statusQuery",
    });
  }
}

/** A relay is asked at each connection and after each OFF: a question that is an ON would open the gas each time. */
function checkQuestions(context: CheckContext, relays: readonly KeyPath[]): void {
  const { view } = context;
  const plain = (text: string | undefined): string | undefined => text?.trim().toLowerCase();
  for (const relay of relays) {
    const asked = [...relay, "statusQuery", "payload"];
    const question = plain(view.text(asked));
    const topic = view.text([...relay, "statusQuery", "topic"]);
    if (question === undefined || topic === undefined) continue;
    for (const commanded of relays.filter((other) => view.text([...other, "commandTopic"]) === topic)) {
      const autoOff_s = String(view.number([...commanded, "autoOff_s"], 0) ?? 0);
      const command = (["payloadOn", "payloadOff", "payloadOnFor"] as const).find(
        (key) => plain(view.text([...commanded, key])?.replaceAll("{seconds}", autoOff_s)) === question,
      );
      if (command === undefined) continue;
      context.fault(asked, {
        what: `is the ${command} of the relay that takes commands on this topic, so that the question would switch it`,
        allowed: "what asks the relay for its state and switches nothing",
        todo: "look it up in the relay's settings, or remove statusQuery",
      });
    }
  }
}

function checkBaseTopic(context: CheckContext, relays: readonly KeyPath[]): void {
  const { view } = context;
  const siteId = view.text(["site", "id"]);
  const baseTopic =
    view.text(["broker", "baseTopic"]) ?? (siteId === undefined ? undefined : `fizzward/${siteId}`);
  if (baseTopic === undefined || baseTopic === "") return;
  const topics: KeyPath[] = [
    ...view.keys(["sensors"]).map((sensor) => ["sensors", sensor, "topic"]),
    ...relays.flatMap((relay) => [
      [...relay, "commandTopic"],
      [...relay, "stateTopic"],
      [...relay, "statusQuery", "topic"],
    ]),
  ];
  for (const path of topics) {
    const topic = view.text(path);
    if (topic !== baseTopic && topic?.startsWith(`${baseTopic}/`) !== true) continue;
    context.fault(path, {
      what: `lies below ${baseTopic}, where this daemon publishes`,
      allowed: "a topic outside baseTopic",
      todo: "choose another topic, or another baseTopic",
    });
  }
}
