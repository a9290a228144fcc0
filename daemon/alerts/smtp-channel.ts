import { createTransport, type SendMailOptions } from "nodemailer";
import { placeholderValues } from "../../lib/alerts/alert-message.js";
import { filledLine } from "../../lib/alerts/template.js";
import { escapedMarkup } from "../../lib/digest/escaped-markup.js";
import type { PressurePicture } from "../../lib/digest/pressure-picture.js";
import type { AlertChannelConfig } from "../config/config-schema.js";
import type { AlertChannel, DeliveryOutcome } from "../ports/alert-channel.js";
import { redacted, wordsOf } from "./redacted.js";

type SmtpConfig = Extract<AlertChannelConfig, { readonly kind: "smtp" }>;

/**
 * One mail for each try, with the same Message-ID (RFC 5322 3.6.4) for all tries of one message: mail systems that drop
 * duplicates go by it.
 */
export function createSmtpChannel(
  config: SmtpConfig,
  secret: string | undefined,
  site: { readonly id: string; readonly timeZone: () => string },
  ca?: string,
): AlertChannel {
  const timeout_ms = config.timeout_s * 1000;
  return {
    deliver: async (message, key, signal) => {
      const values = placeholderValues(message, { id: site.id, timeZone: site.timeZone(), key });
      const transport = createTransport({
        host: config.host,
        port: config.port,
        secure: config.encryption === "tls",
        requireTLS: config.encryption === "starttls",
        ignoreTLS: config.encryption === "none",
        connectionTimeout: timeout_ms,
        greetingTimeout: timeout_ms,
        socketTimeout: timeout_ms,
        dnsTimeout: timeout_ms,
        logger: false,
        ...(ca === undefined ? {} : { tls: { ca } }),
        disableFileAccess: true,
        disableUrlAccess: true,
        ...(config.user === undefined || secret === undefined
          ? {}
          : { auth: { user: config.user, pass: secret } }),
      });
      const over = AbortSignal.any([signal, AbortSignal.timeout(timeout_ms)]);
      try {
        const sent = transport.sendMail({
          from: config.from,
          to: [...config.to],
          subject: filledLine(config.subject, values)
            .replaceAll(/\p{Cc}+/gu, " ")
            .slice(0, 500),
          ...withPictures(filledLine(config.text, values), message.digest?.pictures ?? [], key),
          messageId: `<${key}@${site.id}.fizzward.invalid>`,
          date: new Date(message.at_epochMs),
          headers: { "Auto-Submitted": "auto-generated" },
        });
        const info = await Promise.race([sent, rejectedWhen(over)]);
        return { kind: "delivered", detail: redacted(info.response, secret) };
      } catch (error) {
        return outcomeOf(error, secret);
      } finally {
        transport.close();
      }
    },
  };
}

/** Plain text where there is no picture; else beside it the same text with the pictures below, each inside the mail. */
function withPictures(
  text: string,
  pictures: readonly PressurePicture[],
  key: string,
): Pick<SendMailOptions, "text" | "html" | "attachments"> {
  if (pictures.length === 0) return { text };
  const cid = (index: number): string => `${key}.${index}@pictures.fizzward.invalid`;
  const images = pictures.map(
    ({ alt }, index) => `<p><img src="cid:${cid(index)}" alt="${escapedMarkup(alt)}" width="640"></p>`,
  );
  return {
    text,
    html: `<pre style="white-space: pre-wrap">${escapedMarkup(text)}</pre>${images.join("")}`,
    attachments: pictures.map(({ vesselId, svg }, index) => ({
      filename: `pressure-${vesselId}.svg`,
      content: svg,
      contentType: "image/svg+xml; charset=utf-8",
      contentDisposition: "inline",
      cid: cid(index),
    })),
  };
}

/** The library's own limits count each step; this one counts the whole. */
function rejectedWhen(signal: AbortSignal): Promise<never> {
  return new Promise((_, reject) => {
    const fail = (): void => reject(new Error("no answer in time"));
    if (signal.aborted) fail();
    else signal.addEventListener("abort", fail, { once: true });
  });
}

function outcomeOf(error: unknown, secret: string | undefined): DeliveryOutcome {
  const reason = redacted(wordsOf(error), secret);
  const code =
    error instanceof Error && "responseCode" in error && typeof error.responseCode === "number"
      ? error.responseCode
      : undefined;
  // RFC 5321 4.2.1: 5 is a lasting refusal, 4 one of the moment.
  return code !== undefined && code >= 500 ? { kind: "refused", reason } : { kind: "failed", reason };
}
