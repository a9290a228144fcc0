import { spawn, type ChildProcess } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { acceptWithoutAutoOffSentence } from "../../daemon/config/relay-schema.js";
import { eventually } from "./eventually.js";

/** This file runs as it stands and compiled, one folder deeper. */
const here = fileURLToPath(new URL("../../", import.meta.url));
const root = here.endsWith("/dist/") ? join(here, "..") : here;
export const mainFile = join(root, "dist", "daemon", "main.js");

/** The compiled daemon, run as a user runs it, in a folder of its own. */
export interface DaemonProcess {
  readonly folder: string;
  readonly configFile: string;
  readonly socketFile: string;
  readonly child: ChildProcess;
  output(): string;
  /** Resolves once the daemon has logged the text. */
  logged(text: string, timeout_ms?: number): Promise<void>;
  exitCode(timeout_ms?: number): Promise<number | null>;
  /** The process id of the daemon itself (npm may stand between) and of its dead-man process. */
  processIds(): { readonly daemon: number; readonly deadMan: number | undefined };
  writeConfig(text: string): void;
  /** Kills what is left and removes the folder. */
  dispose(): Promise<void>;
}

export interface DaemonOptions {
  readonly config: (folder: string) => string;
  /** "npm": through `npm start`, in a process group of its own. */
  readonly through?: "node" | "npm";
  readonly folder?: string;
  /** What runs the command in its place, as `ip netns exec NAME`. */
  readonly launcher?: readonly string[];
  readonly environment?: Readonly<Record<string, string>>;
}

