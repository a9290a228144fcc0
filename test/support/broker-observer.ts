import { performance } from "node:perf_hooks";
import { connectAsync, type IClientOptions } from "mqtt";
import { eventually } from "./eventually.js";

interface ObservedMessage {
  readonly topic: string;
  readonly payload: string;
  readonly retain: boolean;
  readonly qos: number;
  /** By performance.now() of the test. */
  readonly at_ms: number;
}

/** Another client of the broker, which sees everything and may publish. */
export interface BrokerObserver {
  readonly messages: readonly ObservedMessage[];
  publish(
    topic: string,
    payload: string | Uint8Array,
    options?: { readonly retain?: boolean },
  ): Promise<void>;
  /** The first message on the topic from an index on, as soon as it is there. */
  next(
    topic: string,
    options: { readonly from?: number; readonly timeout_ms: number },
  ): Promise<ObservedMessage>;
  close(): Promise<void>;
}

export async function observeBroker(address: string, options: IClientOptions = {}): Promise<BrokerObserver> {
  const messages: ObservedMessage[] = [];
  const client = await connectAsync(address, {
    protocolVersion: 5,
    clientId: `observer-${Math.random()}`,
    ...options,
  });
  client.on("error", () => undefined);
  client.on("message", (topic, payload, packet) => {
    const now_ms = performance.now();
    messages.push({
      topic,
      payload: payload.toString(),
      retain: packet.retain,
      qos: packet.qos,
      at_ms: now_ms,
    });
  });
  await client.subscribeAsync("#", { qos: 1 });
  return {
    messages,
    async publish(topic, payload, publishOptions) {
      const bytes = typeof payload === "string" ? payload : Buffer.from(payload);
      await client.publishAsync(topic, bytes, { qos: 1, retain: publishOptions?.retain === true });
    },
    next: (topic, { from = 0, timeout_ms }) =>
      eventually(
        () => {
          const found = messages.slice(from).find((message) => message.topic === topic);
          if (found === undefined) throw new Error(`nothing on ${topic} within ${timeout_ms} ms`);
          return found;
        },
        { timeout_ms, interval_ms: 5 },
      ),
    close: () => client.endAsync(true),
  };
}
