import type { AlertConfig } from "../config/config-schema.js";
import type { AlertSecrets } from "../config/resolve-alert-secrets.js";
import type { AlertChannel } from "../ports/alert-channel.js";
import type { MessageBus } from "../ports/message-bus.js";
import { createMqttChannel } from "./mqtt-channel.js";
import { createSmtpChannel } from "./smtp-channel.js";
import { createWebhookChannel } from "./webhook-channel.js";

/** The channels of the config, each with its secret. */
export function createChannels(
  { channels }: AlertConfig,
  { secrets, authorities }: AlertSecrets,
  bus: Pick<MessageBus, "publish">,
  site: { readonly id: string; readonly timeZone: () => string },
): ReadonlyMap<string, AlertChannel> {
  return new Map(
    Object.entries(channels).map(([id, channel]): [string, AlertChannel] => {
      switch (channel.kind) {
        case "webhook":
          return [id, createWebhookChannel(channel, secrets.get(id), site, authorities.get(id))];
        case "smtp":
          return [id, createSmtpChannel(channel, secrets.get(id), site, authorities.get(id))];
        case "mqtt":
          return [id, createMqttChannel(channel, bus, site)];
      }
    }),
  );
}
