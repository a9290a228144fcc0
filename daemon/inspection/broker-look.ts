import { randomUUID } from "node:crypto";
import type { BrokerFacts } from "../../lib/inspection/broker-finding.js";
import type { Clock } from "../ports/clock.js";
import type { BusState, MessageBus } from "../ports/message-bus.js";
import { topicBelow } from "../mqtt/topics.js";

const connectWithin_ms = 15_000;
const echoWithin_ms = 2000;

/** Sends one message to a topic of our own and waits for it. The bus is started here; whoever made it stops it. */
export async function lookAtBroker(
  { bus, clock }: { readonly bus: MessageBus; readonly clock: Pick<Clock, "monotonic_ms" | "sleep"> },
  baseTopic: string,
): Promise<BrokerFacts> {
  const topic = topicBelow(baseTopic, "inspection", "echo");
  const payload = randomUUID();
  const heard = firstCall<number>();
  bus.subscribe(topic, 1, (message) => {
    if (Buffer.from(message.payload).toString() === payload) heard.call(clock.monotonic_ms());
  });
  const changed = firstCall<BusState>();
  bus.onStateChange(changed.call);
  await bus.start();
  const state = await withinTime(clock, changed.called, connectWithin_ms);
  if (state === undefined) return { kind: "not reached", reason: "it does not answer" };
  if (state.kind === "disconnected") return { kind: "not reached", reason: state.reason };

  const { address, protocolVersion } = state;
  const sent_monotonicMs = clock.monotonic_ms();
  const outcome = await bus.publish({ topic, payload, qos: 1, retain: false });
  const connected = {
    kind: "connected",
    address,
    protocolVersion,
    isEncrypted: /^(mqtts|wss):/.test(address),
  } as const;
  const lost = (because: string): BrokerFacts => ({
    ...connected,
    echo: { kind: "did not come back", topic, because },
  });
  if (outcome.kind !== "sent") {
    return lost(outcome.kind === "failed" ? outcome.reason : "the connection ended");
  }
  const heard_monotonicMs = await withinTime(clock, heard.called, echoWithin_ms);
  return heard_monotonicMs === undefined
    ? lost(`nothing in ${echoWithin_ms / 1000} s`)
    : { ...connected, echo: { kind: "came back", after_ms: heard_monotonicMs - sent_monotonicMs } };
}

function firstCall<Value>(): { readonly call: (value: Value) => void; readonly called: Promise<Value> } {
  let call: (value: Value) => void = () => undefined;
  const called = new Promise<Value>((resolve) => {
    call = resolve;
  });
  return { call, called };
}

async function withinTime<Value>(
  clock: Pick<Clock, "sleep">,
  awaited: Promise<Value>,
  patience_ms: number,
): Promise<Value | undefined> {
  const ended = new AbortController();
  const value = await Promise.race([awaited, clock.sleep(patience_ms, ended.signal).then(() => undefined)]);
  ended.abort();
  return value;
}
