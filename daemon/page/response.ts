import type { IncomingMessage, ServerResponse } from "node:http";
import { promisify } from "node:util";
import { gzip } from "node:zlib";

const compress = promisify(gzip);
/** Shorter answers fit into one packet as they are. */
const worthCompressing_bytes = 1200;

/** On every answer: nothing from elsewhere runs, nothing here is framed, cached or told on. */
export const strictHeaders: Readonly<Record<string, string>> = {
  "Content-Security-Policy":
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; " +
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
  "X-Content-Type-Options": "nosniff",
  "X-Frame-Options": "DENY",
  "Referrer-Policy": "no-referrer",
  "Cross-Origin-Opener-Policy": "same-origin",
  "Cross-Origin-Resource-Policy": "same-origin",
  "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
};

export function tellText(response: ServerResponse, code: number, text: string): void {
  response.writeHead(code, {
    ...strictHeaders,
    "Content-Type": "text/plain; charset=utf-8",
    "Cache-Control": "no-store",
  });
  response.end(`${text}\n`);
}

/** A number that is not finite becomes null, as JSON has it. */
export async function tellJson(
  request: IncomingMessage,
  response: ServerResponse,
  code: number,
  value: unknown,
): Promise<void> {
  const text = Buffer.from(JSON.stringify(value));
  const isCompressed =
    text.byteLength >= worthCompressing_bytes &&
    request.headers["accept-encoding"]?.includes("gzip") === true;
  const body = isCompressed ? await compress(text) : text;
  response.writeHead(code, {
    ...strictHeaders,
    "Content-Type": "application/json; charset=utf-8",
    "Cache-Control": "no-store",
    "Content-Length": body.byteLength,
    ...(isCompressed ? { "Content-Encoding": "gzip" } : {}),
  });
  response.end(request.method === "HEAD" ? undefined : body);
}
