import Database from "better-sqlite3";
import { existsSync, mkdtempSync, writeFileSync } from "node:fs";
import { createConnection } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { fileURLToPath } from "node:url";
import { connectAsync, type MqttClient } from "mqtt";
import { createLineReader } from "../../daemon/control-socket/control-socket.js";
import { kill, plainConfig, startDaemon, type DaemonProcess } from "../support/daemon-process.js";
import { eventually } from "../support/eventually.js";
import { startMosquitto, type Mosquitto, type MosquittoOptions } from "../support/mosquitto.js";
import { startRelayDevice, type RelayDevice } from "../support/relay-device.js";
import { createCutNetwork, type CutNetwork } from "./cut-network.js";
import type { InsideFault } from "./inside-daemon.js";

export interface FaultSiteOptions {
  /** As `plainConfig` names them. */
  readonly config?: Readonly<Record<string, string>>;
  readonly broker?: MosquittoOptions;
  /** Of the relay itself and, as `autoOff_s`, in the config. Default 300, so that another layer has to close. */
  readonly autoOff_s?: number;
  readonly powerOnState?: "on";
  /** A second solenoid in series. */
  readonly inSeries?: boolean;
  /** The daemon runs at the other end of a cable that can be cut. */
  readonly onCable?: boolean;
  readonly environment?: Readonly<Record<string, string>>;
  readonly nodeOptions?: string;
}

/** A real broker, relays, a pH sensor and the compiled daemon; what they do is real, and takes real time. */
export interface FaultSite {
  readonly broker: Mosquitto;
  readonly relay: RelayDevice;
  readonly series: RelayDevice | undefined;
  readonly network: CutNetwork | undefined;
  readonly daemon: DaemonProcess;
  /** Where the daemon's config and database lie. */
  readonly folder: string;
  /** Begins a daemon, further ones too, and waits until it runs unless it is not to be waited for. */
  start(options?: {
    readonly waits?: boolean;
    readonly config?: Readonly<Record<string, string>>;
  }): Promise<DaemonProcess>;
  /** Starts the daemon and a live sensor, and waits until gas flows. */
  dose(config?: Readonly<Record<string, string>>): Promise<void>;
  /** What it says at present. */
  saying(): string;
  /** What the pH sensor says twice a second; undefined: nothing. */
  senses(pH: (() => string) | undefined): void;
  say(topic: string, payload: string | Buffer, options?: { readonly retain?: boolean }): Promise<void>;
  client(): Promise<MqttClient>;
  /** Gas really flows: the contacts' truth, or what hangs in a seat. */
  gasFlows(): boolean;
  leaksFrom(part: "the seat of the first valve"): void;
  /** Since `from_ms` until no gas flows; NaN where that is longer than the limit. */
  closedAfter_ms(from_ms: number, limit_ms: number): Promise<number>;
  /** Ids of the alarms of the running daemon, as its command lists them, without the one that the config's own words raise. */
  alarms(): Promise<readonly string[]>;
  /** Since `from_ms` until an alarm of such a beginning stands; NaN where that is longer than the limit. */
  alarmAfter_ms(begin: string, from_ms: number, limit_ms: number): Promise<number>;
  /** The last payload of a retained topic below the daemon's own. */
  retained(topic: string): Promise<string>;
  /** One command at the daemon's socket; its last reply. */
  ask(request: Readonly<Record<string, unknown>>): Promise<{ readonly kind: string; readonly text: string }>;
  cause(fault: InsideFault): void;
  /** Readings that were sent and are not in the database, and whether valve events are. */
  lost(): Promise<string>;
  endsWithSite(cleanup: () => unknown): void;
}

const inside = fileURLToPath(new URL("inside-daemon.js", import.meta.url));
const acceptedAlarm = "without-auto-off/outlet";
const sensorEvery_ms = 500;
export const baseTopic = "fizzward/mill-house";

export async function withFaultSite<T>(
  options: FaultSiteOptions,
  use: (site: FaultSite) => Promise<T>,
): Promise<T> {
  const cleanups: (() => unknown)[] = [];
  try {
    return await use(await openSite(options, (cleanup) => void cleanups.push(cleanup)));
  } finally {
    for (const cleanup of cleanups.reverse()) {
      try {
        await cleanup();
      } catch (error) {
        process.stderr.write(`cleaning up: ${String(error)}\n`);
      }
    }
  }
}