export function startDaemon(options: DaemonOptions): DaemonProcess {
  const folder = options.folder ?? mkdtempSync(join(tmpdir(), "fizzward-daemon-"));
  const configFile = join(folder, "site.yaml");
  writeFileSync(configFile, options.config(folder));
  const throughNpm = options.through === "npm";
  const ours = ["run", "--config", configFile];
  const [command = process.execPath, ...args] = [
    ...(options.launcher ?? []),
    ...(throughNpm ? ["npm", "start", "--silent", "--", ...ours] : [process.execPath, mainFile, ...ours]),
  ];
  const child = spawn(command, args, {
    cwd: root,
    stdio: ["ignore", "pipe", "pipe"],
    detached: true,
    env: { ...process.env, ...options.environment },
  });
  let output = "";
  child.stdout.on("data", (chunk: Buffer) => (output += chunk.toString()));
  child.stderr.on("data", (chunk: Buffer) => (output += chunk.toString()));
  const ended = new Promise<number | null>((resolve) => child.on("exit", resolve));
  const daemonId = (): number => {
    const pid = child.pid ?? 0;
    return options.through === "npm" ? (descendants(pid).find(isDaemon) ?? pid) : pid;
  };
  return {
    folder,
    configFile,
    socketFile: join(folder, "control.sock"),
    child,
    output: () => output,
    logged: (text, timeout_ms = 10_000) =>
      eventually(
        () => {
          if (!output.includes(text)) throw new Error(`not logged: ${text}\n${output}`);
        },
        { timeout_ms },
      ),
    exitCode: (timeout_ms = 10_000) =>
      Promise.race([
        ended,
        new Promise<number | null>((_resolve, reject) =>
          setTimeout(() => reject(new Error(`still running\n${output}`)), timeout_ms).unref(),
        ),
      ]),
    processIds: () => {
      const daemon = daemonId();
      return {
        daemon,
        deadMan: descendants(daemon).find((pid) => commandOf(pid).includes("dead-man-process")),
      };
    },
    writeConfig: (text) => writeFileSync(configFile, text),
    dispose: async () => {
      const { daemon, deadMan } =
        child.exitCode === null ? { daemon: daemonId(), deadMan: undefined } : { daemon: 0, deadMan: 0 };
      for (const pid of [daemon, deadMan, child.pid ?? 0]) {
        if (pid !== undefined && pid > 0) kill(pid, "SIGKILL");
      }
      if (child.exitCode === null && child.signalCode === null) await ended;
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** One of the commands that speak to a running daemon; each question is answered by the next answer. */
export async function runCommand(
  args: readonly string[],
  answers: readonly (() => string | Promise<string>)[] = [],
  /** Called with the text so far; true ends the command as a closed terminal does. */
  leavesWhen: (output: string) => boolean = () => false,
): Promise<{ readonly exitCode: number | null; readonly output: string }> {
  const child = spawn(process.execPath, [mainFile, ...args], { stdio: ["pipe", "pipe", "pipe"] });
  let output = "";
  const waiting = [...answers];
  child.stdout.on("data", (chunk: Buffer) => {
    output += chunk.toString();
    if (leavesWhen(output)) child.kill("SIGKILL");
    if (!chunk.toString().includes("(yes/no)")) return;
    const answer = waiting.shift();
    if (answer === undefined) child.stdin.end();
    else void Promise.resolve(answer()).then((text) => child.stdin.write(`${text}\n`));
  });
  child.stderr.on("data", (chunk: Buffer) => (output += chunk.toString()));
  const exitCode = await new Promise<number | null>((resolve) => child.on("exit", resolve));
  return { exitCode, output };
}

export function kill(pid: number, signal: NodeJS.Signals): void {
  try {
    process.kill(pid, signal);
  } catch {
    // It has ended already.
  }
}

/** A config with one vessel, one tank and one relay, whose window is open around the clock but for its last minute. */
export function plainConfig(address: string, overrides: Readonly<Record<string, string>> = {}) {
  const value = (key: string, fallback: string): string => overrides[key] ?? fallback;
  return (folder: string): string => `
site: { id: mill-house, timeZone: ${value("timeZone", "Etc/UTC")} }
broker: { addresses: ["${address}"], keepalive_s: 5${value("brokerKeys", "")} }
sensors:
  tank-ph: { measures: pH, topic: tank/ph, maximumAge_s: ${value("maximumAge_s", "600")}${value("sensorKeys", "")} }
${value("sensors", "")}
vessels:
  cellar: { kind: generator, volume_L: 2, workingPressureGauge_bar: 2${value("vesselKeys", "")} }
tanks:
  loach:
    volume_L: 100
    kh_dKH: 4
    phSensor: tank-ph
    photoperiods: ${value("photoperiods", '[{ lightsOn: "00:00", lightsOff: "12:00" }, { lightsOn: "12:00", lightsOff: "00:00" }]')}
    lead_min: 0
    earlyClose_min: 0
${value("tankKeys", "")}
valves:
  outlet:
    vessel: cellar
    feeds: [{ tank: loach, share: 1 }]
    guardSensors: [${value("guards", "tank-ph")}]
    longestOpen_min: 1440
    relay:
      commandTopic: relay/command
      payloadOn: "ON"
      payloadOff: "OFF"
      stateTopic: relay/state
      stateOn: "ON"
      stateOff: "OFF"
      confirmWithin_s: 1
      autoOff_s: ${value("autoOff_s", "300")}
      powerOnState: "off"
${value("accept", `      acceptWithoutAutoOff: "${acceptWithoutAutoOffSentence}"`)}
${value("valveKeys", "")}
control: { clientSocket: ${value("socketFile", `${folder}/control.sock`)} }
store: { file: ${value("storeFile", `${folder}/site.db`)}, batch_s: 1 }
${value("sections", "")}
`;
}

/** All processes below one, from the process table. */
export function descendants(pid: number): readonly number[] {
  const parents = new Map<number, number>();
  for (const name of readdirSync("/proc")) {
    if (!/^\d+$/.test(name)) continue;
    try {
      const stat = readFileSync(`/proc/${name}/stat`, "utf8");
      parents.set(Number(name), Number(stat.slice(stat.lastIndexOf(")") + 2).split(" ")[1]));
    } catch {
      // It ended while we looked.
    }
  }
  const below = (of: number): number[] =>
    [...parents].filter(([, parent]) => parent === of).flatMap(([child]) => [child, ...below(child)]);
  return below(pid);
}

function isDaemon(pid: number): boolean {
  const command = commandOf(pid);
  return command.includes("daemon/main.js") && !command.startsWith("sh") && !command.startsWith("npm");
}

function commandOf(pid: number): string {
  try {
    return readFileSync(`/proc/${pid}/cmdline`, "utf8").replaceAll("\0", " ");
  } catch {
    return "";
  }
}
