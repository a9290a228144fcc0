import { fork, type ChildProcess } from "node:child_process";
import { performance } from "node:perf_hooks";
import { fileURLToPath } from "node:url";
import type { Clock } from "../ports/clock.js";
import type { DeadMan, GuardedRelay } from "../ports/dead-man.js";
import type { Logger } from "../ports/logger.js";
import { brokerAddressesOf, type BrokerAccess } from "./broker-connection-options.js";
import { noBeatYet } from "./dead-man-holder.js";
import { isFromDeadMan, machineMonotonic_ms, type FromDeadMan, type ToDeadMan } from "./dead-man-messages.js";
import { createReconnectBackoff } from "./reconnect-backoff.js";
import { deadManClientId } from "./topics.js";

export interface ProcessDeadManOptions {
  readonly access: BrokerAccess;
  readonly clientIdPrefix: string;
  readonly siteId: string;
  readonly relays: readonly GuardedRelay[];
  readonly clock: Clock;
  readonly logger: Logger;
  readonly random: () => number;
  /**
   * The address of the broker that the daemon is connected to, if it is: where there are several, a will at
   * another one than the relay's is no protection.
   */
  readonly brokerInUse?: () => string | undefined;
  /** Of the dead-man connections; short, since it bounds the closing when everything here is frozen. */
  readonly keepalive_s?: number;
  /** Without a beat for so long the connections are broken. */
  readonly longestBeatGap_ms?: number;
  /** The compiled entry of the process; only tests name another. */
  readonly processFile?: string;
}

export interface ProcessDeadMan extends DeadMan {
  /** Why a relay's connection is not armed, in words; undefined when it is. */
  faultOf(relayId: string): string | undefined;
  /** Of the running dead-man process. */
  processId(): number | undefined;
}

/** All of these are real time: they watch a process, not the site. */
const leastBeatGap_ms = 250;
const reportValid_ms = 3_000;
const readyWithin_ms = 5_000;
const leaveWithin_ms = 3_000;
const stableAfter_ms = 60_000;
/** A process that has been silent for so long is frozen; killing it publishes the wills and lets a new one start. */
const frozenAfter_ms = 10_000;
const mostErrorText = 2_000;

/** Beside this file when compiled; under test this file is the source, and the compiled one lies in dist/. */
function defaultProcessFile(): string {
  const isSource = import.meta.url.endsWith(".ts");
  const compiled = isSource ? "../../dist/daemon/mqtt/dead-man-process.js" : "./dead-man-process.js";
  return fileURLToPath(new URL(compiled, import.meta.url));
}

/** What the process needs of the environment to trust certificates; nothing that may hold a secret. */
function environmentForProcess(): NodeJS.ProcessEnv {
  const environment: NodeJS.ProcessEnv = {};
  for (const name of ["NODE_EXTRA_CA_CERTS", "SSL_CERT_FILE", "SSL_CERT_DIR", "TZ"]) {
    const value = process.env[name];
    if (value !== undefined) environment[name] = value;
  }
  return environment;
}

/**
 * The dead-man connections, held by a process of its own that breaks them when `beat` stops coming. One MQTT
 * connection for each relay, whose Last Will is the closing command (QoS 1, not retained).
 * @throws InvalidBrokerAddressError when an address cannot be read.
 */
