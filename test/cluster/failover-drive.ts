import { connectAsync } from "mqtt";
import { observeBroker, type BrokerObserver } from "../support/broker-observer.js";
import { plainConfig, startDaemon } from "../support/daemon-process.js";
import { eventually } from "../support/eventually.js";
import { startRelayDevice } from "../support/relay-device.js";
import type { BrokerUnderTest } from "./broker-under-test.js";

/** What is promised of a move to the other address while gas flows, with its limit. */
export const moveLimits = [
  { key: "connected_ms", what: "the daemon is connected at the other address", limit_s: 5 },
  {
    key: "off_ms",
    what: "the relay is off, by OFF repeated until it confirms, or by its own auto-off of 10 s",
    limit_s: 11,
  },
  {
    key: "documents_ms",
    what: "every document of the site and of the hub feed is kept at the other address, by its exact topic",
    limit_s: 10,
  },
] as const;
export type MoveKey = (typeof moveLimits)[number]["key"];
/** Milliseconds since the kill; NaN for never. */
export type MoveTimes = Readonly<Record<MoveKey, number>>;
export interface Move extends MoveTimes {
  readonly documents: number;
}

/** Of a relay that takes longer than the daemon to find the other address. */
const relayReturnsAfter_ms = 2500;
/** The shortest that the config takes. */
const autoOff_s = 10;
const patience_ms = 30_000;

/** The first address is killed while gas flows; the relay moves too, later than the daemon. */
export async function driveMove(broker: BrokerUnderTest): Promise<Move> {
  const { addresses, protocolVersion } = broker;
  const [first, second] = addresses;
  const ofOld = { protocolVersion } as const;
  const cleanups: (() => unknown)[] = [];
  try {
    const servers = addresses.map((address) => {
      const { hostname: host, port } = new URL(address);
      return { host, port: Number(port), protocol: "mqtt" as const };
    });
    const relay = await startRelayDevice({
      address: first,
      commandTopic: "relay/command",
      stateTopic: "relay/state",
      autoOff_s,
      connection: { ...ofOld, servers, reconnectPeriod: relayReturnsAfter_ms },
    });
    cleanups.push(() => relay.close());
    const speakers = await Promise.all(
      addresses.map((address) => connectAsync(address, { ...ofOld, reconnectPeriod: 500 })),
    );
    for (const speaker of speakers) {
      speaker.on("error", () => undefined);
      cleanups.push(() => speaker.endAsync(true));
    }
    let beat = 0;
    const speaking = setInterval(() => {
      const pH = `6.8${(beat += 1) % 7}`;
      for (const speaker of broker.isCluster ? speakers.slice(1) : speakers) {
        if (speaker.connected) speaker.publish("tank/ph", pH);
      }
    }, 300);
    cleanups.push(() => clearInterval(speaking));
    const watcher = await observeBroker(first, { ...ofOld, reconnectPeriod: 0 });
    cleanups.push(() => watcher.close());
    const daemon = startDaemon({
      config: plainConfig(addresses.join('", "'), {
        sections: "hub: { homie: {} }",
        autoOff_s: String(autoOff_s),
      }),
    });
    cleanups.push(() => daemon.dispose());
    await daemon.logged("reports open", 60_000);
    await daemon.logged("the hub feed is complete", 30_000);
    await new Promise((resolve) => setTimeout(resolve, 1000));
    const topics = keptTopics(watcher);

    const killed_ms = performance.now();
    await broker.killFirst();
    const [connected_ms, off_ms, documents_ms] = await Promise.all([
      since(killed_ms, () => daemon.output().includes(`"address":"${second}"`)),
      since(killed_ms, () => !relay.isOn()),
      keptAfter_ms(second, protocolVersion, topics, killed_ms),
    ]);
    return { connected_ms, off_ms, documents_ms, documents: topics.length };
  } finally {
    for (const cleanup of cleanups.reverse()) await cleanup();
  }
}

/** What the daemon keeps at the broker, but for alerts, which come and go. */
function keptTopics({ messages }: BrokerObserver): readonly string[] {
  const last = new Map(messages.map(({ topic, payload }) => [topic, payload]));
  return [...last]
    .filter(([topic, payload]) => /^(?:fizzward|homie)\//.test(topic) && payload !== "")
    .map(([topic]) => topic)
    .filter((topic) => !/\$log|\$alert/.test(topic));
}

async function since(from_ms: number, holds: () => boolean): Promise<number> {
  return eventually(
    () => {
      if (!holds()) throw new Error("not yet");
      return performance.now() - from_ms;
    },
    { timeout_ms: patience_ms, interval_ms: 5 },
  ).catch(() => Number.NaN);
}

/** A reader that comes new each time asks for each topic by name, until the broker has handed over all of them. */
async function keptAfter_ms(
  address: string,
  protocolVersion: 4 | 5,
  topics: readonly string[],
  from_ms: number,
): Promise<number> {
  return eventually(
    async () => {
      const reader = await connectAsync(address, { protocolVersion, reconnectPeriod: 0 });
      try {
        const kept = new Set<string>();
        reader.on("message", (topic, _payload, { retain }) => {
          if (retain) kept.add(topic);
        });
        await reader.subscribeAsync([...topics], { qos: 0 });
        await eventually(
          () => {
            if (kept.size < topics.length) throw new Error("not all");
          },
          { timeout_ms: 500, interval_ms: 5 },
        );
        return performance.now() - from_ms;
      } finally {
        await reader.endAsync(true);
      }
    },
    { timeout_ms: patience_ms, interval_ms: 20 },
  ).catch(() => Number.NaN);
}
