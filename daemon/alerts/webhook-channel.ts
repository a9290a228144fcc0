import { request as plainly } from "node:http";
import { request as overTls } from "node:https";
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
  ca?: string,
): AlertChannel {
  const secrets = secret === undefined ? {} : { secret };
  return {
    deliver: async (message, key, signal) => {
      const values = placeholderValues(message, { id: site.id, timeZone: site.timeZone(), key });
      try {
        const answer = await sendRequest(filledLine(config.url, secrets), {
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
          ...(ca === undefined ? {} : { ca }),
          signal: AbortSignal.any([signal, AbortSignal.timeout(config.timeout_s * 1000)]),
        });
        return outcomeOf(answer);
      } catch (error) {
        return { kind: "failed", reason: redacted(wordsOf(error), secret) };
      }
    },
  };
}

interface Answer {
  readonly status: number;
  readonly retryAfter: string | undefined;
}

/** On a connection of its own. Nobody reads what the answer says: an endless one must not hold the connection. */
function sendRequest(
  url: string,
  request: {
    readonly method: string;
    readonly headers: Readonly<Record<string, string>>;
    readonly body: string;
    readonly signal: AbortSignal;
    readonly ca?: string;
  },
): Promise<Answer> {
  const { body, ...options } = request;
  return new Promise((resolve, reject) => {
    const send = url.startsWith("https:") ? overTls : plainly;
    const sending = send(url, { ...options, agent: false }, (response) => {
      // What breaks after the head of the answer changes nothing.
      response.on("error", () => undefined);
      resolve({ status: response.statusCode ?? 0, retryAfter: response.headers["retry-after"] });
      response.destroy();
    });
    sending.on("error", reject);
    sending.end(body);
  });
}

function outcomeOf({ status, retryAfter }: Answer): DeliveryOutcome {
  if (status >= 200 && status < 300) return { kind: "delivered", detail: `answered ${status}` };
  const reason = `answered ${status}`;
  if (status < 500 && !laterStatuses.includes(status)) return { kind: "refused", reason };
  const retryAfter_s = secondsFrom(retryAfter);
  return { kind: "failed", reason, ...(retryAfter_s === undefined ? {} : { retryAfter_s }) };
}

/** Retry-After in seconds (RFC 9110 10.2.3); the form with a date is left to our own pace. */
function secondsFrom(header: string | undefined): number | undefined {
  return header !== undefined && /^\d{1,9}$/.test(header.trim()) ? Number(header) : undefined;
}
