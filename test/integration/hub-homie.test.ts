import { afterAll, describe, expect, it, onTestFinished, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { kill, plainConfig, type DaemonProcess } from "../support/daemon-process.js";
import { watchHomie, type HomieController } from "../support/homie-controller.js";
import { descriptionSchema } from "../support/homie-rules.js";

/**
 * Rules are cited by the heading of the Homie convention, version 5, under which they stand. The tests follow each other on
 * one broker; a daemon takes seconds to start.
 */
const bench = useDaemonBench("file");
const hub = "hub: { homie: {}, online: { topic: hub/state, payload: up } }";
const devices = ["mill-house-vessel-cellar", "mill-house-valve-outlet", "mill-house-tank-loach"] as const;
const [, valve, tank] = devices;

let controller: HomieController;
let daemon: DaemonProcess;
afterAll(() => controller.close());

const isReady = (client: HomieController) => () =>
  ["mill-house", ...devices].every((deviceId) => client.stateOf(deviceId) === "ready");

/** A client that connects now and knows only what the broker has kept. */
async function newcomer(): Promise<HomieController> {
  const client = await watchHomie(bench().broker.address);
  onTestFinished(() => client.close());
  await client.until("every device is ready", isReady(client));
  return client;
}

const closedFor = (): string | undefined => controller.value(valve, "override", "closed-for");
const statesOf = (deviceId: string): readonly string[] => controller.devices().get(deviceId)?.states ?? [];

describe("the site as devices of Homie 5", () => {
  it("Device hierarchy, Device Attributes: a client that knows the convention alone rebuilds the site from the wire", async () => {
    controller = await watchHomie(bench().broker.address);
    daemon = await bench().run({ config: { sections: hub } });
    await bench().observer.publish("tank/ph", "6.8");
    await controller.until("every device is ready", isReady(controller));
    const { root, children } = controller.tree("mill-house");
    expect(children.map(({ deviceId }) => deviceId)).toEqual(devices);
    for (const device of [root, ...children]) {
      expect(descriptionSchema.parse(device.description).homie).toBe("5.0");
      expect(device.states).toEqual(["init", "ready"]);
    }
    expect(root.description?.root).toBeUndefined();
    expect(children.map(({ description }) => description?.root)).toEqual(devices.map(() => "mill-house"));
    const nodes = children[2]!.description!.nodes!;
    expect(nodes["water"]!.properties!["co2"]).toEqual({
      name: "CO2",
      datatype: "float",
      unit: "mg/L",
      settable: false,
      retained: true,
    });
    expect(nodes["journal"]!.properties!["kh"]).toMatchObject({ format: "0.1:40", settable: true });
    await controller.until("the CO2 is told", () => controller.value(tank, "water", "co2") !== undefined);
    expect(controller.value(tank, "water", "co2")).toMatch(/^\d{2}$/);
    expect(controller.value(tank, "water", "ph")).toBe("6.8");
    expect(controller.breaches()).toEqual([]);
  }, 60_000);

  it("QoS and retained messages: whoever comes later gets the whole from the broker, and nothing is missing in it", async () => {
    const later = await newcomer();
    await later.until("the same value", () => later.value(tank, "water", "ph") === "6.8");
    for (const deviceId of ["mill-house", ...devices]) {
      expect(later.devices().get(deviceId)?.description).toEqual(
        controller.devices().get(deviceId)?.description,
      );
    }
    expect(later.breaches()).toEqual([]);
    const ours = bench().observer.messages.filter(
      ({ topic, payload }) => topic.startsWith("homie/5/") && payload !== "",
    );
    expect(new Set(ours.map(({ qos }) => qos))).toEqual(new Set([1]));
  });

  it("Property command topic, Target attribute: an override comes back as target byte for byte, acts, and ends", async () => {
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });
    await controller.set(valve, "override", "closed-for", "030");
    await controller.until("the target", () => controller.target(valve, "override", "closed-for") === "030");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 5000 });
    await controller.until("the value", () => closedFor() === "30");
    expect(controller.value(valve, "override", "until")).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$/);
    await controller.set(valve, "override", "closed-for", "0");
    await controller.until("its end", () => closedFor() === "0");
    await controller.until("no end", () => controller.value(valve, "override", "until") === undefined);

    await controller.set(tank, "journal", "kh", "4.50");
    await controller.until("the hardness", () => controller.value(tank, "journal", "kh") === "4.5");
    expect(controller.target(tank, "journal", "kh")).toBe("4.50");
    expect(controller.value(tank, "journal", "kh-at")).toBeDefined();
    expect(controller.breaches()).toEqual([]);
  });

  it("Payloads: what is no payload of the property changes nothing and is answered in the device's log only", async () => {
    const hostile = [
      [valve, "override", "closed-for", "10.5"],
      [valve, "override", "open-for", "1e3"],
      ["mill-house", "alarms", "acknowledge", "../../etc"],
      ["mill-house", "alarms", "acknowledge", "x".repeat(5000)],
      [tank, "journal", "kh", "NaN"],
      [tank, "journal", "kh", "{".repeat(900)],
      [valve, "override", "closed-for", "-1"],
      [valve, "override", "open-for", "99999999999999999999999"],
    ] as const;
    for (const [deviceId, node, property, payload] of hostile) {
      const before = controller.log.length;
      await controller.set(deviceId, node, property, payload);
      await controller.until(`refused: ${payload.slice(0, 20)}`, () => controller.log.length > before);
    }
    expect(controller.log.map(({ level }) => level)).toEqual(hostile.map(() => "warn"));
    expect(controller.log[0]!.text).toContain("a whole number is expected");
    expect(controller.log[7]!.text).toContain("a whole number is expected");
    expect(closedFor()).toBe("0");
    expect(controller.value(tank, "journal", "kh")).toBe("4.5");
    expect(controller.breaches()).toEqual([]);
  });

  it("takes a flood of commands without harm, and a closing one in the midst of it", async () => {
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });
    for (let count = 0; count < 900; count += 1) {
      void controller.set(valve, "override", "open-for", String(1 + (count % 700)), 0);
    }
    await controller.set(valve, "override", "closed-for", "20");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 5000 });
    await controller.until("closed", () => closedFor() === "20");
    await controller.until("told", () =>
      controller.log.some(({ text }) => text.includes("too many at once")),
    );
    expect(bench().relay.changes.filter(({ by }) => by !== "command")).toEqual([]);
    expect(controller.breaches()).toEqual([]);
  });

  it("Auto-Discovery: a broker that lost everything, and a hub that comes up, are told the whole again", async () => {
    await bench().broker.kill();
    await bench().broker.start();
    await controller.until(
      "told after the loss",
      () => statesOf("mill-house").at(-1) === "ready" && statesOf("mill-house").length >= 4,
    );
    const later = await newcomer();
    expect(later.breaches()).toEqual([]);
    const from = statesOf("mill-house").length;
    // The whole is told again each 5 s at most; a message that came earlier is not forgotten.
    for (let count = 0; count < 3; count += 1) await controller.publish("hub/state", "up");
    await controller.until("told again", () => statesOf("mill-house").length >= from + 2);
    expect(statesOf("mill-house").slice(from)).toEqual(["init", "ready"]);
    expect(controller.breaches()).toEqual([]);
  }, 60_000);

  it("Adding children, Device Lifecycle: a tank that a reload brings in comes before its root; a kill loses the whole tree", async () => {
    const withShrimp = plainConfig(bench().broker.address, {
      sections: hub,
      tankKeys: `  shrimp:\n    volume_L: 40\n    kh_dKH: 5\n    photoperiods: [{ lightsOn: "10:00", lightsOff: "19:00" }]\n`,
    })(daemon.folder).replace("share: 1 }]", "share: 0.5 }, { tank: shrimp, share: 0.5 }]");
    const [ofVessel, ofRoot] = [statesOf(devices[0]).length, statesOf("mill-house").length];
    daemon.writeConfig(withShrimp);
    kill(daemon.processIds().daemon, "SIGHUP");
    await controller.until("the new tank", () => controller.stateOf("mill-house-tank-shrimp") === "ready");
    await controller.until("the root", () => statesOf("mill-house").length === ofRoot + 2);
    expect(statesOf("mill-house").slice(ofRoot)).toEqual(["init", "ready"]);
    expect(controller.tree("mill-house").children).toHaveLength(4);
    // What did not change did not go through init again.
    expect(statesOf(devices[0])).toHaveLength(ofVessel);
    expect(controller.breaches()).toEqual([]);

    kill(daemon.processIds().daemon, "SIGKILL");
    await daemon.exitCode();
    await controller.until("the root is lost", () => controller.stateOf("mill-house") === "lost");
    for (const deviceId of devices) expect(controller.stateOf(deviceId)).toBe("lost");
    expect(controller.breaches()).toEqual([]);
  }, 60_000);

  it("Removing children: what the next config no longer has is gone from the broker, its state first; a retained command is ignored", async () => {
    const topic = "homie/5/mill-house-valve-outlet/override/closed-for/set";
    await controller.publish(topic, "30", { retain: true });
    const passed = controller.passed.length;
    daemon = await bench().run({ config: { sections: hub, maximumAge_s: "5" }, folder: daemon.folder });
    await daemon.logged("a retained command of a hub was ignored");
    const shrimp = "mill-house-tank-shrimp";
    await controller.until("the tank is gone", () => controller.stateOf(shrimp) === undefined);
    await controller.until("every device is ready", isReady(controller));
    await controller.until("its values are gone", () => controller.attributesOf(shrimp).size === 0);
    const cleared = controller.passed
      .slice(passed)
      .filter((message) => message.topic.startsWith(`homie/5/${shrimp}/`) && message.payload === "");
    expect(cleared[0]!.topic).toBe(`homie/5/${shrimp}/$state`);
    expect(cleared.length).toBeGreaterThan(5);
    expect(Number(closedFor())).toBeLessThan(21);
    await controller.publish(topic, "", { retain: true });
    const later = await newcomer();
    expect(later.devices().has(shrimp)).toBe(false);
    expect(later.breaches()).toEqual([]);
  }, 60_000);

  it("Alert topic: an alarm stands at the devices that it touches, and goes with them; its alert id acknowledges it", async () => {
    const id = "guard-silent--tank-ph";
    const unacknowledged = (): number => Number(controller.value("mill-house", "alarms", "unacknowledged"));
    await controller.publish("tank/ph", "6.8");
    await controller.until("the alert", () => controller.alerts(valve).has(id), 30_000);
    expect(controller.alerts(tank).get(id)).toMatch(/^high: guard sensor tank-ph gives no/);
    await controller.until("counted", () => unacknowledged() > 0);
    const before = unacknowledged();
    await controller.set("mill-house", "alarms", "acknowledge", id);
    await controller.until("acknowledged", () => unacknowledged() === before - 1);
    expect(controller.events.at(-1)).toEqual({ topic: "homie/5/mill-house/alarms/acknowledge", payload: id });
    for (let count = 0; count < 3; count += 1) await controller.publish("tank/ph", "6.8");
    await controller.until("the alert is gone", () => !controller.alerts(valve).has(id));
  }, 60_000);

  it("Device Lifecycle: an orderly end says disconnected of each device; a config without a hub clears what an earlier one told", async () => {
    kill(daemon.processIds().daemon, "SIGTERM");
    expect(await daemon.exitCode(15_000)).toBe(0);
    for (const deviceId of ["mill-house", ...devices])
      expect(controller.stateOf(deviceId)).toBe("disconnected");
    expect(controller.breaches()).toEqual([]);
    const without = await bench().run({ folder: daemon.folder });
    await without.logged("the hub feed is complete");
    const later = await watchHomie(bench().broker.address);
    onTestFinished(() => later.close());
    await new Promise((resolve) => setTimeout(resolve, 300));
    expect([...later.devices().keys()]).toEqual([]);
    expect(later.breaches()).toEqual([]);
  }, 60_000);
});
