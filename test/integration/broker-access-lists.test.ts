import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { fileURLToPath } from "node:url";
import { connectAsync, type MqttClient } from "mqtt";
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { kill, plainConfig, startDaemon } from "../support/daemon-process.js";
import { startMosquitto, type Mosquitto } from "../support/mosquitto.js";
import { startRelayDevice } from "../support/relay-device.js";

/**
 * The access lists as they are delivered, in a real mosquitto. A watcher is added who may read everything, so that what came
 * through is seen, and an owner who may write everything, so that what each user hears is seen.
 */
const folder = fileURLToPath(new URL("../../deploy/mosquitto/", import.meta.url));
const lists = `${folder}fizzward.acl`;
const devices = ["cellar-outlet", "cellar-second", "loach-ph"];
const users = ["fizzward", "hub", "display", "person", ...devices];
const password = "one for all of them";

let own: string;
let broker: Mosquitto;
let watcher: MqttClient;
let owner: MqttClient;
const seen: string[] = [];
const clients = new Map<string, { readonly client: MqttClient; readonly heard: string[] }>();

const topics = [
  "home/relays/cellar-outlet/command",
  "home/relays/cellar-outlet/query",
  "home/relays/cellar-outlet/state",
  "home/relays/cellar-second/command",
  "home/relays/cellar-second/state",
  "home/sensors/loach-ph/value",
  "home/sensors/other/value",
  "fizzward/mill-pond/daemon",
  "fizzward/mill-pond/valve/outlet",
  "fizzward/mill-pond/valve/outlet/override",
  "fizzward/mill-pond/alarms",
  "fizzward/mill-pond/alarms/acknowledge",
  "fizzward/mill-pond/journal/enter",
  "fizzward/elsewhere/valve/outlet/override",
  "homie/5/mill-pond-valve-outlet/override/open-for",
  "homie/5/mill-pond-valve-outlet/override/open-for/set",
  "hub/state",
  "anything/else",
] as const;
type Topic = (typeof topics)[number];

/** Written out, not derived from the file. */
const rights: Readonly<
  Record<string, { readonly writes: readonly Topic[]; readonly reads: readonly Topic[] }>
> = {
  fizzward: {
    writes: [
      "home/relays/cellar-outlet/command",
      "home/relays/cellar-outlet/query",
      "home/relays/cellar-second/command",
      "fizzward/mill-pond/daemon",
      "fizzward/mill-pond/valve/outlet",
      "fizzward/mill-pond/valve/outlet/override",
      "fizzward/mill-pond/alarms",
      "fizzward/mill-pond/alarms/acknowledge",
      "fizzward/mill-pond/journal/enter",
      "homie/5/mill-pond-valve-outlet/override/open-for",
      "homie/5/mill-pond-valve-outlet/override/open-for/set",
    ],
    reads: [
      "home/relays/cellar-outlet/state",
      "home/relays/cellar-second/state",
      "home/sensors/loach-ph/value",
      "home/sensors/other/value",
      "fizzward/mill-pond/valve/outlet/override",
      "fizzward/mill-pond/alarms/acknowledge",
      "fizzward/mill-pond/journal/enter",
      "homie/5/mill-pond-valve-outlet/override/open-for/set",
      "hub/state",
    ],
  },
  hub: {
    writes: ["homie/5/mill-pond-valve-outlet/override/open-for/set", "hub/state"],
    reads: topics.filter(
      (topic) =>
        /^(fizzward\/mill-pond|homie|home\/sensors)\//.test(topic) ||
        (topic.endsWith("/state") && topic.startsWith("home/relays")),
    ),
  },
  display: { writes: [], reads: topics.filter((topic) => topic.startsWith("fizzward/mill-pond/")) },
  person: {
    writes: [
      "fizzward/mill-pond/valve/outlet/override",
      "fizzward/mill-pond/alarms/acknowledge",
      "fizzward/mill-pond/journal/enter",
    ],
    reads: topics.filter((topic) => topic.startsWith("fizzward/mill-pond/")),
  },
  "cellar-outlet": {
    writes: ["home/relays/cellar-outlet/state"],
    reads: ["home/relays/cellar-outlet/command", "home/relays/cellar-outlet/query"],
  },
  "cellar-second": {
    writes: ["home/relays/cellar-second/state"],
    reads: ["home/relays/cellar-second/command"],
  },
  "loach-ph": { writes: ["home/sensors/loach-ph/value"], reads: [] },
};

async function clientOf(username: string): Promise<MqttClient> {
  const client = await connectAsync(broker.address, {
    protocolVersion: 5,
    username,
    password,
    reconnectPeriod: 0,
    clientId: `test-${username}`,
  });
  client.on("error", () => undefined);
  return client;
}

beforeAll(async () => {
  own = mkdtempSync(join(tmpdir(), "fizzward-lists-"));
  const file = `${own}/lists.acl`;
  writeFileSync(
    file,
    `${readFileSync(lists, "utf8")}\nuser watcher\ntopic read #\nuser owner\ntopic write #\n`,
    {
      mode: 0o600,
    },
  );
  const everybody = [...users, "watcher", "owner"];
  broker = await startMosquitto({
    users: Object.fromEntries(everybody.map((user) => [user, password])),
    lines: [`acl_file ${file}`, "message_size_limit 262144"],
  });
  watcher = await clientOf("watcher");
  watcher.on("message", (_topic, payload) => seen.push(payload.toString()));
  await watcher.subscribeAsync("#", { qos: 1 });
  owner = await clientOf("owner");
  for (const user of users) {
    const client = await clientOf(user);
    const heard: string[] = [];
    client.on("message", (_topic, payload) => heard.push(payload.toString()));
    await client.subscribeAsync("#", { qos: 1 });
    clients.set(user, { client, heard });
  }
});

