import { startMosquitto } from "../support/mosquitto.js";
import { startRabbitmqCluster } from "./rabbitmq-cluster.js";

/** Two addresses of which one can be killed: two nodes of a cluster, or two brokers that know nothing of each other. */
export interface BrokerUnderTest {
  readonly name: string;
  readonly addresses: readonly [string, string];
  readonly protocolVersion: 4 | 5;
  /** What is published at one address is heard at the other. */
  readonly isCluster: boolean;
  killFirst(): Promise<void>;
  /** What its documentation of the page asks for before the daemon comes. */
  prepare(): void;
  dispose(): Promise<void>;
}

export const brokerNames = ["mosquitto", "rabbitmq"] as const;
export type BrokerName = (typeof brokerNames)[number];

export async function startBroker(name: BrokerName): Promise<BrokerUnderTest> {
  if (name === "rabbitmq") {
    const cluster = await startRabbitmqCluster();
    return {
      addresses: cluster.addresses,
      killFirst: () => cluster.killFirst(),
      dispose: () => cluster.dispose(),
      name: `rabbitmq ${cluster.version}, cluster of two`,
      protocolVersion: 4,
      isCluster: true,
      prepare: () => cluster.mirrorSubscriptions(),
    };
  }
  const first = await startMosquitto({ logType: "error" });
  const second = await startMosquitto({ logType: "error" });
  return {
    name: "mosquitto 2.0.11, two brokers",
    addresses: [first.address, second.address],
    protocolVersion: 5,
    isCluster: false,
    killFirst: () => first.kill(),
    prepare: () => undefined,
    async dispose() {
      await first.stop();
      await second.stop();
    },
  };
}
