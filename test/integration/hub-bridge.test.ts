import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { fileURLToPath } from "node:url";
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { observeBroker, type BrokerObserver } from "../support/broker-observer.js";
import { createCertificateAuthority, type CertificateAuthority } from "../support/certificates.js";
import { plainConfig, startDaemon, type DaemonProcess } from "../support/daemon-process.js";
import { watchHomie, type HomieController } from "../support/homie-controller.js";
import { freeLoopbackPort, startMosquitto, type Mosquitto } from "../support/mosquitto.js";
import { startRelayDevice, type RelayDevice } from "../support/relay-device.js";
import { startTcpProxy, type TcpProxy } from "../support/tcp-proxy.js";

/**
 * Two real brokers, joined as deploy/mosquitto/hub-bridge.conf joins them: only names and paths of another machine are
 * replaced. The tests follow each other on one daemon.
 */
const folder = fileURLToPath(new URL("../../deploy/mosquitto/", import.meta.url));
const command = "home/relays/cellar-outlet/command";
const base = "fizzward/mill-house";
const valve = "mill-house-valve-outlet";
const devices = ["mill-house", "mill-house-vessel-cellar", valve, "mill-house-tank-loach"] as const;
const password = "one for all of them";
/** What somebody adds who takes the hub's broker for the master of the house. */
const tooWide = [`topic ${command} out 1`, `topic ${base}/valve/+/override out 1`];

let own: string;
let authority: CertificateAuthority;
let siteBroker: Mosquitto;
let hubBroker: Mosquitto;
let cable: TcpProxy;
let owner: BrokerObserver;
let atHub: BrokerObserver;
let hub: HomieController;
let relay: RelayDevice;
let daemon: DaemonProcess;
let speaking: NodeJS.Timeout;

beforeAll(async () => {
  own = mkdtempSync(join(tmpdir(), "fizzward-bridge-"));
  authority = createCertificateAuthority("the household");
  const broker = authority.issue("broker", "IP:127.0.0.1");
  const lists = `${own}/lists.acl`;
  const delivered = readFileSync(`${folder}fizzward.acl`, "utf8").replaceAll("mill-pond", "mill-house");
  writeFileSync(lists, `${delivered}\nuser owner\ntopic readwrite #\n`, { mode: 0o600 });
  const encrypted = await freeLoopbackPort();
  siteBroker = await startMosquitto({
    users: Object.fromEntries(["fizzward", "hub", "cellar-outlet", "owner"].map((user) => [user, password])),
    lines: [
      `acl_file ${lists}`,
      `listener ${encrypted} 127.0.0.1`,
      `cafile ${authority.caFile}`,
      `certfile ${broker.certificateFile}`,
      `keyfile ${broker.keyFile}`,
    ],
  });
  cable = await startTcpProxy({ port: encrypted });
  const bridge = readFileSync(`${folder}hub-bridge.conf`, "utf8")
    .replace("tank-machine.home:8883", `127.0.0.1:${cable.port}`)
    .replace("/etc/mosquitto/certs/home-authority.pem", authority.caFile)
    .replace("PASSWORD-OF-HUB", password);
  hubBroker = await startMosquitto({ lines: [...bridge.split("\n"), ...tooWide] });
  owner = await observeBroker(siteBroker.address, { username: "owner", password });
  atHub = await observeBroker(hubBroker.address);
  hub = await watchHomie(hubBroker.address);
  relay = await startRelayDevice({
    address: siteBroker.address,
    commandTopic: command,
    stateTopic: "home/relays/cellar-outlet/state",
    autoOff_s: 300,
    connection: { username: "cellar-outlet", password },
  });
  daemon = startDaemon({
    config: (at) =>
      plainConfig(siteBroker.address, {
        brokerKeys: `, user: fizzward, password: ${password}, baseTopic: ${base}`,
        sections: "hub: { homie: {}, online: { topic: hub/state, payload: up } }",
      })(at)
        .replace("topic: tank/ph", "topic: home/sensors/loach-ph/value")
        .replace("relay/command", command)
        .replace("relay/state", "home/relays/cellar-outlet/state"),
  });
  let beat = 0;
  speaking = setInterval(
    () => void owner.publish("home/sensors/loach-ph/value", `6.8${beat++ % 7}`).catch(() => undefined),
    300,
  );
  await daemon.logged("reports open", 30_000);
}, 60_000);

afterAll(async () => {
  clearInterval(speaking);
  await daemon.dispose();
  await relay.close();
  for (const client of [owner, atHub, hub]) await client.close();
  await cable.close();
  await hubBroker.stop();
  await siteBroker.stop();
  authority.dispose();
  rmSync(own, { recursive: true, force: true });
});

