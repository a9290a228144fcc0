/** More than any request needs. */
export const longestRequest_bytes = 4000;
const longestSenderId = 100;
const utf8 = new TextDecoder("utf-8", { fatal: true });

/** A request by MQTT: the sender's own id apart from the rest, or why there is no JSON object. */
export type JsonRequest =
  | {
      readonly id: string | number | undefined;
      readonly content: Readonly<Record<string, unknown>>;
      readonly fault?: never;
    }
  | { readonly id: undefined; readonly content: undefined; readonly fault: string };

export function jsonRequestFrom(payload: Uint8Array): JsonRequest {
  const faulty = (fault: string): JsonRequest => ({ id: undefined, content: undefined, fault });
  if (payload.byteLength > longestRequest_bytes) {
    return faulty(`send one JSON object of at most ${longestRequest_bytes} bytes`);
  }
  const text = textFrom(payload);
  const parsed = text === undefined ? undefined : jsonFrom(text);
  if (typeof parsed !== "object" || parsed === null || Array.isArray(parsed)) {
    const [, whole, decimals] = commaInNumber.exec(text ?? "") ?? [];
    return faulty(
      parsed === undefined && whole !== undefined && decimals !== undefined
        ? `write ${whole}.${decimals} with a point, not a comma`
        : `send one JSON object of at most ${longestRequest_bytes} bytes`,
    );
  }
  const { id, ...content } = parsed as Readonly<Record<string, unknown>>;
  const isId =
    (typeof id === "string" && id.length <= longestSenderId) ||
    (typeof id === "number" && Number.isFinite(id));
  // An id of another form is left in the content, whose reading then says so.
  return isId || id === undefined ? { id, content } : { id: undefined, content: { id, ...content } };
}

/** `"kh_dKH": 4,5` is no JSON. */
const commaInNumber = /:\s*([+-]?\d{1,6}),(\d{1,6})\s*[,}\]]/;

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

function textFrom(payload: Uint8Array): string | undefined {
  try {
    return utf8.decode(payload);
  } catch {
    return undefined;
  }
}

function jsonFrom(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
