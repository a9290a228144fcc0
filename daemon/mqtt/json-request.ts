/** More than any request needs. */
export const longestRequest_bytes = 4000;
const longestSenderId = 100;
const utf8 = new TextDecoder("utf-8", { fatal: true });

/** A request by MQTT: the sender's own id apart from the rest; content is undefined where there is no JSON object. */
export interface JsonRequest {
  readonly id: string | number | undefined;
  readonly content: Readonly<Record<string, unknown>> | undefined;
}

export function jsonRequestFrom(payload: Uint8Array): JsonRequest {
  const parsed = jsonFrom(payload);
  if (typeof parsed !== "object" || parsed === null || Array.isArray(parsed)) {
    return { id: undefined, content: undefined };
  }
  const { id, ...content } = parsed as Readonly<Record<string, unknown>>;
  const isId =
    (typeof id === "string" && id.length <= longestSenderId) ||
    (typeof id === "number" && Number.isFinite(id));
  // An id of another form is left in the content, whose reading then says so.
  return isId || id === undefined ? { id, content } : { id: undefined, content: { id, ...content } };
}

/** True for at most so many calls in any such time. */
export function createGate(limit: {
  readonly most: number;
  readonly within_ms: number;
}): (now_monotonicMs: number) => boolean {
  let passed: readonly number[] = [];
  return (now_monotonicMs) => {
    passed = passed.filter((at_monotonicMs) => now_monotonicMs - at_monotonicMs < limit.within_ms);
    if (passed.length >= limit.most) return false;
    passed = [...passed, now_monotonicMs];
    return true;
  };
}

function jsonFrom(payload: Uint8Array): unknown {
  if (payload.byteLength > longestRequest_bytes) return undefined;
  try {
    return JSON.parse(utf8.decode(payload));
  } catch {
    return undefined;
  }
}
