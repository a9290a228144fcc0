import { placeholderValues } from "../../lib/alerts/alert-message.js";
import { filled, filledLine, type Json } from "../../lib/alerts/template.js";
import type { AlertChannelConfig } from "../config/config-schema.js";
import type { AlertChannel, DeliveryOutcome } from "../ports/alert-channel.js";
import { redacted, wordsOf } from "./redacted.js";

type WebhookConfig = Extract<AlertChannelConfig, { readonly kind: "webhook" }>;

/** Answers that mean "not now" though they are of the class of refusals (RFC 9110 15.5, RFC 6585 4, RFC 8470 5.2). */
const laterStatuses: readonly number[] = [408, 409, 425, 429];

/**
 * One HTTP request for each try. The header Idempotency-Key is the same for all tries of one message, so that a receiver
 * that heeds it takes it once (IETF draft-ietf-httpapi-idempotency-key-header). A redirection is not followed: the secret
 * was meant for one receiver.
 */
export function createWebhookChannel(
  config: WebhookConfig,
  secret: string | undefined,
  site: { readonly id: string; readonly timeZone: () => string },
): AlertChannel {
  const secrets = secret === undefined ? {} : { secret };
  return {
    deliver: async (message, key, signal) => {
      const values = placeholderValues(message, { id: site.id, timeZone: site.timeZone(), key });
      try {
        const response = await fetch(filledLine(config.url, secrets), {
          method: config.method,
          headers: {
            "Content-Type": "application/json",
            ...Object.fromEntries(
              Object.entries(config.headers).map(([name, value]) => [name, filledLine(value, secrets)]),
            ),
            "Idempotency-Key": `"${key}"`,
          },
          // The config check has seen that it is JSON.
          body: JSON.stringify(filled(config.body as Json, values)),
          redirect: "manual",
          signal: AbortSignal.any([signal, AbortSignal.timeout(config.timeout_s * 1000)]),
        });
        // Nobody reads what it says; an endless answer must not hold the connection.
        await response.body?.cancel();
        return outcomeOf(response);
      } catch (error) {
        return { kind: "failed", reason: redacted(wordsOf(error), secret) };
      }
    },
  };
}

function outcomeOf({ status, headers }: Response): DeliveryOutcome {
  if (status >= 200 && status < 300) return { kind: "delivered", detail: `answered ${status}` };
  const reason = `answered ${status}`;
  if (status < 500 && !laterStatuses.includes(status)) return { kind: "refused", reason };
  const retryAfter_s = secondsFrom(headers.get("Retry-After"));
  return { kind: "failed", reason, ...(retryAfter_s === undefined ? {} : { retryAfter_s }) };
}

/** Retry-After in seconds (RFC 9110 10.2.3); the form with a date is left to our own pace. */
function secondsFrom(header: string | null): number | undefined {
  return header !== null && /^\d{1,9}$/.test(header.trim()) ? Number(header) : undefined;
}
