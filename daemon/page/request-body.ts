import type { IncomingMessage } from "node:http";

export const longestBody_bytes = 16 * 1024;

export type BodyRead =
  | { readonly kind: "read"; readonly content: unknown }
  | { readonly kind: "refused"; readonly code: 400 | 413 | 415; readonly reason: string };

/** A write as JSON; nothing else, and no more than a form has. */
export async function readJsonBody(request: IncomingMessage): Promise<BodyRead> {
  const type = request.headers["content-type"] ?? "";
  if (!/^application\/json\s*(;\s*charset=utf-8\s*)?$/i.test(type)) {
    return { kind: "refused", code: 415, reason: "send JSON, as application/json" };
  }
  const tooLong = {
    kind: "refused",
    code: 413,
    reason: `at most ${longestBody_bytes} bytes are taken`,
  } as const;
  if (Number(request.headers["content-length"] ?? 0) > longestBody_bytes) return tooLong;
  const parts: Buffer[] = [];
  let length_bytes = 0;
  // A request that is refused still gets its answer, so that it is not destroyed here.
  for await (const part of request.iterator({ destroyOnReturn: false }) as AsyncIterable<Buffer>) {
    length_bytes += part.byteLength;
    if (length_bytes > longestBody_bytes) return tooLong;
    parts.push(part);
  }
  try {
    const text = new TextDecoder("utf-8", { fatal: true }).decode(Buffer.concat(parts));
    return { kind: "read", content: JSON.parse(text) };
  } catch {
    return { kind: "refused", code: 400, reason: "that is no JSON" };
  }
}
