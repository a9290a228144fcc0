import { z } from "zod";
import type { SiteCommands } from "./control-socket/site-commands.js";
import type { Clock } from "./ports/clock.js";
import type { Logger } from "./ports/logger.js";
import type { BusMessage, MessageBus } from "./ports/message-bus.js";
import type { SiteModel } from "./site-model.js";

const overrideSchema = z.strictObject({
  action: z.enum(["open", "closed"]),
  until: z.iso.datetime({ offset: true }),
});
const longestPayload_bytes = 1000;

/**
 * Overrides by MQTT at `<base>/valve/<id>/override`: `{"action": "closed", "until": "2026-05-01T18:00:00+02:00"}`. Each is
 * answered at `<base>/valve/<id>/override/answer`. A retained one is history and is ignored.
 */
export function listenForRemoteOverrides(
  ports: { readonly bus: MessageBus; readonly clock: Clock; readonly logger: Logger },
  model: SiteModel,
  commands: Pick<SiteCommands, "remoteOverride">,
): void {
  for (const valveId of model.valves.keys()) {
    const topic = `${model.baseTopic}/valve/${valveId}/override`;
    ports.bus.subscribe(topic, 1, (message) => {
      if (message.payload.byteLength === 0) return;
      if (message.retained) {
        ports.logger.warn({ topic }, "a retained command was ignored; clear it at the broker");
        return;
      }
      const refusal = take(valveId, message);
      ports.logger.info({ topic, refusal: refusal ?? null }, "an override came by MQTT");
      const answer = refusal === undefined ? { accepted: true } : { accepted: false, reason: refusal };
      void ports.bus.publish({
        topic: `${topic}/answer`,
        payload: JSON.stringify(answer),
        qos: 0,
        retain: false,
      });
    });
  }

  function take(valveId: string, message: BusMessage): string | undefined {
    const parsed = overrideSchema.safeParse(jsonFrom(message.payload));
    if (!parsed.success) return `not understood: ${z.prettifyError(parsed.error)}`;
    const { action, until } = parsed.data;
    return commands.remoteOverride({ valveId, action, until_epochMs: Date.parse(until), source: "remote" });
  }
}

function jsonFrom(payload: Uint8Array): unknown {
  if (payload.byteLength > longestPayload_bytes) return undefined;
  try {
    return JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(payload));
  } catch {
    return undefined;
  }
}
