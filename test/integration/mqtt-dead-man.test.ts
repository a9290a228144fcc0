import { fork, type ChildProcess } from "node:child_process";
import { readFileSync } from "node:fs";
import { performance } from "node:perf_hooks";
import { fileURLToPath } from "node:url";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { createProcessDeadMan, type ProcessDeadMan } from "../../daemon/mqtt/process-dead-man.js";
import type { BrokerObserver } from "../support/broker-observer.js";
import { createCertificateAuthority } from "../support/certificates.js";
import { CollectingLogger } from "../support/collecting-logger.js";
import type { ParentStatus, ToParent } from "../support/dead-man-parent.js";
import { machineClock } from "../support/machine-clock.js";
import type { Mosquitto } from "../support/mosquitto.js";
import { MqttBench } from "../support/mqtt-bench.js";
import { connackOf } from "../support/scripted-broker.js";

/** The compiled process, as the daemon itself starts it. */
const parentFile = fileURLToPath(new URL("../../dist/test/support/dead-man-parent.js", import.meta.url));
const processFile = fileURLToPath(new URL("../../dist/daemon/mqtt/dead-man-process.js", import.meta.url));
const relays = [
  { relayId: "outlet", commandTopic: "cellar/relay/1/command", payloadOff: "OFF" },
  { relayId: "series", commandTopic: "cellar/relay/2/command", payloadOff: '{"output":false}' },
];
const [outlet] = relays as [(typeof relays)[0]];
const within = { timeout: 8_000, interval: 10 };

const bench = new MqttBench();
let mosquitto: Mosquitto;
let seen: BrokerObserver;
beforeEach(async () => {
  mosquitto = await bench.mosquitto();
  seen = await bench.observer(mosquitto.address);
});
afterEach(() => bench.clear());

const isRunning = (pid: number): boolean => {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
};
const gone = (pid: number): Promise<void> => vi.waitFor(() => expect(isRunning(pid)).toBe(false), within);

interface Parent {
  readonly process: ChildProcess;
  readonly pid: number;
  readonly deadManPid: number;
  status(): ParentStatus;
  tell(message: ToParent): void;
  armed(): Promise<void>;
}

/** A parent whose dead-man is armed for both relays. */
async function armedParent(access: {
  readonly addresses: readonly string[];
  readonly user?: string;
  readonly password?: string;
}): Promise<Parent> {
  const started = fork(parentFile, [], { execArgv: [] });
  let status: ParentStatus = { armed: [], faults: [], deadManProcessId: undefined };
  started.on("message", (message) => (status = message as unknown as ParentStatus));
  bench.endsWithTest(async () => {
    const pids = [started.pid, status.deadManProcessId].filter((pid) => pid !== undefined);
    for (const pid of pids) if (isRunning(pid)) process.kill(pid, "SIGKILL");
    await Promise.all(pids.map(gone));
  });
  const tell = (message: ToParent): void => void started.send(message);
  tell({ kind: "begin", siteId: "brook-lane", relays, ...access });
  const armed = (): Promise<void> =>
    vi.waitFor(() => expect(status.armed).toEqual(["outlet", "series"]), { timeout: 20_000, interval: 5 });
  await armed();
  const { deadManProcessId } = status;
  if (started.pid === undefined || deadManProcessId === undefined) throw new Error("no process");
  return {
    process: started,
    pid: started.pid,
    deadManPid: deadManProcessId,
    status: () => status,
    tell,
    armed,
  };
}

/** When both closing commands had come, after `begin_ms`. */
async function closedAfter_ms(begin_ms: number, timeout_ms: number, from = 0): Promise<number> {
  const commands = await Promise.all(
    relays.map(({ commandTopic }) => seen.next(commandTopic, { from, timeout_ms })),
  );
  expect(commands.map(({ payload, qos, retain }) => ({ payload, qos, retain }))).toEqual(
    relays.map(({ payloadOff }) => ({ payload: payloadOff, qos: 1, retain: false })),
  );
  return Math.max(...commands.map(({ at_ms }) => at_ms)) - begin_ms;
}
const note = (what: string, took_ms: number): void =>
  console.info(`closing command after ${what}: ${(took_ms / 1000).toFixed(3)} s`);

