import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { request as httpRequest, type IncomingHttpHeaders } from "node:http";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { onTestFinished } from "vitest";
import { createPage } from "../../daemon/page/page.js";
import { bundledPage } from "../../daemon/page/page-files.js";
import { createPageWorkshop } from "../../daemon/page/page-job.js";
import type { SessionPicture } from "../../daemon/page/page-contract.js";
import { parseConfig } from "../../daemon/config/load-config.js";
import { benchYaml, ControlBench, type BenchOptions } from "./control-bench.js";

export interface PageAnswer {
  readonly status: number;
  readonly headers: IncomingHttpHeaders;
  readonly text: string;
  json(): unknown;
}

export interface PageBench {
  readonly control: ControlBench;
  readonly address: string;
  readonly port: number;
  get(path: string, headers?: Readonly<Record<string, string>>): Promise<PageAnswer>;
  post(path: string, body: unknown, headers?: Readonly<Record<string, string>>): Promise<PageAnswer>;
  /** As the page itself does it: with its session's word. */
  send(path: string, body: unknown): Promise<PageAnswer>;
}

const plated = benchYaml.replace(
  "workingPressureGauge_bar: 3",
  "workingPressureGauge_bar: 3, ratedPressureGauge_bar: 25, reliefOpeningGauge_bar: 22",
);

/** A real control path with the page's server before it, at a port of its own. */
export async function startPageBench(
  options: {
    readonly token?: string;
    readonly names?: readonly string[];
    readonly startAt?: string;
    readonly snapshot?: BenchOptions["snapshot"];
    /** The page's own files as bundled, for a browser, in place of an empty one. */
    readonly isBundled?: true;
  } = {},
): Promise<PageBench> {
  const parsed = parseConfig(plated, "/bench/site.yaml");
  if (parsed.kind === "invalid") throw new Error(JSON.stringify(parsed.faults));
  const control = new ControlBench({
    yaml: plated,
    startAt: options.startAt ?? "2026-05-04T12:00:00+02:00",
    ...(options.snapshot === undefined ? {} : { snapshot: options.snapshot }),
  });
  await control.start();
  await control.seconds(5);
  const folder = mkdtempSync(join(tmpdir(), "fizzward-page-"));
  writeFileSync(join(folder, "index.html"), "<!doctype html><title>page</title>");
  const workshop = createPageWorkshop();
  const { run } = control;
  const page = createPage(
    {
      clock: { sleep: () => Promise.resolve(), monotonic_ms: () => performance.now() },
      logger: control.logger,
      runner: { run: (job, done) => done(workshop.run(job)), stop: () => Promise.resolve() },
    },
    {
      version: "0.0.0",
      model: () => run.cycle.model(),
      status: () => run.cycle.status(),
      upkeep: () => [],
      now_epochMs: () => control.clock.now_epochMs(),
      store: run.store,
      journal: run.journal,
      followedSupply: (vesselId) => run.cycle.followedSupply(vesselId),
      tankNights: (tankId) => run.cycle.tankNights(tankId),
      charges: () => run.cycle.charges(),
      alarms: run.cycle.alarms,
      commands: run.commands,
      cycle: run.cycle,
      planning: () => parsed.config,
    },
    {
      address: "127.0.0.1",
      port: 0,
      names: options.names ?? [],
      token: options.token,
      folder: options.isBundled === true ? bundledPage : folder,
    },
  );
  if (page === undefined) throw new Error("there is no page");
  const address = (await page.start())!;
  onTestFinished(async () => {
    await page.stop();
    rmSync(folder, { recursive: true, force: true });
  });
  const port = Number(new URL(address).port);
  const ask = (method: string, path: string, headers: object, body?: string): Promise<PageAnswer> =>
    new Promise((resolve, reject) => {
      const asked = httpRequest(
        { host: "127.0.0.1", port, path, method, headers: { ...headers }, agent: false },
        (answer) => {
          const parts: Buffer[] = [];
          answer.on("data", (part: Buffer) => parts.push(part));
          answer.on("error", reject);
          answer.on("end", () => {
            const text = Buffer.concat(parts).toString();
            resolve({
              status: answer.statusCode ?? 0,
              headers: answer.headers,
              text,
              json: () => JSON.parse(text) as unknown,
            });
          });
        },
      );
      asked.on("error", reject);
      asked.end(body);
    });
  const bench: PageBench = {
    control,
    address,
    port,
    get: (path, headers = {}) => ask("GET", path, headers),
    post: (path, body, headers = {}) =>
      ask("POST", path, { "Content-Type": "application/json", ...headers }, JSON.stringify(body)),
    send: async (path, body) => {
      const session = (await bench.get("/api/session")).json() as SessionPicture;
      return bench.post(path, body, { "X-Fizzward-Word": session.word ?? "" });
    },
  };
  return bench;
}
