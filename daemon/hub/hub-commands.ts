import { alertIdOf } from "../../lib/hub/hub-id.js";
import { readPayload } from "../../lib/hub/homie-payload.js";
import type { PropertyValue } from "../../lib/hub/property.js";
import type { SiteAlarms } from "../alarms/site-alarms.js";
import type { SiteCommands } from "../control-socket/site-commands.js";
import type { Journal } from "../journal/journal.js";
import { createGate } from "../mqtt/json-request.js";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { BusMessage, MessageBus } from "../ports/message-bus.js";
import { takeRemoteWish } from "../remote-wish.js";
import type { SiteStatus } from "../site-status.js";
import { createWishGate } from "../wish-gate.js";
import { propertyTopic } from "./homie-topics.js";
import type { HubCommand, HubDevice, HubProperty, HubTree } from "./hub-device.js";

/** What was asked of a property of a device. */
export interface HubRequest {
  readonly device: HubDevice;
  readonly property: HubProperty;
  /** As it came, for the target. */
  readonly text: string;
}

export interface HubCommandPorts {
  readonly bus: Pick<MessageBus, "subscribe">;
  /** Time of the site, in which an override ends. */
  readonly clock: Pick<Clock, "now_epochMs">;
  readonly machineClock: Pick<Clock, "monotonic_ms">;
  readonly logger: Logger;
  readonly commands: Pick<SiteCommands, "remoteOverride" | "endRemoteOverride" | "isWishedClosed">;
  readonly journal: Pick<Journal, "enter">;
  readonly alarms: Pick<SiteAlarms, "act" | "list">;
  readonly status: () => SiteStatus | undefined;
}

const longestPayload_bytes = 1000;
const utf8 = new TextDecoder("utf-8", { fatal: true });
const floodLogEvery_ms = 60_000;
/** A person at a slider sends a few; a loop sends thousands. */
const bursts: Readonly<Record<HubCommand["kind"], { readonly most: number; readonly within_ms: number }>> = {
  override: { most: 3, within_ms: 3000 },
  "kh test": { most: 3, within_ms: 10_000 },
  "drop checker": { most: 3, within_ms: 10_000 },
  acknowledge: { most: 20, within_ms: 10_000 },
};
/** What a home enters in a day, many times over: a slow loop must not fill the disk. */
const daily = { most: 200, within_ms: 86_400_000 };

/** What came of a request. */
export type HubOutcome =
  { readonly kind: "accepted" } | { readonly kind: "refused"; readonly reason: string };

export interface HubCommands {
  /** Listens to what may be set in the tree; what was in an earlier tree is answered no more. */
  listen(tree: HubTree, domain: string): void;
}

/**
 * Requests at the `/set` topics of the settable properties. A retained one is history and is ignored. Of a flood the first
 * counts and the rest is refused, but for a closing where none stands.
 */