describe("the closing command reaches the relays' topics", () => {
  it("within 1 s of a SIGKILL of the daemon, and nothing is left running", async () => {
    const parent = await armedParent({ addresses: [mosquitto.address] });
    const begin_ms = performance.now();
    process.kill(parent.pid, "SIGKILL");
    const took_ms = await closedAfter_ms(begin_ms, 5_000);
    note("SIGKILL of the daemon", took_ms);
    expect(took_ms).toBeLessThan(1_000);
    await gone(parent.deadManPid);
  });

  it("within 3 s when the daemon's loop stalls, and the connections are armed again when it goes on", async () => {
    const parent = await armedParent({ addresses: [mosquitto.address] });
    const begin_ms = performance.now();
    parent.tell({ kind: "stall", duration_ms: 5_000 });
    const took_ms = await closedAfter_ms(begin_ms, 8_000);
    note("a stalled loop", took_ms);
    expect(took_ms).toBeGreaterThan(900);
    expect(took_ms).toBeLessThan(3_000);
    await machineClock.sleep(3_500);
    await parent.armed();
    expect(parent.status().deadManProcessId).toBe(parent.deadManPid);
  });

  it("within 3 s of a SIGSTOP of the daemon, and the connections are armed again after SIGCONT", async () => {
    const parent = await armedParent({ addresses: [mosquitto.address] });
    const begin_ms = performance.now();
    process.kill(parent.pid, "SIGSTOP");
    const took_ms = await closedAfter_ms(begin_ms, 8_000);
    note("SIGSTOP of the daemon", took_ms);
    expect(took_ms).toBeLessThan(3_000);
    const count = seen.messages.length;
    process.kill(parent.pid, "SIGCONT");
    await machineClock.sleep(1_500);
    await parent.armed();
    expect(seen.messages.length, "arming again publishes nothing").toBe(count);
  });

  it("within 1.5 times the keepalive plus 6 s when the daemon and its dead-man process are frozen", async () => {
    const parent = await armedParent({ addresses: [mosquitto.address] });
    const begin_ms = performance.now();
    process.kill(parent.deadManPid, "SIGSTOP");
    process.kill(parent.pid, "SIGSTOP");
    const took_ms = await closedAfter_ms(begin_ms, 20_000);
    note("SIGSTOP of both processes, keepalive 5 s", took_ms);
    expect(took_ms).toBeLessThan(1.5 * 5_000 + 6_000);
    process.kill(parent.pid, "SIGKILL");
    process.kill(parent.deadManPid, "SIGCONT");
    await gone(parent.deadManPid);
  });

  it("when the dead-man process dies, which is then replaced", async () => {
    const parent = await armedParent({ addresses: [mosquitto.address] });
    const begin_ms = performance.now();
    process.kill(parent.deadManPid, "SIGKILL");
    const took_ms = await closedAfter_ms(begin_ms, 5_000);
    note("SIGKILL of the dead-man process", took_ms);
    expect(took_ms).toBeLessThan(1_000);
    await vi.waitFor(() => expect(parent.status().armed).toEqual([]), within);
    await parent.armed();
    expect(parent.status().deadManProcessId).not.toBe(parent.deadManPid);
  });

  it("when the dead-man process freezes, which is not armed then, is killed and replaced", async () => {
    const parent = await armedParent({ addresses: [mosquitto.address] });
    const begin_ms = performance.now();
    process.kill(parent.deadManPid, "SIGSTOP");
    await vi.waitFor(() => expect(parent.status().armed).toEqual([]), { timeout: 3_500, interval: 10 });
    expect(parent.status().faults[0]).toContain("not been heard");
    const took_ms = await closedAfter_ms(begin_ms, 20_000);
    note("SIGSTOP of the dead-man process", took_ms);
    expect(took_ms).toBeLessThan(1.5 * 5_000 + 6_000);
    await gone(parent.deadManPid);
    await parent.armed();
  });
});

