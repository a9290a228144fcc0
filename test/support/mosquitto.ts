import { execFileSync, spawn, type ChildProcess } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { connect, createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as sleep } from "node:timers/promises";

export interface MosquittoOptions {
  /** User names and passwords; without them everyone may connect. */
  readonly users?: Readonly<Record<string, string>>;
  readonly tls?: {
    readonly caFile: string;
    readonly certificateFile: string;
    readonly keyFile: string;
    /** Whether a client has to show a certificate of the same authority. */
    readonly requireCertificate?: boolean;
  };
  /** Further lines of the configuration, as mosquitto.conf(5) has them. */
  readonly lines?: readonly string[];
  /** What it logs, as mosquitto.conf(5) names it; "all" costs much in a flood. Default all. */
  readonly logType?: "all" | "error";
  /** A port that is known to be free; otherwise one is looked for. */
  readonly port?: number;
}

/** A real mosquitto of its own, on a loopback port of its own. */
export interface Mosquitto {
  readonly port: number;
  /** mqtt:// or mqtts://, at 127.0.0.1. */
  readonly address: string;
  /** Its log so far. */
  log(): string;
  /** Ends it and frees everything. */
  stop(): Promise<void>;
  /** Ends it as a crash does; `start` brings it back on the same port, without anything retained. */
  kill(): Promise<void>;
  start(): Promise<void>;
  /** Freezes and thaws the process. */
  signal(name: "SIGSTOP" | "SIGCONT"): void;
}

/** A port at 127.0.0.1 that was free a moment ago. */
export async function freeLoopbackPort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const address = server.address();
  if (address === null || typeof address === "string") throw new Error("no port");
  await new Promise((resolve) => server.close(resolve));
  return address.port;
}

async function listens(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect({ port, host: "127.0.0.1" });
    socket.once("connect", () => {
      socket.destroy();
      resolve(true);
    });
    socket.once("error", () => resolve(false));
  });
}

/** Debian puts it into /usr/sbin, which is not in everybody's path. */
const environment = { ...process.env, PATH: `${process.env["PATH"] ?? ""}:/usr/sbin:/usr/local/sbin` };

export async function startMosquitto(options: MosquittoOptions = {}): Promise<Mosquitto> {
  const folder = mkdtempSync(join(tmpdir(), "fizzward-mosquitto-"));
  const port = options.port ?? (await freeLoopbackPort());
  const passwordFile = join(folder, "passwords");
  const configFile = join(folder, "mosquitto.conf");
  const { users, tls } = options;
  const lines = [
    // Started as root it would change to its own user, who cannot read files in here.
    ...(process.getuid?.() === 0 ? ["user root"] : []),
    `listener ${port} 127.0.0.1`,
    "persistence false",
    "log_dest stderr",
    `log_type ${options.logType ?? "all"}`,
  ];
  if (users === undefined) {
    lines.push("allow_anonymous true");
  } else {
    writeFileSync(passwordFile, "", { mode: 0o600 });
    for (const [user, password] of Object.entries(users)) {
      execFileSync("mosquitto_passwd", ["-b", passwordFile, user, password], { env: environment });
    }
    lines.push("allow_anonymous false", `password_file ${passwordFile}`);
  }
  if (tls !== undefined) {
    lines.push(`cafile ${tls.caFile}`, `certfile ${tls.certificateFile}`, `keyfile ${tls.keyFile}`);
    lines.push(`require_certificate ${tls.requireCertificate === true}`);
  }
  writeFileSync(configFile, [...lines, ...(options.lines ?? []), ""].join("\n"));

  let running: ChildProcess | undefined;
  let log = "";
  const start = async (): Promise<void> => {
    const started = spawn("mosquitto", ["-c", configFile], {
      env: environment,
      stdio: ["ignore", "ignore", "pipe"],
    });
    running = started;
    let failed: string | undefined;
    started.on("error", (error) => (failed = error.message));
    started.on("exit", (code) => (failed ??= `exit code ${String(code)}`));
    started.stderr.on("data", (chunk: Buffer) => (log += chunk.toString("utf8")));
    for (let tries = 0; tries < 200; tries += 1) {
      if (failed !== undefined) throw new Error(`mosquitto does not start: ${failed}\n${log}`);
      if (await listens(port)) return;
      await sleep(25);
    }
    throw new Error(`mosquitto does not listen\n${log}`);
  };
  const end = async (signal: "SIGTERM" | "SIGKILL"): Promise<void> => {
    const ending = running;
    running = undefined;
    if (ending?.exitCode !== null || ending.signalCode !== null) return;
    const gone = new Promise((resolve) => ending.once("exit", resolve));
    ending.kill("SIGCONT");
    ending.kill(signal);
    await gone;
  };

  await start();
  return {
    port,
    address: `${tls === undefined ? "mqtt" : "mqtts"}://127.0.0.1:${port}`,
    log: () => log,
    async stop() {
      await end("SIGTERM");
      rmSync(folder, { recursive: true, force: true });
    },
    kill: () => end("SIGKILL"),
    start,
    signal: (name) => void running?.kill(name),
  };
}
