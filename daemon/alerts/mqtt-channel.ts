import { placeholderValues } from "../../lib/alerts/alert-message.js";
import { filled, type Json } from "../../lib/alerts/template.js";
import type { AlertChannelConfig } from "../config/config-schema.js";
import type { AlertChannel } from "../ports/alert-channel.js";
import type { MessageBus } from "../ports/message-bus.js";

type MqttConfig = Extract<AlertChannelConfig, { readonly kind: "mqtt" }>;

/** A message at the site's own broker, not retained: QoS 1, so that it is delivered at least once. */
export function createMqttChannel(
  config: MqttConfig,
  bus: Pick<MessageBus, "publish">,
  site: { readonly id: string; readonly timeZone: () => string },
): AlertChannel {
  return {
    deliver: async (message, key) => {
      const values = placeholderValues(message, { id: site.id, timeZone: site.timeZone(), key });
      const payload = JSON.stringify(filled(config.body as Json, values));
      const outcome = await bus.publish({ topic: config.topic, payload, qos: 1, retain: false });
      switch (outcome.kind) {
        case "sent":
          return { kind: "delivered", detail: "the broker has taken it" };
        case "offline":
          return { kind: "failed", reason: "the broker is not connected" };
        case "failed":
          return { kind: "failed", reason: outcome.reason };
      }
    },
  };
}
