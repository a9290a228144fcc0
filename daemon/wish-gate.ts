import { createGate } from "./mqtt/json-request.js";

/**
 * Whether one of a flood of wishes from afar is taken; one gate for each valve and each way by which they come.
 * @param closes  whether the wish closes the valve if it is taken: true for none that would be refused
 */
export type WishGate = (closes: boolean, now_monotonicMs: number) => boolean;

/** While a closing stands, a second one only changes its end. */
const furtherClosings = { most: 1, within_ms: 1000 };

/**
 * A closing always passes where none stands: what came before, by whatever way, cannot have it refused. Each such closing
 * needs an opening that passed, so they are bounded too.
 */
export function createWishGate(
  limit: { readonly most: number; readonly within_ms: number },
  isWishedClosed: () => boolean,
): WishGate {
  const any = createGate(limit);
  const closing = createGate(furtherClosings);
  return (closes, now_monotonicMs) =>
    any(now_monotonicMs) || (closes && (closing(now_monotonicMs) || !isWishedClosed()));
}