export function createHubCommands(
  ports: HubCommandPorts,
  told: (request: HubRequest, outcome: HubOutcome) => void,
): HubCommands {
  const { bus, machineClock, logger } = ports;
  const subscribed = new Set<string>();
  const gates = new Map<string, ReturnType<typeof gateFor>>();
  const flood = { logged_monotonicMs: Number.NEGATIVE_INFINITY, dropped: 0 };
  let current = new Map<string, { readonly device: HubDevice; readonly property: HubProperty }>();

  return { listen };

  function listen(tree: HubTree, domain: string): void {
    current = new Map(
      [tree.root, ...tree.children].flatMap((device) =>
        device.properties
          .filter(({ command }) => command !== undefined)
          .map((property) => [
            `${propertyTopic(domain, device.deviceId, property)}/set`,
            { device, property },
          ]),
      ),
    );
    for (const topic of current.keys()) {
      if (subscribed.has(topic)) continue;
      subscribed.add(topic);
      // Else one that a bridge brings in from another broker's memory would come as a live one.
      bus.subscribe(topic, 1, hear, { retainAsPublished: true });
    }
  }

  function hear(message: BusMessage): void {
    const { topic, payload, retained } = message;
    const asked = current.get(topic);
    // Nothing is set by the clearing of a topic.
    if (asked?.property.command === undefined || payload.byteLength === 0) return;
    if (retained) {
      logger.warn({ topic }, "a retained command of a hub was ignored; clear it at the broker");
      return;
    }
    const { command } = asked.property;
    const now_monotonicMs = machineClock.monotonic_ms();
    const text = textOf(payload);
    const read = text === undefined ? undefined : readPayload(asked.property.form, text);
    const gate = gates.get(topic) ?? gateFor(command, ports.commands);
    gates.set(topic, gate);
    if (!gate.takes(read?.kind === "value" ? read.value : undefined, now_monotonicMs)) {
      tooMany(topic, now_monotonicMs);
      if (gate.tells(now_monotonicMs)) {
        told({ ...asked, text: "" }, refused("too many at once; send it again later"));
      }
      return;
    }
    if (text === undefined || read?.kind !== "value") {
      const why = read?.kind === "invalid" ? read.reason : "text in UTF-8 is expected";
      told({ ...asked, text: "" }, refused(`not understood: ${why}`));
      return;
    }
    carryOut(command, read.value)
      .then((outcome) => told({ ...asked, text }, outcome))
      .catch((error: unknown) => {
        const reason = error instanceof Error ? error.message : String(error);
        logger.error({ topic, reason }, "a command of a hub failed");
      });
  }

  function tooMany(topic: string, now_monotonicMs: number): void {
    flood.dropped += 1;
    if (now_monotonicMs - flood.logged_monotonicMs < floodLogEvery_ms) return;
    logger.warn({ topic, dropped: flood.dropped }, "too many commands of a hub; some were dropped");
    flood.logged_monotonicMs = now_monotonicMs;
    flood.dropped = 0;
  }

  async function carryOut(command: HubCommand, value: PropertyValue): Promise<HubOutcome> {
    switch (command.kind) {
      case "override":
        return override(command, Number(value));
      case "kh test":
        return enter({ kind: "kh test", tank: command.tankId, kh_dKH: value });
      case "drop checker":
        return enter({ kind: "drop checker", tank: command.tankId, colour: value });
      case "acknowledge":
        return acknowledge(typeof value === "string" ? value : "");
    }
  }

  function override(
    { valveId, tankIds, action }: Extract<HubCommand, { readonly kind: "override" }>,
    duration_min: number,
  ): HubOutcome {
    const until_epochMs = duration_min === 0 ? undefined : ports.clock.now_epochMs() + duration_min * 60_000;
    return outcomeOf(takeRemoteWish(ports, { valveId, tankIds, action, until_epochMs }));
  }

  async function enter(content: unknown): Promise<HubOutcome> {
    const outcome = await ports.journal.enter(content, "remote");
    return outcome.kind === "kept" ? { kind: "accepted" } : refused(outcome.reason);
  }

  function acknowledge(id: string): HubOutcome {
    const alarm = ports.alarms
      .list()
      .find(({ condition: { alarmId } }) => alarmId === id || alertIdOf(alarmId) === id);
    if (alarm === undefined) return refused("there is no such alarm");
    return outcomeOf(ports.alarms.act(alarm.condition.alarmId, { kind: "acknowledge" }, "remote"));
  }
}

/** What a property takes, and how often it says that it takes no more. */
function gateFor(
  command: HubCommand,
  commands: Pick<SiteCommands, "isWishedClosed">,
): {
  readonly takes: (value: PropertyValue | undefined, now_monotonicMs: number) => boolean;
  readonly tells: (now_monotonicMs: number) => boolean;
} {
  const tells = createGate({ most: 1, within_ms: 10_000 });
  if (command.kind === "override") {
    const { action, valveId } = command;
    const gate = createWishGate(bursts.override, () => commands.isWishedClosed(valveId));
    return {
      takes: (value, now_monotonicMs) => gate(action === "closed" && Number(value) > 0, now_monotonicMs),
      tells,
    };
  }
  const burst = createGate(bursts[command.kind]);
  const inADay = createGate(daily);
  return { takes: (_value, now_monotonicMs) => burst(now_monotonicMs) && inADay(now_monotonicMs), tells };
}

function outcomeOf(refusal: string | undefined): HubOutcome {
  return refusal === undefined ? { kind: "accepted" } : refused(refusal);
}

function refused(reason: string): HubOutcome {
  return { kind: "refused", reason };
}

function textOf(payload: Uint8Array): string | undefined {
  if (payload.byteLength > longestPayload_bytes) return undefined;
  try {
    return utf8.decode(payload);
  } catch {
    return undefined;
  }
}
