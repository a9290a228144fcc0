import type { MessageBus } from "../ports/message-bus.js";

/** Sends retained messages that have changed, and what was not taken again. */
export interface PacedSender {
  /** Undefined: the broker is to hold nothing at the topic. `gap_ms`: at least so long after the last one there. */
  offer(topic: string, payload: string | undefined, gap_ms?: number): void;
  /** As `offer`, but tells whether the broker has taken it. */
  send(topic: string, payload: string | undefined): Promise<boolean>;
  /** What was sent last, where the broker still has it. */
  last(topic: string): string | undefined;
  /** The broker may have lost everything, or another may have written there. */
  forget(): void;
}

interface Sent {
  readonly payload: string;
  readonly at_monotonicMs: number;
}

export function createPacedSender(bus: Pick<MessageBus, "publish">, monotonic_ms: () => number): PacedSender {
  const sent = new Map<string, Sent>();

  async function send(topic: string, payload = ""): Promise<boolean> {
    const mark = { payload, at_monotonicMs: monotonic_ms() };
    sent.set(topic, mark);
    const outcome = await bus.publish({ topic, payload, qos: 1, retain: true });
    if (outcome.kind === "sent") return true;
    if (sent.get(topic) === mark) sent.delete(topic);
    return false;
  }

  return {
    offer: (topic, payload = "", gap_ms = 0) => {
      const before = sent.get(topic);
      if (before?.payload === payload) return;
      const isNews = before === undefined || before.payload === "";
      if (!isNews && monotonic_ms() - before.at_monotonicMs < gap_ms) return;
      void send(topic, payload);
    },
    send,
    last: (topic) => {
      const payload = sent.get(topic)?.payload;
      return payload === "" ? undefined : payload;
    },
    forget: () => sent.clear(),
  };
}
