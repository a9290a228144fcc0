import { z } from "zod";
import type { SiteCommands } from "./control-socket/site-commands.js";
import { jsonRequestFrom, type JsonRequest } from "./mqtt/json-request.js";
import type { Clock } from "./ports/clock.js";
import type { Logger } from "./ports/logger.js";
import type { BusMessage, MessageBus } from "./ports/message-bus.js";
import { readRequest } from "./read-request.js";
import type { SiteModel } from "./site-model.js";

const overrideSchema = z.strictObject({
  action: z.enum(["open", "closed"]),
  until: z.iso.datetime({ offset: true }),
});
/** One override is taken per valve in this time: a flood must not hold up the control tick. */
const takenEvery_ms = 1000;
const floodLogEvery_ms = 60_000;

/** What came for one valve since its last override was looked at. */
interface Latest {
  readonly taken_monotonicMs: number;
  readonly text: string;
  closedAfterwards: boolean;
  toldTooMany: boolean;
}

/**
 * Overrides by MQTT at `<base>/valve/<id>/override`: `{"action": "closed", "until": "2026-05-01T18:00:00+02:00"}`. Each is
 * answered at `<base>/valve/<id>/override/answer`, with the `id` that the sender gave. A retained one is history and is ignored. Of several within a second
 * the first counts, and after it one that closes; the sender of others is told so once.
 */
export function listenForRemoteOverrides(
  ports: {
    readonly bus: Pick<MessageBus, "subscribe" | "publish">;
    readonly clock: Pick<Clock, "monotonic_ms">;
    readonly logger: Logger;
  },
  model: SiteModel,
  commands: Pick<SiteCommands, "remoteOverride">,
): void {
  for (const valveId of model.valves.keys()) {
    const topic = `${model.baseTopic}/valve/${valveId}/override`;
    let latest: Latest | undefined;
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
      if (latest !== undefined && now_monotonicMs - latest.taken_monotonicMs < takenEvery_ms) {
        if (text === latest.text) return;
        if (latest.closedAfterwards || !closes(request)) {
          tooMany(latest, request.id, now_monotonicMs);
          return;
        }
        latest.closedAfterwards = true;
      } else {
        latest = { taken_monotonicMs: now_monotonicMs, text, closedAfterwards: false, toldTooMany: false };
      }
      const { refusal, logged } = take(valveId, request);
      ports.logger.info({ topic, refusal: logged ?? null }, "an override came by MQTT");
      answer(request.id, refusal);
    };
    ports.bus.subscribe(topic, 1, hear, { retainAsPublished: true });

    function tooMany(last: Latest, id: JsonRequest["id"], now_monotonicMs: number): void {
      flood.dropped += 1;
      if (now_monotonicMs - flood.logged_monotonicMs >= floodLogEvery_ms) {
        ports.logger.warn({ topic, dropped: flood.dropped }, "too many overrides by MQTT; some were dropped");
        flood = { logged_monotonicMs: now_monotonicMs, dropped: 0 };
      }
      if (last.toldTooMany) return;
      last.toldTooMany = true;
      answer(id, "too many: one override a second is taken");
    }
  }

  /** `logged` names no detail of what was not understood: the log folds only what is alike. */
  function take(
    valveId: string,
    request: JsonRequest,
  ): { readonly refusal: string | undefined; readonly logged: string | undefined } {
    const read =
      request.content === undefined
        ? { kind: "not understood" as const, reason: request.fault }
        : readRequest(overrideSchema, request.content);
    if (read.kind === "not understood") {
      return { refusal: `not understood: ${read.reason}`, logged: "not understood" };
    }
    const { action, until } = read.request;
    const until_epochMs = Date.parse(until);
    const refusal = commands.remoteOverride({ valveId, action, until_epochMs, source: "remote" });
    return { refusal, logged: refusal };
  }
}

function closes({ content }: JsonRequest): boolean {
  return content?.["action"] === "closed";
}