export function createProcessDeadMan(options: ProcessDeadManOptions): ProcessDeadMan {
  const { access, clock, logger, relays } = options;
  brokerAddressesOf(access);
  const longestBeatGap_ms = options.longestBeatGap_ms ?? 2_000;
  const guard: ToDeadMan = {
    kind: "guard",
    access,
    keepalive_s: options.keepalive_s ?? 5,
    longestBeatGap_ms,
    relays: relays.map((relay) => ({
      ...relay,
      clientId: deadManClientId(options.clientIdPrefix, options.siteId, relay.relayId),
    })),
  };
  const backoff = createReconnectBackoff({ random: options.random, ceiling_ms: 30_000 });
  const ending = new AbortController();
  let child: ChildProcess | undefined;
  /** For each armed relay the address of the broker that holds its will. */
  let armed: ReadonlyMap<string, string> = new Map();
  const everArmed = new Set<string>();
  let faults: ReadonlyMap<string, string> = new Map();
  let lastReport_ms = Number.NEGATIVE_INFINITY;
  let lastBeat_ms = Number.NEGATIVE_INFINITY;
  let beatOnItsWay = false;
  let running: Promise<void> | undefined;

  const forget = (reason: string): void => {
    armed = new Map();
    faults = new Map(relays.map(({ relayId }) => [relayId, reason]));
  };
  forget("the dead-man process is not started");

  const receive = (message: FromDeadMan, onReady: () => void): void => {
    if (message.kind === "ready") {
      onReady();
      return;
    }
    if (message.kind === "not sent") {
      const { relayId, reason } = message;
      // Before the first arming the connection is only being made; a closing is repeated until it is confirmed.
      const level = everArmed.has(relayId) ? "warn" : "debug";
      logger[level]({ relay: relayId, reason }, "a command was not sent on the dead-man connection");
      return;
    }
    lastReport_ms = performance.now();
    const before = armed;
    armed = new Map(message.armed.map(({ relayId, address }) => [relayId, address]));
    for (const relayId of armed.keys()) everArmed.add(relayId);
    const reasons = new Map(message.faults.map(({ relayId, reason }) => [relayId, reason]));
    for (const { relayId } of relays) {
      const reason = reasons.get(relayId);
      if (armed.has(relayId) && !before.has(relayId))
        logger.info({ relay: relayId }, "dead-man connection armed");
      else if (reason !== undefined && reason !== faults.get(relayId)) {
        // At an orderly end the relays are off and nothing needs guarding any more.
        if (ending.signal.aborted) logger.debug({ relay: relayId, reason }, "dead-man connection released");
        else if (reason !== noBeatYet || everArmed.has(relayId)) {
          logger.warn({ relay: relayId, reason }, "dead-man connection not armed");
        }
      }
    }
    faults = reasons;
  };

  /** Starts the process and lives through it; resolves when it has ended. */
  const runProcess = (onReady: () => void): Promise<void> =>
    new Promise((resolve) => {
      const started = fork(options.processFile ?? defaultProcessFile(), [], {
        // A session of its own: a terminal's Ctrl-C and Ctrl-Z are meant for the daemon alone.
        detached: true,
        execArgv: [],
        env: environmentForProcess(),
        stdio: ["ignore", "ignore", "pipe", "ipc"],
      });
      child = started;
      beatOnItsWay = false;
      lastBeat_ms = Number.NEGATIVE_INFINITY;
      let errorText = "";
      started.stderr?.on("data", (chunk: Buffer) => {
        errorText = (errorText + chunk.toString("utf8")).slice(-mostErrorText);
      });
      started.on("message", (message: unknown) => {
        if (child === started && isFromDeadMan(message)) receive(message, onReady);
      });
      let gone = false;
      const end = (why: string): void => {
        if (gone) return;
        gone = true;
        if (child === started) child = undefined;
        forget(`the dead-man process has ended (${why})`);
        if (!ending.signal.aborted)
          logger.error({ reason: why, output: errorText }, "the dead-man process has ended");
        resolve();
      };
      started.on("error", (error) => {
        // Without a process there will be no exit event.
        if (started.pid === undefined) end(error.message);
      });
      started.on("exit", (code, signal) => end(signal ?? `exit code ${String(code)}`));
      // Alive but out of reach: it breaks its connections by itself; here it no longer counts.
      started.on("disconnect", () => forget("the dead-man process cannot be reached"));
      started.send(guard, () => undefined);
    });

  /** Ends a process that hangs; returns the function that ends the watch. */
  const watchForFreeze = (): (() => void) => {
    const started_ms = performance.now();
    const isFrozen = (): boolean => performance.now() - Math.max(started_ms, lastReport_ms) > frozenAfter_ms;
    const timer = setInterval(() => {
      // After a stall of this process the reports wait unread: look once more after reading.
      if (isFrozen()) setImmediate(() => isFrozen() && child?.kill("SIGKILL"));
    }, 1_000);
    return () => clearInterval(timer);
  };

  const run = async (onReady: () => void): Promise<void> => {
    while (!ending.signal.aborted) {
      const started_ms = performance.now();
      const endWatch = watchForFreeze();
      await runProcess(onReady);
      endWatch();
      // Whoever waits for the start learns no more by waiting on.
      onReady();
      if (performance.now() - started_ms >= stableAfter_ms) backoff.reset();
      await clock.sleep(backoff.next_ms(), ending.signal);
    }
  };

  const isFresh = (): boolean => {
    const now_ms = performance.now();
    // A tick later than the process tolerates has cost the connections, even if its report is still unread.
    return now_ms - lastReport_ms <= reportValid_ms && now_ms - lastBeat_ms < longestBeatGap_ms;
  };

  const isWhereNeeded = (relayId: string): boolean => {
    const address = options.brokerInUse?.();
    return address === undefined || armed.get(relayId) === address;
  };

  return {
    async start() {
      if (running !== undefined || relays.length === 0) return;
      await new Promise<void>((resolve) => {
        const timer = setTimeout(resolve, readyWithin_ms);
        running = run(() => {
          clearTimeout(timer);
          resolve();
        });
      });
    },
    async stop(relaysAre) {
      ending.abort();
      const leaving = child;
      if (leaving?.connected === true) {
        const message: ToDeadMan = { kind: relaysAre === "confirmed off" ? "release" : "trip" };
        leaving.send(message, () => undefined);
      }
      // Killed without a DISCONNECT the broker publishes the wills: closing commands, never anything else.
      const timer = setTimeout(() => leaving?.kill("SIGKILL"), leaveWithin_ms);
      await running;
      clearTimeout(timer);
      forget("the dead-man process is stopped");
    },
    beat() {
      const now_ms = performance.now();
      const to = child;
      if (to?.connected !== true || beatOnItsWay || now_ms - lastBeat_ms < leastBeatGap_ms) return;
      lastBeat_ms = now_ms;
      // A process that does not read must not collect beats that would keep it armed later.
      beatOnItsWay = true;
      const address = options.brokerInUse?.();
      const beat: ToDeadMan = { kind: "beat", ...(address === undefined ? {} : { address }) };
      to.send(beat, () => {
        if (child === to) beatOnItsWay = false;
      });
    },
    send(relayId, message) {
      if (child?.connected !== true) return;
      const given_monotonicMs = machineMonotonic_ms();
      const order: ToDeadMan = { kind: "send", relayId, message, given_monotonicMs };
      child.send(order, () => undefined);
    },
    isArmed: (relayId) => child !== undefined && armed.has(relayId) && isFresh() && isWhereNeeded(relayId),
    faultOf(relayId) {
      if (!armed.has(relayId)) return faults.get(relayId) ?? "the relay has no dead-man connection";
      if (!isFresh()) return "the dead-man process has not been heard lately";
      return isWhereNeeded(relayId) ? undefined : `armed at ${armed.get(relayId) ?? "another broker"} only`;
    },
    processId: () => child?.pid,
  };
}