const bridgeSays = (): string | undefined =>
  atHub.messages.filter(({ topic }) => topic === "fizzward-bridge/state").at(-1)?.payload;
const isReady = (client: HomieController) => () =>
  devices.every((deviceId) => client.stateOf(deviceId) === "ready");
const closedFor = (): string | undefined => hub.value(valve, "override", "closed-for");

async function overrideHere(action: "open" | "closed", until_epochMs: number): Promise<void> {
  const until = new Date(until_epochMs).toISOString();
  await owner.publish(`${base}/valve/outlet/override`, JSON.stringify({ action, until }));
}

describe("a hub at a broker of its own", () => {
  it("sees the whole tree over the bridge, and a newcomer there too", async () => {
    await hub.until("every device is ready", isReady(hub));
    expect(bridgeSays()).toBe("1");
    expect(hub.tree("mill-house").children.map(({ deviceId }) => deviceId)).toEqual(devices.slice(1));
    await hub.until("the relay's state", () => hub.value(valve, "valve", "state") === "open");
    const later = await watchHomie(hubBroker.address);
    await later.until("every device is ready", isReady(later));
    await later.until("its values", () => later.attributesOf(valve).size >= hub.attributesOf(valve).size);
    expect(later.breaches()).toEqual([]);
    await later.close();
    expect(hub.breaches()).toEqual([]);
    await hub.publish("hub/state", "up");
    await owner.next("hub/state", { timeout_ms: 3000 });
  }, 30_000);

  it("is heard: its wish comes back as target and closes the valve, and its end opens it again", async () => {
    await hub.set(valve, "override", "closed-for", "030");
    await hub.until("the target", () => hub.target(valve, "override", "closed-for") === "030");
    await vi.waitFor(() => expect(relay.isOn()).toBe(false), { timeout: 5000 });
    await hub.until("the value", () => closedFor() === "30");
    await hub.set(valve, "override", "closed-for", "0");
    await vi.waitFor(() => expect(relay.isOn()).toBe(true), { timeout: 5000 });
  }, 20_000);

  it("cannot switch a relay, nor write a topic of the site's own, whatever is added to the bridge", async () => {
    const from = owner.messages.length;
    const changes = relay.changes.length;
    await hub.publish(command, "OFF");
    await hub.publish(`${base}/valve/outlet/override`, "{}");
    // What comes after it over the same bridge.
    await hub.set("mill-house", "alarms", "acknowledge", "no-such-alarm");
    await hub.until("the refusal", () => hub.log.some(({ text }) => text.includes("no such alarm")));
    const came = owner.messages.slice(from).map(({ topic, payload }) => `${topic} ${payload}`);
    expect(came).not.toContain(`${command} OFF`);
    expect(came).not.toContain(`${base}/valve/outlet/override {}`);
    expect(relay.changes).toHaveLength(changes);
  }, 20_000);

  it("sees a cut; the valve stays as it is, control goes on, and nothing that was sent meanwhile acts later", async () => {
    const changes = relay.changes.length;
    await cable.cut();
    await vi.waitFor(() => expect(bridgeSays()).toBe("0"), { timeout: 5000 });
    // Neither a command of the hour nor one that its broker keeps.
    await hub.set(valve, "override", "closed-for", "77");
    await hub.publish(`homie/5/${valve}/override/closed-for/set`, "88", { retain: true });
    await sleep(1500);
    expect(relay.changes).toHaveLength(changes);
    expect(relay.isOn()).toBe(true);

    await overrideHere("closed", Date.now() + 600_000);
    await vi.waitFor(() => expect(relay.isOn()).toBe(false), { timeout: 5000 });
    // One override a second is taken.
    await sleep(1100);
    await overrideHere("open", Date.now() + 600_000);
    await vi.waitFor(() => expect(relay.isOn()).toBe(true), { timeout: 5000 });
    expect(hub.value(valve, "override", "open-for")).toBe("0");

    await cable.restore();
    await vi.waitFor(() => expect(bridgeSays()).toBe("1"), { timeout: 15_000 });
    await hub.until("what changed meanwhile", () => hub.value(valve, "override", "open-for") === "10");
    await daemon.logged("a retained command of a hub was ignored");
    await sleep(1500);
    expect(relay.isOn()).toBe(true);
    expect(closedFor()).toBe("0");
    expect(hub.breaches()).toEqual([]);
  }, 40_000);
});
