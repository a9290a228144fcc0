import { setTimeout as sleep } from "node:timers/promises";
import { connect as mqttConnect, type IClientOptions, type MqttClient } from "mqtt";
import { eventually } from "../support/eventually.js";
import type { BrokerUnderTest } from "./broker-under-test.js";

export interface Judged {
  readonly holds: boolean;
  /** What was measured, or why it does not apply. */
  readonly figure: string;
}

/** Something that a broker does or does not do, and what it is needed for. */
export interface BrokerTrait {
  readonly what: string;
  readonly neededFor: string;
  judge(broker: BrokerUnderTest): Promise<Judged>;
}

interface Heard {
  readonly topic: string;
  readonly text: string;
  readonly retain: boolean;
  readonly at_ms: number;
}

const waits_ms = 3000;
let serial = 0;

async function connect(
  { addresses, protocolVersion }: BrokerUnderTest,
  which: 0 | 1,
  options: IClientOptions = {},
): Promise<MqttClient> {
  const client = mqttConnect(addresses[which], {
    protocolVersion,
    clientId: `trait-${(serial += 1)}`,
    reconnectPeriod: 0,
    ...options,
  });
  // A broker may close the connection without a word.
  const opened = await new Promise<string>((resolve) => {
    client.once("connect", () => resolve("open"));
    client.on("error", ({ message }) => resolve(message));
    client.once("close", () => resolve("closed by the broker"));
  });
  if (opened !== "open") throw new Error(opened);
  return client;
}

function ear(client: MqttClient): readonly Heard[] {
  const heard: Heard[] = [];
  client.on("message", (topic, payload, { retain }) => {
    const at_ms = performance.now();
    heard.push({ topic, text: payload.toString(), retain, at_ms });
  });
  return heard;
}

async function first(
  heard: readonly Heard[],
  topic: string,
  within_ms = waits_ms,
): Promise<Heard | undefined> {
  return eventually(
    () => {
      const found = heard.find((message) => message.topic === topic);
      if (found === undefined) throw new Error("not yet");
      return found;
    },
    { timeout_ms: within_ms, interval_ms: 5 },
  ).catch(() => undefined);
}

async function withClients<T>(clients: readonly MqttClient[], use: () => Promise<T>): Promise<T> {
  try {
    return await use();
  } finally {
    for (const client of clients) await client.endAsync(true);
  }
}

const told = (took_ms: number): string => `${Math.max(1, Math.round(took_ms))} ms`;

async function keptFor(
  broker: BrokerUnderTest,
  where: 0 | 1,
  filter: string,
  topic: string,
): Promise<Judged> {
  const writer = await connect(broker, 0);
  const reader = await connect(broker, where);
  return withClients([writer, reader], async () => {
    await writer.publishAsync(topic, "kept", { qos: 1, retain: true });
    await sleep(500);
    const heard = ear(reader);
    await reader.subscribeAsync(filter, { qos: 0 });
    const found = await first(heard, topic);
    return { holds: found?.retain === true, figure: found === undefined ? "not handed over" : "handed over" };
  });
}

async function willAfter(broker: BrokerUnderTest, end: (client: MqttClient) => unknown): Promise<Judged> {
  const topic = `trait/will/${(serial += 1)}`;
  const watcher = await connect(broker, broker.isCluster ? 1 : 0);
  const leaving = await connect(broker, 0, {
    will: { topic, payload: Buffer.from("off"), qos: 1, retain: false },
  });
  return withClients([watcher, leaving], async () => {
    const heard = ear(watcher);
    await watcher.subscribeAsync(topic, { qos: 0 });
    const from_ms = performance.now();
    await end(leaving);
    const found = await first(heard, topic, 10_000);
    return found === undefined
      ? { holds: false, figure: "none within 10 s" }
      : { holds: true, figure: told(found.at_ms - from_ms) };
  });
}