afterAll(async () => {
  for (const client of [watcher, owner, ...[...clients.values()].map((each) => each.client)]) {
    await client.endAsync(true);
  }
  await broker.stop();
  rmSync(own, { recursive: true, force: true });
});

describe("the access lists", () => {
  it.each(users)("let %s write what it must, and nothing else", async (user) => {
    const { client } = clients.get(user)!;
    for (const topic of topics) {
      await client.publishAsync(topic, `${user} to ${topic}`, { qos: 1 }).catch(() => undefined);
    }
    // What comes after everything else on the way through the same broker.
    await owner.publishAsync("anything/else", `${user} is done`, { qos: 1 });
    await vi.waitFor(() => expect(seen).toContain(`${user} is done`), { timeout: 3000 });
    const through = topics.filter((topic) => seen.includes(`${user} to ${topic}`));
    expect(through).toEqual(topics.filter((topic) => rights[user]!.writes.includes(topic)));
  });

  it("let everybody hear what they must, and nothing else", async () => {
    for (const topic of topics) await owner.publishAsync(topic, `read ${topic}`, { qos: 1 });
    await sleep(500);
    for (const user of users) {
      const { heard } = clients.get(user)!;
      const got = topics.filter((topic) => heard.includes(`read ${topic}`));
      expect({ user, got }).toEqual({
        user,
        got: topics.filter((topic) => rights[user]!.reads.includes(topic)),
      });
    }
  });

  it("let nobody but the daemon's user say anything to a relay", () => {
    const sayers = users.filter((user) =>
      rights[user]!.writes.some((topic) => /relays\/.*\/command$/.test(topic)),
    );
    expect(sayers).toEqual(["fizzward"]);
  });

  it("let nobody in without a password", async () => {
    await expect(connectAsync(broker.address, { protocolVersion: 5, reconnectPeriod: 0 })).rejects.toThrow(
      /Not authorized/,
    );
  });

  it("keep a will from doing what its user may not", async () => {
    const stranger = await connectAsync(broker.address, {
      protocolVersion: 5,
      username: "loach-ph",
      password,
      reconnectPeriod: 0,
      clientId: "with-a-will",
      will: {
        topic: "home/relays/cellar-outlet/command",
        payload: Buffer.from("will of loach-ph"),
        qos: 1,
        retain: false,
      },
    }).catch(() => undefined);
    stranger?.stream.destroy();
    await owner.publishAsync("anything/else", "after the will", { qos: 1 });
    await vi.waitFor(() => expect(seen).toContain("after the will"), { timeout: 3000 });
    await sleep(300);
    expect(seen).not.toContain("will of loach-ph");
  });

  it("let the daemon dose and its dead-man close", async () => {
    const relay = await startRelayDevice({
      address: broker.address,
      commandTopic: "home/relays/cellar-outlet/command",
      stateTopic: "home/relays/cellar-outlet/state",
      autoOff_s: 300,
      connection: { username: "cellar-outlet", password },
    });
    const daemon = startDaemon({
      config: (at) =>
        plainConfig(broker.address, {
          brokerKeys: `, user: fizzward, password: ${password}, baseTopic: fizzward/mill-pond`,
        })(at)
          .replace("topic: tank/ph", "topic: home/sensors/loach-ph/value")
          .replace("relay/command", "home/relays/cellar-outlet/command")
          .replace("relay/state", "home/relays/cellar-outlet/state"),
    });
    try {
      await daemon.logged("dead-man connection armed", 30_000);
      const sensor = clients.get("loach-ph")!.client;
      const timer = setInterval(() => sensor.publish("home/sensors/loach-ph/value", "6.8"), 300);
      await daemon.logged("reports open", 20_000).finally(() => clearInterval(timer));
      expect(relay.isOn()).toBe(true);
      kill(daemon.processIds().daemon, "SIGKILL");
      await vi.waitFor(() => expect(relay.isOn()).toBe(false), { timeout: 3000 });
    } finally {
      await daemon.dispose();
      await relay.close();
    }
  }, 60_000);
});

describe("the broker's configuration", () => {
  it("is one that mosquitto takes, lets nobody in without a name, and is bounded", async () => {
    const text = readFileSync(`${folder}fizzward.conf`, "utf8");
    expect(text).toContain("allow_anonymous false");
    expect(text).toContain("acl_file /etc/mosquitto/fizzward.acl");
    // Everything but the files and listeners of a machine that is not this one.
    const lines = text
      .split("\n")
      .filter(
        (line) =>
          line !== "" && !/^(#|listener|cafile|certfile|keyfile|password_file|acl_file|allow_)/.test(line),
      );
    expect(lines).toContain("message_size_limit 262144");
    // Debian's own mosquitto.conf stands before it, and mosquitto takes some keys once only.
    const debians = [`pid_file ${own}/mosquitto.pid`, "persistence true", `persistence_location ${own}/`];
    const tried = await startMosquitto({ lines: [...debians, ...lines] });
    const connection = { protocolVersion: 5, reconnectPeriod: 0 } as const;
    const [listener, speaker] = [
      await connectAsync(tried.address, connection),
      await connectAsync(tried.address, connection),
    ];
    const got: string[] = [];
    listener.on("message", (topic) => got.push(topic));
    await listener.subscribeAsync("#", { qos: 1 });
    speaker.on("error", () => undefined);
    speaker.publish("large", Buffer.alloc(300_000), { qos: 1 });
    await sleep(500);
    await listener.publishAsync("small", "1", { qos: 1 });
    await vi.waitFor(() => expect(got).toContain("small"), { timeout: 3000 });
    expect(got).toEqual(["small"]);
    await listener.endAsync(true);
    await speaker.endAsync(true);
    await tried.stop();
  });
});
