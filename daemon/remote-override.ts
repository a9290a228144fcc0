import { z } from "zod";
import type { SiteCommands } from "./control-socket/site-commands.js";
import type { Clock } from "./ports/clock.js";
import type { Logger } from "./ports/logger.js";
import type { MessageBus } from "./ports/message-bus.js";
import type { SiteModel } from "./site-model.js";

const overrideSchema = z.strictObject({
  action: z.enum(["open", "closed"]),
  until: z.iso.datetime({ offset: true }),
});
const longestPayload_bytes = 1000;
const utf8 = new TextDecoder("utf-8", { fatal: true });
/** One override is taken per valve in this time: a flood must not hold up the control tick. */
const takenEvery_ms = 1000;
const floodLogEvery_ms = 60_000;

/** What came for one valve since its last override was looked at. */
interface Latest {
  readonly taken_monotonicMs: number;
  readonly text: string | undefined;
  closedAfterwards: boolean;
  toldTooMany: boolean;
}

/**
 * Overrides by MQTT at `<base>/valve/<id>/override`: `{"action": "closed", "until": "2026-05-01T18:00:00+02:00"}`. Each is
 * answered at `<base>/valve/<id>/override/answer`. A retained one is history and is ignored. Of several within a second
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
    const answer = (refusal: string | undefined): void => {
      const told = refusal === undefined ? { accepted: true } : { accepted: false, reason: refusal };
      void ports.bus.publish({
        topic: `${topic}/answer`,
        payload: JSON.stringify(told),
        qos: 0,
        retain: false,
      });
    };

    ports.bus.subscribe(topic, 1, (message) => {
      if (message.payload.byteLength === 0) return;
      if (message.retained) {
        ports.logger.warn({ topic }, "a retained command was ignored; clear it at the broker");
        return;
      }
      const now_monotonicMs = ports.clock.monotonic_ms();
      const text = textOf(message.payload);
      if (latest !== undefined && now_monotonicMs - latest.taken_monotonicMs < takenEvery_ms) {
        if (text === latest.text) return;
        if (latest.closedAfterwards || !closes(text)) {
          tooMany(latest, now_monotonicMs);
          return;
        }
        latest.closedAfterwards = true;
      } else {
        latest = { taken_monotonicMs: now_monotonicMs, text, closedAfterwards: false, toldTooMany: false };
      }
      const { refusal, logged } = take(valveId, text);
      ports.logger.info({ topic, refusal: logged ?? null }, "an override came by MQTT");
      answer(refusal);
    });

    function tooMany(last: Latest, now_monotonicMs: number): void {
      flood.dropped += 1;
      if (now_monotonicMs - flood.logged_monotonicMs >= floodLogEvery_ms) {
        ports.logger.warn({ topic, dropped: flood.dropped }, "too many overrides by MQTT; some were dropped");
        flood = { logged_monotonicMs: now_monotonicMs, dropped: 0 };
      }
      if (last.toldTooMany) return;
      last.toldTooMany = true;
      answer("too many: one override a second is taken");
    }
  }

  /** `logged` names no detail of what was not understood: the log folds only what is alike. */
  function take(
    valveId: string,
    text: string | undefined,
  ): { readonly refusal: string | undefined; readonly logged: string | undefined } {
    const parsed = overrideSchema.safeParse(jsonFrom(text));
    if (!parsed.success) {
      return { refusal: `not understood: ${z.prettifyError(parsed.error)}`, logged: "not understood" };
    }
    const { action, until } = parsed.data;
    const until_epochMs = Date.parse(until);
    const refusal = commands.remoteOverride({ valveId, action, until_epochMs, source: "remote" });
    return { refusal, logged: refusal };
  }
}

function closes(text: string | undefined): boolean {
  const content = jsonFrom(text);
  return (
    typeof content === "object" && content !== null && "action" in content && content.action === "closed"
  );
}

function textOf(payload: Uint8Array): string | undefined {
  if (payload.byteLength > longestPayload_bytes) return undefined;
  try {
    return utf8.decode(payload);
  } catch {
    return undefined;
  }
}

function jsonFrom(text: string | undefined): unknown {
  if (text === undefined) return undefined;
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
