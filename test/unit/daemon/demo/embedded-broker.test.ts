import { connectAsync } from "mqtt";
import { connect as connectSocket } from "node:net";
import { describe, expect, it } from "vitest";
import { createEmbeddedBroker } from "../../../../daemon/demo/embedded-broker.js";

describe("the embedded broker", () => {
  it("listens on the loopback interface, carries a message and frees its port", async () => {
    const broker = createEmbeddedBroker();
    const address = await broker.start();
    expect(address).toMatch(/^mqtt:\/\/127\.0\.0\.1:\d+$/);
    const client = await connectAsync(address, { protocolVersion: 4 });
    const arrived = new Promise<string>((resolve) => {
      client.on("message", (topic, payload) => resolve(`${topic} ${payload.toString()}`));
    });
    await client.subscribeAsync("a/b", { qos: 1 });
    await client.publishAsync("a/b", "7", { qos: 1 });
    expect(await arrived).toBe("a/b 7");
    await client.endAsync(true);
    await broker.stop();
    const refused = await new Promise<string | undefined>((resolve) => {
      const socket = connectSocket(Number(new URL(address).port), "127.0.0.1");
      socket.once("error", (error: NodeJS.ErrnoException) => resolve(error.code));
      socket.once("connect", () => resolve("connected"));
    });
    expect(refused).toBe("ECONNREFUSED");
  });

  it("stops while clients are connected, and before it was ever started", async () => {
    const broker = createEmbeddedBroker();
    const client = await connectAsync(await broker.start(), { protocolVersion: 4, reconnectPeriod: 0 });
    const closed = new Promise<void>((resolve) => client.once("close", () => resolve()));
    await broker.stop();
    await closed;
    await client.endAsync(true);
    await createEmbeddedBroker().stop();
  });

  it("publishes the will of a client that breaks off", async () => {
    const broker = createEmbeddedBroker();
    const address = await broker.start();
    const listener = await connectAsync(address, { protocolVersion: 4 });
    await listener.subscribeAsync("relay/command", { qos: 1 });
    const heard = new Promise<string>((resolve) => {
      listener.on("message", (_topic, payload) => resolve(payload.toString()));
    });
    const guard = await connectAsync(address, {
      protocolVersion: 4,
      reconnectPeriod: 0,
      will: { topic: "relay/command", payload: Buffer.from("OFF"), qos: 1, retain: false },
    });
    guard.stream.destroy();
    expect(await heard).toBe("OFF");
    await listener.endAsync(true);
    await broker.stop();
  });
});