async function openSite(
  options: FaultSiteOptions,
  endsWithSite: (cleanup: () => unknown) => void,
): Promise<FaultSite> {
  const { autoOff_s = 300 } = options;
  const network = options.onCable === true ? createCutNetwork() : undefined;
  if (network !== undefined) endsWithSite(() => network.dispose());
  const onCable =
    network === undefined ? [] : [`listener 18830 ${network.brokerHost}`, "allow_anonymous true"];
  const broker = await startMosquitto({
    logType: "error",
    ...options.broker,
    lines: [...(options.broker?.lines ?? []), ...onCable],
  });
  endsWithSite(() => broker.stop());
  const [firstUser] = Object.entries(options.broker?.users ?? {});
  const access = firstUser === undefined ? {} : { username: firstUser[0], password: firstUser[1] };
  const tls = options.broker?.tls === undefined ? {} : { rejectUnauthorized: false };
  const connect = async (): Promise<MqttClient> => {
    const client = await connectAsync(broker.address, {
      ...access,
      ...tls,
      protocolVersion: 5,
      reconnectPeriod: 200,
      queueQoSZero: false,
    });
    client.on("error", () => undefined);
    endsWithSite(() => client.endAsync(true));
    return client;
  };
  const relayAt = async (number: "" | "2"): Promise<RelayDevice> => {
    const relay = await startRelayDevice({
      address: broker.address,
      commandTopic: `relay${number}/command`,
      stateTopic: `relay${number}/state`,
      autoOff_s,
      connection: { ...access, ...tls },
      ...(options.powerOnState === undefined ? {} : { powerOnState: options.powerOnState }),
    });
    endsWithSite(() => relay.close());
    return relay;
  };
  const relay = await relayAt("");
  const series = options.inSeries === true ? await relayAt("2") : undefined;
  const client = await connect();

  const folder = mkdtempSync(join(tmpdir(), "fizzward-fault-"));
  const faultFile = join(folder, "fault.json");
  const address = network === undefined ? broker.address : `mqtt://${network.brokerHost}:18830`;
  const daemons: DaemonProcess[] = [];
  let speak: (() => string) | undefined;
  let sent = 0;
  let dosed = false;
  const timer = setInterval(() => {
    if (speak === undefined || !client.connected) return;
    if (daemons.length > 0) sent += 1;
    client.publish("tank/ph", speak());
  }, sensorEvery_ms);
  endsWithSite(() => clearInterval(timer));
  let leaks = false;
  const gasFlows = (): boolean => (relay.isOn() || leaks) && (series === undefined || series.isOn());

  const site: FaultSite = {
    broker,
    relay,
    series,
    network,
    folder,
    get daemon() {
      const last = daemons.at(-1);
      if (last === undefined) throw new Error("no daemon was started");
      return last;
    },
    async start({ waits = true, config = {} } = {}) {
      const daemon = startDaemon({
        folder,
        config: plainConfig(address, {
          autoOff_s: String(autoOff_s),
          valveKeys: series === undefined ? "" : seriesKeys(autoOff_s),
          ...options.config,
          ...config,
        }),
        ...(network === undefined ? {} : { launcher: network.launcher }),
        environment: {
          NODE_OPTIONS: `--import=${inside} ${options.nodeOptions ?? ""}`,
          FIZZWARD_FAULT_FILE: faultFile,
          ...options.environment,
        },
      });
      daemons.push(daemon);
      endsWithSite(() => daemon.dispose());
      if (waits) await daemon.logged("fizzward runs", 60_000);
      return daemon;
    },
    async dose(config = {}) {
      const daemon = await site.start({ config });
      await daemon.logged("dead-man connection armed", 30_000);
      site.senses(steady("6.8"));
      await eventually(
        () => {
          if (!gasFlows()) throw new Error(`gas never flowed\n${daemon.output()}`);
        },
        { timeout_ms: 30_000 },
      );
      await daemon.logged("reports open");
      dosed = true;
      // A few readings more, so that there is something to lose.
      await sleep(2500);
    },
    saying: () => speak?.() ?? "",
    senses: (next) => {
      speak = next;
    },
    async say(topic, payload, { retain = false } = {}) {
      await client.publishAsync(topic, payload, { qos: 1, retain });
    },
    client: connect,
    gasFlows,
    leaksFrom: () => {
      leaks = true;
    },
    async closedAfter_ms(from_ms, limit_ms) {
      return until(() => !gasFlows(), from_ms, limit_ms);
    },
    async alarms() {
      const { value } = await converse(site.daemon.socketFile, { command: "alarms-list", json: true });
      const documents = value as readonly { readonly id: string; readonly suppressedBy: string | null }[];
      return documents
        .filter(({ id, suppressedBy }) => id !== acceptedAlarm && suppressedBy === null)
        .map(({ id }) => id);
    },
    async alarmAfter_ms(begin, from_ms, limit_ms) {
      const stands = async (): Promise<boolean> =>
        (await site.alarms().catch(() => [])).some((id) => id.startsWith(begin));
      return until(stands, from_ms, limit_ms, 100);
    },
    async retained(topic) {
      const reader = await connect();
      const first = new Promise<string>((resolve) =>
        reader.on("message", (_topic, payload) => resolve(payload.toString())),
      );
      await reader.subscribeAsync(`${baseTopic}/${topic}`);
      return Promise.race([first, sleep(3000).then(() => "nothing")]);
    },
    ask: (request) => converse(site.daemon.socketFile, request),
    cause(fault) {
      writeFileSync(faultFile, JSON.stringify(fault));
      kill(site.daemon.processIds().daemon, "SIGUSR2");
    },
    async lost() {
      // Readings are written once a second here; what is on its way is not lost.
      const known = sent;
      await sleep(1600);
      return lostFrom(join(folder, "site.db"), known, dosed);
    },
    endsWithSite,
  };
  return site;
}

