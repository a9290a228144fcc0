import { z } from "zod";
import { judgeOverride, type Override } from "../lib/control/decide.js";
import type { SiteCommands } from "./control-socket/site-commands.js";
import { createGate, jsonRequestFrom, type JsonRequest } from "./mqtt/json-request.js";
import type { Clock } from "./ports/clock.js";
import type { Logger } from "./ports/logger.js";
import type { BusMessage, MessageBus } from "./ports/message-bus.js";
import { readRequest } from "./read-request.js";
import type { SiteModel } from "./site-model.js";
import { createWishGate } from "./wish-gate.js";

const overrideSchema = z.strictObject({
  action: z.enum(["open", "closed"]),
  until: z.iso.datetime({ offset: true }),
});
/** A flood must not hold up the control tick. */
const taken = { most: 1, within_ms: 1000 };
const floodLogEvery_ms = 60_000;

/**
 * Overrides by MQTT at `<base>/valve/<id>/override`: `{"action": "closed", "until": "2026-05-01T18:00:00+02:00"}`. Each is
 * answered at `<base>/valve/<id>/override/answer`, with the `id` that the sender gave. A retained one is history and is
 * ignored. Of several within a second the first counts, and one that closes; the sender of others is told so once.
 */
export function listenForRemoteOverrides(
  ports: {
    readonly bus: Pick<MessageBus, "subscribe" | "publish">;
    readonly clock: Pick<Clock, "monotonic_ms" | "now_epochMs">;
    readonly logger: Logger;
  },
  model: SiteModel,
  commands: Pick<SiteCommands, "remoteOverride" | "isWishedClosed">,
): void {
  for (const valveId of model.valves.keys()) {
    const topic = `${model.baseTopic}/valve/${valveId}/override`;
    const gate = createWishGate(taken, () => commands.isWishedClosed(valveId));
    const mayTell = createGate(taken);
    let latest: { readonly at_monotonicMs: number; readonly text: string } | undefined;
    let flood = { logged_monotonicMs: Number.NEGATIVE_INFINITY, dropped: 0 };
    const answer = (id: JsonRequest["id"], refusal: string | undefined): void => {
      const told = {
        ...(id === undefined ? {} : { id }),
        ...(refusal === undefined ? { accepted: true } : { accepted: false, reason: refusal }),
      };
      void ports.bus.publish({
        topic: `${topic}/answer`,
        payload: JSON.stringify(told),
        qos: 0,
        retain: false,
      });
    };

    const hear = (message: BusMessage): void => {
      if (message.payload.byteLength === 0) return;
      if (message.retained) {
        ports.logger.warn({ topic }, "a retained command was ignored; clear it at the broker");
        return;
      }
      const now_monotonicMs = ports.clock.monotonic_ms();
      const request = jsonRequestFrom(message.payload);
      const text = JSON.stringify(request);
      const read = overrideFrom(valveId, request);
      const closes = read.kind === "read" && closesNow(read.override, ports.clock.now_epochMs());
      const isRepeated = text === latest?.text && now_monotonicMs - latest.at_monotonicMs < taken.within_ms;
      if (isRepeated && (!closes || commands.isWishedClosed(valveId))) return;
      if (!gate(closes, now_monotonicMs)) {
        tooMany(request.id, now_monotonicMs);
        return;
      }
      latest = { at_monotonicMs: now_monotonicMs, text };
      const { refusal, logged } = take(read);
      ports.logger.info(
        { topic, valve: valveId, reason: logged },
        logged === undefined ? "an override came by MQTT" : "an override by MQTT was refused",
      );
      answer(request.id, refusal);
    };
    ports.bus.subscribe(topic, 1, hear, { retainAsPublished: true });

    function tooMany(id: JsonRequest["id"], now_monotonicMs: number): void {
      flood.dropped += 1;
      if (now_monotonicMs - flood.logged_monotonicMs >= floodLogEvery_ms) {
        ports.logger.warn({ topic, dropped: flood.dropped }, "too many overrides by MQTT; some were dropped");
        flood = { logged_monotonicMs: now_monotonicMs, dropped: 0 };
      }
      if (mayTell(now_monotonicMs)) answer(id, "too many: one override a second is taken");
    }
  }

  /** `logged` names no detail of what was not understood: the log folds only what is alike. */
  function take(read: ReadOverride): {
    readonly refusal: string | undefined;
    readonly logged: string | undefined;
  } {
    if (read.kind === "not understood") {
      return { refusal: `not understood: ${read.reason}`, logged: "not understood" };
    }
    const refusal = commands.remoteOverride(read.override);
    return { refusal, logged: refusal };
  }
}

type ReadOverride =
  | { readonly kind: "read"; readonly override: Override }
  | { readonly kind: "not understood"; readonly reason: string };

function overrideFrom(valveId: string, request: JsonRequest): ReadOverride {
  if (request.content === undefined) return { kind: "not understood", reason: request.fault };
  const read = readRequest(overrideSchema, request.content);
  if (read.kind === "not understood") return read;
  const { action, until } = read.request;
  return {
    kind: "read",
    override: { valveId, action, until_epochMs: Date.parse(until), source: "remote" },
  };
}

/** One that would be refused closes nothing, and has to wait as any other. */
function closesNow(override: Override, now_epochMs: number): boolean {
  const anyWindow = { kind: "closed", opens_epochMs: undefined } as const;
  return override.action === "closed" && judgeOverride(override, anyWindow, now_epochMs).kind === "accepted";
}
