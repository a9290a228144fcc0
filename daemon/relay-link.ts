import type { RelayCommand } from "../lib/control/control-step.js";
import type { RelayRules } from "../lib/control/valve-rules.js";
import { decodeRelayState } from "./mqtt/payload-codec.js";
import type { ValueSelector } from "./mqtt/value-selector.js";
import type { Clock } from "./ports/clock.js";
import type { DeadMan } from "./ports/dead-man.js";
import type { Logger } from "./ports/logger.js";
import type { BusMessage, MessageBus } from "./ports/message-bus.js";

/** One relay as MQTT sees it. */
export interface RelayModel {
  readonly rules: RelayRules;
  readonly commandTopic: string;
  /** The payload that switches on; with the relay's own "on for N seconds" form already filled in. */
  readonly payloadOn: string;
  readonly payloadOff: string;
  readonly stateTopic: string;
  readonly stateSelector: ValueSelector;
  readonly stateOn: string;
  readonly stateOff: string;
  readonly statusQuery: { readonly topic: string; readonly payload: string } | undefined;
  readonly qosOn: 0 | 1;
  readonly qosOff: 0 | 1;
  /** The config accepts, in so many words, that it does not fall back by itself: there is nothing to try. */
  readonly acceptedWithoutAutoOff: boolean;
}

export interface RelayReport {
  readonly relayId: string;
  readonly reported: "on" | "off";
  readonly at_monotonicMs: number;
}

/** An ON that a broker could not deliver at once must not arrive later. */
const onExpiry_s = 5;
const misreadLogEvery_ms = 60_000;

/** Sends commands to relays and hears their reports. Retained reports are history and are left out. */
export interface RelayLink {
  send(command: RelayCommand): void;
  /** The state asked of every relay that can be asked: at each new connection and after a repeated ON. */
  query(relayId: string): void;
}

export function createRelayLink(
  ports: {
    readonly bus: Pick<MessageBus, "subscribe" | "publish">;
    readonly deadMan: Pick<DeadMan, "send">;
    readonly clock: Pick<Clock, "monotonic_ms">;
    readonly logger: Logger;
  },
  relays: ReadonlyMap<string, RelayModel>,
  onReport: (report: RelayReport) => void,
): RelayLink {
  const { bus, deadMan, clock, logger } = ports;
  const misread = new Map<string, { readonly logged_monotonicMs: number; unlogged: number }>();
  for (const relay of relays.values()) {
    bus.subscribe(relay.stateTopic, 1, (message) => hear(relay, message));
  }
  return { send, query };

  function hear(relay: RelayModel, message: BusMessage): void {
    if (message.retained) return;
    const state = decodeRelayState(message.payload, relay.stateSelector, relay);
    if (state.kind === "undecodable") {
      notUnderstood(relay.rules.relayId, state.detail);
      return;
    }
    onReport({ relayId: relay.rules.relayId, reported: state.kind, at_monotonicMs: clock.monotonic_ms() });
  }

  /** No two need be alike, so the log itself cannot fold them. */
  function notUnderstood(relayId: string, detail: string): void {
    const now_monotonicMs = clock.monotonic_ms();
    const earlier = misread.get(relayId);
    if (earlier !== undefined && now_monotonicMs - earlier.logged_monotonicMs < misreadLogEvery_ms) {
      earlier.unlogged += 1;
      return;
    }
    misread.set(relayId, { logged_monotonicMs: now_monotonicMs, unlogged: 0 });
    const count = (earlier?.unlogged ?? 0) + 1;
    logger.warn({ relay: relayId, reason: detail, count }, "a relay's report was not understood");
  }

  function send(command: RelayCommand): void {
    const relay = relays.get(command.relayId);
    if (relay === undefined) return;
    if (command.command === "on") switchOn(relay);
    else switchOff(relay);
  }

  /**
   * Only over the dead-man connection: a broker that hangs works off this ON before the will of the same connection, never
   * after it. The query follows on the same connection, so that it is answered after the ON.
   */
  function switchOn({ rules, commandTopic, payloadOn, qosOn, statusQuery }: RelayModel): void {
    const { relayId } = rules;
    deadMan.send(relayId, {
      topic: commandTopic,
      payload: payloadOn,
      qos: qosOn,
      expiry_s: onExpiry_s,
    });
    if (statusQuery !== undefined) deadMan.send(relayId, { ...statusQuery, qos: 0 });
  }

  /** Over both connections: one of them may be gone, and an ON may still be on its way on the other. */
  function switchOff({ rules, commandTopic, payloadOff, qosOff }: RelayModel): void {
    const { relayId } = rules;
    const message = { topic: commandTopic, payload: payloadOff, qos: qosOff };
    deadMan.send(relayId, message);
    void bus.publish({ ...message, retain: false }).then((outcome) => {
      if (outcome.kind === "failed") {
        logger.warn({ relay: relayId, command: "off", reason: outcome.reason }, "a command was not taken");
      }
    });
    query(relayId);
  }

  function query(relayId: string): void {
    const statusQuery = relays.get(relayId)?.statusQuery;
    if (statusQuery === undefined) return;
    void bus.publish({ ...statusQuery, qos: 0, retain: false });
  }
}
