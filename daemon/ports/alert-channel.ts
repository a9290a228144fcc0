import type { AlertMessage } from "../../lib/alerts/alert-message.js";

/** What became of one try. `detail` and `reason` hold no secret. */
export type DeliveryOutcome =
  | { readonly kind: "delivered"; readonly detail: string }
  /** No answer, or one that says later: to be tried again. */
  | { readonly kind: "failed"; readonly reason: string; readonly retryAfter_s?: number }
  /** The receiver does not take it as it is. */
  | { readonly kind: "refused"; readonly reason: string };

export interface AlertChannel {
  /**
   * One try. Never rejects, and ends within the channel's own time limit.
   * @param key  the same for each try of one message, so that a receiver that has it already knows it.
   */
  deliver(message: AlertMessage, key: string, signal: AbortSignal): Promise<DeliveryOutcome>;
}