/** A living probe is never quite still. */
export function steady(pH: string): () => string {
  let beat = 0;
  return () => `${pH}${beat++ % 7}`;
}

async function until(
  holds: () => boolean | Promise<boolean>,
  from_ms: number,
  limit_ms: number,
  every_ms = 5,
): Promise<number> {
  while (!(await holds())) {
    if (performance.now() - from_ms > limit_ms) return Number.NaN;
    await sleep(every_ms);
  }
  return performance.now() - from_ms;
}

interface Reply {
  readonly kind: string;
  readonly text: string;
  readonly value?: unknown;
}

async function converse(path: string, request: Readonly<Record<string, unknown>>): Promise<Reply> {
  const socket = createConnection(path);
  socket.on("error", () => socket.destroy());
  socket.setTimeout(5000, () => socket.destroy());
  const lines = createLineReader(socket, 1_000_000);
  socket.write(`${JSON.stringify(request)}\n`);
  const line = await lines.next();
  socket.destroy();
  if (line === undefined) throw new Error("the daemon does not answer");
  return JSON.parse(line) as Reply;
}

function lostFrom(file: string, sent: number, dosed: boolean): string {
  if (!existsSync(file)) return "the database";
  const database = new Database(file, { readonly: true });
  try {
    const kept = database.prepare("SELECT count(*) FROM readings").pluck().get() as number;
    const opened = database
      .prepare("SELECT count(*) FROM events WHERE what = 'commanded open'")
      .pluck()
      .get() as number;
    const readings = Math.max(0, sent - kept);
    const ofReadings = readings === 0 ? "no reading" : `${readings} of ${sent} readings`;
    return opened > 0 || !dosed ? `${ofReadings}, no valve event` : `${ofReadings}, the valve's opening`;
  } catch (error) {
    return `the database cannot be read (${error instanceof Error ? error.message : String(error)})`;
  } finally {
    database.close();
  }
}

function seriesKeys(autoOff_s: number): string {
  return `    seriesRelay:
      commandTopic: relay2/command
      payloadOn: "ON"
      payloadOff: "OFF"
      stateTopic: relay2/state
      stateOn: "ON"
      stateOff: "OFF"
      confirmWithin_s: 1
      autoOff_s: ${autoOff_s}
      powerOnState: "off"`;
}
