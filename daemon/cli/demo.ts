import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { subjectOf } from "../../lib/journal/journal-entry.js";
import { createDosingCalendar } from "../../lib/schedule/dosing-calendar.js";
import { createRandomSource } from "../../lib/simulation/random-source.js";
import { createApp } from "../app.js";
import { formatFault } from "../config/config-faults.js";
import type { SiteConfig } from "../config/config-schema.js";
import { loadConfig } from "../config/load-config.js";
import { createAcceleratedClock } from "../demo/accelerated-clock.js";
import { createEmbeddedBroker } from "../demo/embedded-broker.js";
import { demoEntries } from "../demo/demo-entries.js";
import { createSimulatedDevices } from "../demo/simulated-devices.js";
import { factInWords } from "../journal/journal-words.js";
import { siteModelFrom } from "../site-model.js";
import { createPinoLogger } from "../system/pino-logger.js";
import { freePort } from "../system/free-port.js";
import { systemClock } from "../system/system-clock.js";
import { terminalLine } from "../system/terminal-lines.js";
import { createLiveTerminal } from "./live-terminal.js";
import { untilSignal } from "./signals.js";
import { eventLine, statusLine } from "./terminal-status.js";

export interface DemoOptions {
  readonly speed: number;
  readonly days?: number;
}

const siteFile = fileURLToPath(new URL("../../../config/demo-site.yaml", import.meta.url));
/** Ten minutes before gas opens for the first time. */
const start_epochMs = Date.parse("2026-03-02T07:50:00+01:00");
const statusEvery_ms = 250;
const deadManStart_ms = 800;
const seed = 20260302;

/** The simulated home: its own broker, its own devices, the real daemon, until a signal or the last day. */
export async function demoCommand(options: DemoOptions): Promise<number> {
  const ended = untilSignal();
  const parsed = await loadConfig(siteFile);
  if (parsed.kind === "invalid") {
    parsed.faults.forEach((fault) => process.stderr.write(`${formatFault(siteFile, fault)}\n`));
    return 1;
  }
  const folder = mkdtempSync(join(tmpdir(), "fizzward-demo-"));
  const broker = createEmbeddedBroker();
  const address = await broker.start();
  const config: SiteConfig = {
    ...parsed.config,
    broker: { ...parsed.config.broker, addresses: [address] },
    control: { ...parsed.config.control, clientSocket: join(folder, "control.sock") },
    store: { ...parsed.config.store, file: join(folder, "site.db") },
  };
  const terminal = createLiveTerminal(process.stdout, () => systemClock.monotonic_ms());
  const logger = createPinoLogger({
    level: "warn",
    monotonic_ms: () => systemClock.monotonic_ms(),
    destination: { write: (line: string) => terminal.line(terminalLine(line.trimEnd())) },
  });
  const clock = createAcceleratedClock({ startAt_epochMs: start_epochMs, speed: options.speed });
  const random = createRandomSource(seed);
  const lights = new Map(
    Object.entries(config.tanks).map(([tankId, tank]) => [
      tankId,
      createDosingCalendar([{ ...tank, lead_min: 0, earlyClose_min: 0, datesOff: [] }], config.site.timeZone),
    ]),
  );
  const devices = createSimulatedDevices({
    brokerAddress: address,
    site: config,
    clock,
    random,
    startAt_epochMs: start_epochMs,
    lightsOnAt: (tankId, at_epochMs) => lights.get(tankId)?.stateAt(at_epochMs).kind === "open",
    logger,
  });
  const model = siteModelFrom(config);
  const app = createApp({
    config,
    access: { addresses: [address] },
    clock,
    machineClock: systemClock,
    logger,
    random,
    synchronisation: () => "synchronised",
    relaysCountAsCommissioned: true,
    ...(config.page === undefined ? {} : { pagePort: await freePort(config.page.port) }),
    onEvent: (event) => terminal.line(eventLine(event, config.site.timeZone)),
  });
  terminal.line(
    `A simulated home at ${options.speed} times real time, its broker at ${address}. Ctrl-C ends it.`,
  );
  await devices.start();
  await app.start();
  const page = app.pageAddress();
  if (page !== undefined) terminal.line(`Its page: ${page}`);
  // The dead-man process starts in real time; meanwhile the simulated time stands still.
  await systemClock.sleep(deadManStart_ms);
  clock.start();
  for (const entry of demoEntries) {
    const outcome = await app.enter(entry);
    if (outcome.kind === "kept") {
      const { fact } = outcome.entry;
      terminal.line(`In its journal: ${subjectOf(fact).id}, ${factInWords(fact)}`);
    } else logger.error({ reason: outcome.reason }, "an entry of the demo's journal was not kept");
  }
  const refreshing = setInterval(() => {
    const status = app.status();
    if (status !== undefined) terminal.status(statusLine(status, model));
  }, statusEvery_ms);
  const signal = await Promise.race([
    ended,
    options.days === undefined ? new Promise<never>(() => undefined) : clock.sleep(options.days * 86_400_000),
  ]);
  clearInterval(refreshing);
  terminal.end();
  terminal.line(
    signal === undefined ? "The days are over; closing the valve." : `${signal}: closing the valve.`,
  );
  await app.stop();
  const open = Object.values(devices.contactClosed()).some((closed) => closed);
  terminal.line(open ? "A relay is still on." : "Every relay is off.");
  await devices.stop();
  clock.stop();
  await broker.stop();
  rmSync(folder, { recursive: true, force: true });
  return open ? 1 : 0;
}