/** What is judged while both addresses live. */
export const brokerTraits: readonly BrokerTrait[] = [
  {
    what: "publishes the Last Will of a client whose connection breaks",
    neededFor: "control: the dead-man's closing",
    judge: (broker) => willAfter(broker, (client) => client.stream.destroy()),
  },
  {
    what: "marks what it had kept as retained, and what is live as not",
    neededFor: "control: history must not actuate",
    async judge(broker) {
      const [writer, live, late] = [
        await connect(broker, 0),
        await connect(broker, 0),
        await connect(broker, 0),
      ];
      return withClients([writer, live, late], async () => {
        const [heardLive, heardLate] = [ear(live), ear(late)];
        await live.subscribeAsync("trait/marked", { qos: 1 });
        await writer.publishAsync("trait/marked", "1", { qos: 1, retain: true });
        const atOnce = await first(heardLive, "trait/marked");
        await late.subscribeAsync("trait/marked", { qos: 1 });
        const later = await first(heardLate, "trait/marked");
        return { holds: atOnce?.retain === false && later?.retain === true, figure: "both marked rightly" };
      });
    },
  },
  {
    what: "speaks MQTT 5: a late ON expires, a kept command that comes over is known as one",
    neededFor: "control: nothing late actuates",
    async judge(broker) {
      const clients: MqttClient[] = [];
      try {
        const options = { protocolVersion: 5 } as const;
        for (const which of [0, 0] as const) clients.push(await connect(broker, which, options));
      } catch {
        return { holds: false, figure: "MQTT 3.1.1 only" };
      }
      const [writer, reader] = clients as [MqttClient, MqttClient];
      return withClients(clients, async () => {
        const heard = ear(reader);
        await reader.subscribeAsync("trait/as-published", { qos: 1, rap: true });
        await writer.publishAsync("trait/as-published", "1", { qos: 1, retain: true });
        const found = await first(heard, "trait/as-published");
        return { holds: found?.retain === true, figure: "MQTT 5" };
      });
    },
  },
  {
    what: "keeps a retained message and hands it over by its exact topic",
    neededFor: "hub feed, displays",
    judge: (broker) => keptFor(broker, 0, "trait/exact", "trait/exact"),
  },
  {
    what: "hands retained messages to a wildcard subscription",
    neededFor: "hub feed: discovery by a hub that comes later",
    judge: (broker) => keptFor(broker, 0, "trait/wild/+", "trait/wild/card"),
  },
  {
    what: "hands over at one address what was kept at the other",
    neededFor:
      "hub feed: a hub at the other address; without it the daemon tells everything anew after a move",
    judge: (broker) => keptFor(broker, 1, "trait/other", "trait/other"),
  },
  {
    what: "hands live messages from one address to the other",
    neededFor: "control, where relay, sensor and daemon are at different addresses",
    async judge(broker) {
      const [writer, reader] = [await connect(broker, 0), await connect(broker, 1)];
      return withClients([writer, reader], async () => {
        const heard = ear(reader);
        await reader.subscribeAsync("trait/across", { qos: 1 });
        const from_ms = performance.now();
        await writer.publishAsync("trait/across", "1", { qos: 1 });
        const found = await first(heard, "trait/across");
        return found === undefined
          ? { holds: false, figure: "not handed over" }
          : { holds: true, figure: told(found.at_ms - from_ms) };
      });
    },
  },
];

/** What one kill of the first address shows, in this order. */
export const killTraits: readonly Pick<BrokerTrait, "what" | "neededFor">[] = [
  {
    what: "publishes the wills of the clients of a node that is killed",
    neededFor:
      "control, where a relay stays at the other node: else OFF comes with the daemon's move, or by the relay's auto-off",
  },
  {
    what: "takes the same client with its QoS 1 subscription at the other address after a kill, without any preparation",
    neededFor: "control: the daemon's move",
  },
];

export const allTraits = [...brokerTraits, ...killTraits];

/** Kills the first address; it does not come back. */
export async function judgeKill(broker: BrokerUnderTest): Promise<readonly Judged[]> {
  const clientId = `mover-${(serial += 1)}`;
  const mover = await connect(broker, 0, { clientId });
  await mover.subscribeAsync(movedTopic, { qos: 1 });
  const will = await willAfter(broker, () => broker.killFirst());
  const moved = await movedTo(broker, clientId);
  await mover.endAsync(true);
  return [broker.isCluster ? will : { holds: false, figure: "it is gone itself" }, moved];
}

const movedTopic = "trait/moved";

async function movedTo(broker: BrokerUnderTest, clientId: string): Promise<Judged> {
  const from_ms = performance.now();
  return eventually(
    async () => {
      const after = await connect(broker, 1, { clientId, connectTimeout: 2000 });
      return withClients([after], async () => {
        const heard = ear(after);
        const gone = new Promise<never>((_resolve, reject) =>
          after.once("close", () => reject(new Error("closed by the broker"))),
        );
        const unanswered = sleep(2000).then(() => Promise.reject(new Error("no answer")));
        await Promise.race([after.subscribeAsync(movedTopic, { qos: 1 }), gone, unanswered]);
        await after.publishAsync(movedTopic, "1", { qos: 0 });
        if ((await first(heard, movedTopic)) === undefined) throw new Error("not heard");
        return { holds: true, figure: told(performance.now() - from_ms) };
      });
    },
    { timeout_ms: 10_000, interval_ms: 300 },
  ).catch((error: unknown): Judged => ({
    holds: false,
    figure: `not within 10 s: ${error instanceof Error ? error.message : String(error)}`,
  }));
}