describe("the dead-man process", () => {
  it("does not end by the signals of a terminal or a service manager, and closes nothing while beats come", async () => {
    const parent = await armedParent({ addresses: [mosquitto.address] });
    for (const signal of ["SIGINT", "SIGTERM", "SIGHUP", "SIGTSTP"] as const) {
      process.kill(parent.deadManPid, signal);
    }
    await machineClock.sleep(6_000);
    expect(parent.status()).toMatchObject({
      armed: ["outlet", "series"],
      deadManProcessId: parent.deadManPid,
    });
    expect(seen.messages).toEqual([]);
  });

  it.each([0, 50, 100])("ends with a daemon that goes %d ms after it was begun", async (after_ms) => {
    const started = fork(processFile, [], { execArgv: [], stdio: ["ignore", "ignore", "ignore", "ipc"] });
    const ended = new Promise((resolve) => started.once("exit", resolve));
    await machineClock.sleep(after_ms);
    started.disconnect();
    const forgotten = setTimeout(() => started.kill("SIGKILL"), 8_000);
    expect(await ended).toBe(0);
    clearTimeout(forgotten);
  });

  it("has no password among its arguments or in its environment", async () => {
    const closed = await bench.mosquitto({ users: { fizzward: "hornwort" } });
    vi.stubEnv("FIZZWARD_TEST_SECRET", "hornwort");
    const parent = await armedParent({ addresses: [closed.address], user: "fizzward", password: "hornwort" });
    vi.unstubAllEnvs();
    expect(readFileSync(`/proc/${parent.pid}/environ`, "utf8")).toContain("hornwort");
    for (const file of ["cmdline", "environ"]) {
      expect(readFileSync(`/proc/${parent.deadManPid}/${file}`, "utf8")).not.toContain("hornwort");
    }
  });
});

