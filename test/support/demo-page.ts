import { spawn } from "node:child_process";
import { mkdirSync, mkdtempSync, readdirSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { bundlePage } from "./bundle-page.js";
import { eventually } from "./eventually.js";
import { mainFile } from "./daemon-process.js";

/** The simulated home with its page, as `npm start` runs it. */
export interface DemoPage {
  readonly address: string;
  /** Of its own broker. */
  readonly brokerAddress: string;
  /** Its database, as long as it runs. */
  storeFile(): string;
  output(): string;
  end(): Promise<void>;
}

/** @param speed how much faster than real time it runs */
export async function startDemoPage(speed = 60): Promise<DemoPage> {
  bundlePage();
  const folder = mkdtempSync(join(tmpdir(), "fizzward-demo-page-"));
  const letOn = await alone();
  const child = spawn(process.execPath, [mainFile, "demo", "--speed", String(speed)], {
    stdio: ["ignore", "pipe", "pipe"],
    // Its folder is then the only one in there.
    env: { ...process.env, TMPDIR: folder },
  });
  let output = "";
  child.stdout.on("data", (chunk: Buffer) => (output += chunk.toString()));
  child.stderr.on("data", (chunk: Buffer) => (output += chunk.toString()));
  const ended = new Promise((resolve) => child.once("exit", resolve));
  const address = await eventually(
    () => {
      const found = /Its page: (?<address>http:\S+)/.exec(output)?.groups?.["address"];
      if (found === undefined) throw new Error(`no page yet\n${output}`);
      return found;
    },
    { timeout_ms: 30_000 },
  ).finally(letOn);
  return {
    address,
    brokerAddress: /its broker at (?<broker>\S+)\./.exec(output)?.groups?.["broker"] ?? "",
    storeFile: () =>
      join(folder, readdirSync(folder).find((name) => name.startsWith("fizzward-demo-")) ?? "", "site.db"),
    output: () => output,
    end: async () => {
      child.kill("SIGINT");
      await ended;
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

const starting = join(tmpdir(), "fizzward-demo-starting");
/** Nobody takes so long to start; its process was ended. */
const abandonedAfter_ms = 45_000;

/** Two that start at once would both take the same free port. @returns lets the next one start */
async function alone(): Promise<() => void> {
  await eventually(
    () => {
      const since_epochMs = statSync(starting, { throwIfNoEntry: false })?.mtimeMs ?? Date.now();
      if (Date.now() - since_epochMs > abandonedAfter_ms) rmSync(starting, { recursive: true, force: true });
      mkdirSync(starting);
    },
    { timeout_ms: 60_000, interval_ms: 100 },
  );
  return () => rmSync(starting, { recursive: true, force: true });
}
