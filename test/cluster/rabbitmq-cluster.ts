import { spawn, spawnSync, type ChildProcess } from "node:child_process";
import { chmodSync, chownSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { eventually } from "../support/eventually.js";
import { descendants, kill } from "../support/daemon-process.js";
import { freeLoopbackPort } from "../support/mosquitto.js";

/** Two nodes of Debian's rabbitmq-server with its MQTT plugin, on loopback alone, run as that package's own user. */
export interface RabbitmqCluster {
  readonly version: string;
  /** Where each node listens for MQTT. */
  readonly addresses: readonly [string, string];
  /** Ends the first node as a power cut does. */
  killFirst(): Promise<void>;
  /** The queues of QoS 1 subscriptions are kept on both nodes from now on; before any client comes. */
  mirrorSubscriptions(): void;
  dispose(): Promise<void>;
}

const programs = "/usr/lib/rabbitmq/lib";
/** On a busy machine a node takes minutes. */
const startsWithin_ms = 300_000;

/** What is missing on this machine, a line each. */
export function missingForRabbitmq(): readonly string[] {
  const lacks = [];
  if (process.getuid?.() !== 0) lacks.push("- it must be run as root, to start the nodes as their own user");
  if (homeOfPackage() === undefined) {
    lacks.push("- rabbitmq-server is not installed (Debian: apt install rabbitmq-server)");
  }
  return lacks;
}

function homeOfPackage(): string | undefined {
  try {
    return readdirSync(programs).find((name) => name.startsWith("rabbitmq_server-"));
  } catch {
    return undefined;
  }
}

function idOf(flag: "-u" | "-g"): number {
  return Number(spawnSync("id", [flag, "rabbitmq"], { encoding: "utf8" }).stdout);
}

export async function startRabbitmqCluster(): Promise<RabbitmqCluster> {
  const home = homeOfPackage() ?? "";
  const [uid, gid] = [idOf("-u"), idOf("-g")];
  const folder = mkdtempSync(join(tmpdir(), "fizzward-cluster-"));
  chmodSync(folder, 0o755);
  const ownFolder = (name: string): string => {
    mkdirSync(join(folder, name));
    chownSync(join(folder, name), uid, gid);
    return join(folder, name);
  };
  const common = {
    PATH: process.env["PATH"] ?? "",
    HOME: ownFolder("home"),
    ERL_EPMD_PORT: String(await freeLoopbackPort()),
    ERL_EPMD_ADDRESS: "127.0.0.1",
    RABBITMQ_CONF_ENV_FILE: "/dev/null",
    RABBITMQ_SERVER_ADDITIONAL_ERL_ARGS: "-kernel inet_dist_use_interface {127,0,0,1}",
  };

  const nodeNamed = async (name: string) => {
    const port = await freeLoopbackPort();
    const own = ownFolder(name);
    const [configFile, pluginsFile] = [join(own, "rabbitmq.conf"), join(own, "plugins")];
    writeFileSync(
      configFile,
      `listeners.tcp = none\nmqtt.listeners.tcp.1 = 127.0.0.1:${port}\nmqtt.allow_anonymous = true\n`,
    );
    writeFileSync(pluginsFile, "[rabbitmq_mqtt].\n");
    const environment = {
      ...common,
      RABBITMQ_NODENAME: `${name}@localhost`,
      RABBITMQ_MNESIA_BASE: join(own, "database"),
      RABBITMQ_LOG_BASE: join(own, "log"),
      RABBITMQ_CONFIG_FILE: configFile,
      RABBITMQ_ENABLED_PLUGINS_FILE: pluginsFile,
    };
    const distribution = { RABBITMQ_DIST_PORT: String(await freeLoopbackPort()) };
    let running: ChildProcess | undefined;
    let output = "";
    const start = async (): Promise<void> => {
      output = "";
      running = spawn(join(programs, home, "sbin", "rabbitmq-server"), [], {
        env: { ...environment, ...distribution },
        uid,
        gid,
        detached: true,
        stdio: ["ignore", "pipe", "pipe"],
      });
      running.stdout?.on("data", (chunk: Buffer) => (output += chunk.toString()));
      running.stderr?.on("data", (chunk: Buffer) => (output += chunk.toString()));
      await eventually(
        () => {
          if (!output.includes("completed with")) throw new Error(`a node does not start\n${output}`);
        },
        { timeout_ms: startsWithin_ms, interval_ms: 100 },
      );
    };
    const end = async (): Promise<void> => {
      const ending = running;
      running = undefined;
      if (ending?.pid === undefined || ending.exitCode !== null || ending.signalCode !== null) return;
      const gone = new Promise((resolve) => ending.once("exit", resolve));
      for (const pid of [...descendants(ending.pid), ending.pid]) kill(pid, "SIGKILL");
      await gone;
    };
    const command = (...args: readonly string[]): void => {
      const done = spawnSync(join(programs, home, "sbin", "rabbitmqctl"), args, {
        env: environment,
        uid,
        gid,
        encoding: "utf8",
        timeout: 60_000,
      });
      if (done.status !== 0) throw new Error(`${args.join(" ")}: ${done.stdout}${done.stderr}`);
    };
    return { address: `mqtt://127.0.0.1:${port}`, start, end, command };
  };

  const first = await nodeNamed("first");
  const second = await nodeNamed("second");
  const dispose = async (): Promise<void> => {
    await first.end();
    await second.end();
    spawnSync("epmd", ["-port", common.ERL_EPMD_PORT, "-kill"]);
    rmSync(folder, { recursive: true, force: true });
  };
  try {
    // One cookie for both: the node that is there first makes it.
    await first.start();
    await second.start();
    second.command("stop_app");
    second.command("join_cluster", "first@localhost");
    second.command("start_app");
  } catch (error) {
    await dispose();
    throw error;
  }
  return {
    version: home.replace("rabbitmq_server-", ""),
    addresses: [first.address, second.address],
    killFirst: first.end,
    mirrorSubscriptions: () =>
      first.command(
        "set_policy",
        "subscriptions",
        "^mqtt-subscription-",
        '{"ha-mode":"all"}',
        "--apply-to",
        "queues",
      ),
    dispose,
  };
}