describe("the daemon's side of the dead-man", () => {
  const open = async (
    options: Partial<Parameters<typeof createProcessDeadMan>[0]> = {},
  ): Promise<ProcessDeadMan> => {
    const deadMan = createProcessDeadMan({
      access: { addresses: [mosquitto.address] },
      clientIdPrefix: "test",
      siteId: "brook-lane",
      relays,
      clock: machineClock,
      logger: new CollectingLogger(),
      random: () => 0.1,
      ...options,
    });
    bench.endsWithTest(() => deadMan.stop("not confirmed off"));
    await deadMan.start();
    return deadMan;
  };
  /** Beats as the daemon does until the relay is armed, or not. */
  const beating = async (
    deadMan: ProcessDeadMan,
    until: () => boolean,
    timeout_ms = 8_000,
  ): Promise<void> => {
    const end_ms = performance.now() + timeout_ms;
    while (!until()) {
      if (performance.now() > end_ms)
        throw new Error(`not within ${timeout_ms} ms: ${String(deadMan.faultOf("outlet"))}`);
      deadMan.beat();
      await machineClock.sleep(50);
    }
  };

  it("is not armed before the first beat, nor for a relay it does not know", async () => {
    const deadMan = await open();
    await machineClock.sleep(1_500);
    expect(deadMan.isArmed("outlet")).toBe(false);
    expect(deadMan.faultOf("outlet")).toContain("no beat yet");
    const begin_ms = performance.now();
    await beating(deadMan, () => deadMan.isArmed("outlet") && deadMan.isArmed("series"));
    console.info(`armed ${(performance.now() - begin_ms).toFixed(0)} ms after the first beat`);
    expect(deadMan.faultOf("outlet")).toBeUndefined();
    expect(deadMan.isArmed("unknown")).toBe(false);
  });

  it("publishes nothing when it stops after the relays are confirmed off", async () => {
    const deadMan = await open();
    await beating(deadMan, () => deadMan.isArmed("outlet") && deadMan.isArmed("series"));
    const pid = deadMan.processId()!;
    await deadMan.stop("confirmed off");
    expect(isRunning(pid)).toBe(false);
    expect(deadMan.isArmed("outlet")).toBe(false);
    await machineClock.sleep(500);
    expect(seen.messages).toEqual([]);
  });

  it("leaves the closing commands when it stops before the relays are confirmed off", async () => {
    const deadMan = await open();
    await beating(deadMan, () => deadMan.isArmed("outlet") && deadMan.isArmed("series"));
    const pid = deadMan.processId()!;
    const begin_ms = performance.now();
    await deadMan.stop("not confirmed off");
    expect(await closedAfter_ms(begin_ms, 2_000)).toBeLessThan(1_000);
    expect(isRunning(pid)).toBe(false);
  });

  it("stops in time before its start, without relays, and twice", async () => {
    const idle = await open({ relays: [] });
    expect(idle.processId()).toBeUndefined();
    await idle.stop("confirmed off");
    const deadMan = await open();
    await deadMan.stop("confirmed off");
    await deadMan.stop("not confirmed off");
  });

  it("is not armed while the broker is away, says why, and is armed again when it is back", async () => {
    const deadMan = await open();
    await beating(deadMan, () => deadMan.isArmed("outlet"));
    await mosquitto.kill();
    await beating(deadMan, () => !deadMan.isArmed("outlet"), 3_000);
    await beating(deadMan, () => deadMan.faultOf("outlet")?.includes("nothing listens") === true);
    await mosquitto.start();
    await beating(deadMan, () => deadMan.isArmed("outlet"), 15_000);
  });

  it("is not armed with a wrong password, and says so", async () => {
    const closed = await bench.mosquitto({ users: { fizzward: "hornwort" } });
    const logger = new CollectingLogger();
    const access = { addresses: [closed.address], user: "fizzward", password: "duckweed" };
    const deadMan = await open({ access, logger });
    await beating(deadMan, () => deadMan.faultOf("outlet")?.includes("password is wrong") === true);
    expect(deadMan.isArmed("outlet")).toBe(false);
    expect(JSON.stringify(logger.lines)).not.toContain("duckweed");
  });

  it("is armed over TLS with a client certificate", async () => {
    const authority = createCertificateAuthority("the household");
    bench.endsWithTest(() => {
      authority.dispose();
      return Promise.resolve();
    });
    const secure = await bench.mosquitto({
      tls: {
        caFile: authority.caFile,
        requireCertificate: true,
        ...authority.issue("broker", "IP:127.0.0.1"),
      },
    });
    const { certificate, key } = authority.issue("fizzward");
    const access = { addresses: [secure.address], tls: { ca: authority.ca, certificate, key } };
    const deadMan = await open({ access });
    await beating(deadMan, () => deadMan.isArmed("outlet"));
  });

  it("is armed where the broker speaks 3.1.1 only", async () => {
    const old = await bench.scriptedBroker({
      connack: (level) => (level === 4 ? connackOf.v311(0) : "close"),
    });
    const deadMan = await open({ access: { addresses: [old.address] }, relays: [outlet] });
    await beating(deadMan, () => deadMan.isArmed("outlet"));
    expect(old.connects).toEqual([5, 4]);
  });

  it("sends on the connection that holds the will, before it", async () => {
    const deadMan = await open();
    await beating(deadMan, () => deadMan.isArmed("outlet"));
    deadMan.send("outlet", { topic: outlet.commandTopic, payload: "ON", qos: 1, expiry_s: 5 });
    await seen.next(outlet.commandTopic, { timeout_ms: 2_000 });
    await deadMan.stop("not confirmed off");
    await vi.waitFor(() => expect(seen.messages.length).toBeGreaterThan(1), within);
    const commands = seen.messages.filter(({ topic }) => topic === outlet.commandTopic);
    expect(commands.map(({ payload, retain }) => ({ payload, retain }))).toEqual([
      { payload: "ON", retain: false },
      { payload: "OFF", retain: false },
    ]);
  });

  it("sends nothing where the relay's connection is not armed, and says so", async () => {
    const logger = new CollectingLogger();
    const deadMan = await open({ logger });
    deadMan.send("outlet", { topic: outlet.commandTopic, payload: "ON", qos: 0, expiry_s: 5 });
    await vi.waitFor(() => expect(JSON.stringify(logger.lines)).toContain("was not sent"), within);
    // Each start is like that for a second; nobody need be warned.
    expect(logger.lines.filter(({ level }) => level === "warn" || level === "error")).toEqual([]);
    await beating(deadMan, () => deadMan.isArmed("outlet"));
    await machineClock.sleep(300);
    expect(seen.messages).toEqual([]);
  });

  it("sends no command that lay unread for longer than it was good for", async () => {
    const logger = new CollectingLogger();
    const deadMan = await open({ logger, longestBeatGap_ms: 10_000 });
    await beating(deadMan, () => deadMan.isArmed("outlet"));
    process.kill(deadMan.processId()!, "SIGSTOP");
    deadMan.send("outlet", { topic: outlet.commandTopic, payload: "ON", qos: 0, expiry_s: 1 });
    await machineClock.sleep(1_200);
    process.kill(deadMan.processId()!, "SIGCONT");
    await vi.waitFor(() => expect(JSON.stringify(logger.lines)).toContain("it had waited for 1 s"), within);
    expect(seen.messages).toEqual([]);
  });

  it("is armed at the broker that the daemon uses, and moves there without closing anything", async () => {
    const second = await bench.mosquitto();
    const seenAtSecond = await bench.observer(second.address);
    let inUse: string | undefined = second.address;
    const deadMan = await open({
      access: { addresses: [mosquitto.address, second.address] },
      relays: [outlet],
      brokerInUse: () => inUse,
    });
    await beating(deadMan, () => deadMan.isArmed("outlet"));
    inUse = mosquitto.address;
    expect(deadMan.isArmed("outlet")).toBe(false);
    expect(deadMan.faultOf("outlet")).toContain(`armed at ${second.address} only`);
    await beating(deadMan, () => deadMan.isArmed("outlet"));
    inUse = undefined;
    expect(deadMan.isArmed("outlet")).toBe(true);
    await deadMan.stop("not confirmed off");
    await seen.next(outlet.commandTopic, { timeout_ms: 2_000 });
    expect(seenAtSecond.messages).toEqual([]);
  });

  it("finds a half-open link within twice the keepalive, and is not armed then", async () => {
    const proxy = await bench.proxyTo(mosquitto);
    const deadMan = await open({ access: { addresses: [`mqtt://127.0.0.1:${proxy.port}`] }, keepalive_s: 2 });
    await beating(deadMan, () => deadMan.isArmed("outlet"));
    proxy.swallow();
    const begin_ms = performance.now();
    await beating(deadMan, () => !deadMan.isArmed("outlet"), 6_000);
    expect(performance.now() - begin_ms).toBeLessThan(4_000);
  });

  it("gives up neither itself nor its caller when the process cannot run", async () => {
    const logger = new CollectingLogger();
    const deadMan = await open({ processFile: "/nonexistent/dead-man-process.js", logger });
    deadMan.beat();
    expect(deadMan.isArmed("outlet")).toBe(false);
    expect(deadMan.faultOf("outlet")).toContain("ended");
    expect(logger.lines.some(({ level }) => level === "error")).toBe(true);
    await vi.waitFor(() => expect(logger.lines.length).toBeGreaterThan(1), within);
  });

  it("is not armed when the caller's own beat is late, even before the process says so", async () => {
    const deadMan = await open();
    await beating(deadMan, () => deadMan.isArmed("outlet"));
    const end_ms = performance.now() + 2_100;
    while (performance.now() < end_ms);
    expect(deadMan.isArmed("outlet")).toBe(false);
  });
});
