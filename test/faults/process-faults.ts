import { setTimeout as sleep } from "node:timers/promises";
import { kill, runCommand } from "../support/daemon-process.js";
import { eventually } from "../support/eventually.js";
import type { Fault } from "./fault.js";
import { closes, staysInCommand } from "./fault-courses.js";
import type { FaultSite } from "./fault-site.js";

const daemonGone = "the broker tells: lost";
/** The dead-man connections are kept alive every 5 s; a broker gives up after one and a half times that and looks every 5 s or so. */
const brokerGivesUp_s = 13.5;
const signalDaemon = (site: FaultSite, signal: NodeJS.Signals): void =>
  kill(site.daemon.processIds().daemon, signal);
const signalDeadMan = (site: FaultSite, signal: NodeJS.Signals): void => {
  const { deadMan } = site.daemon.processIds();
  if (deadMan === undefined) throw new Error("there is no dead-man process");
  kill(deadMan, signal);
  // An orphan that is frozen would outlive the run.
  site.endsWithSite(() => kill(deadMan, "SIGKILL"));
};

/** The daemon and its dead-man process: killed, frozen, stalled, out of memory, told nonsense. */
export const processFaults: readonly Fault[] = [
  closes({
    name: "the daemon is killed",
    limit_s: 1,
    alarm: daemonGone,
    answers: false,
    because: "the dead-man process ends with it, and the broker sends the closing command",
    act: (site) => signalDaemon(site, "SIGKILL"),
  }),
  closes({
    name: "the daemon is frozen",
    limit_s: 3,
    alarm: daemonGone,
    because: "the dead-man process misses its beat",
    answers: false,
    act: (site) => signalDaemon(site, "SIGSTOP"),
    // The broker notices the silence of the daemon's own connection later than the dead-man process does.
    lost: async (site) => {
      signalDaemon(site, "SIGCONT");
      return site.lost();
    },
  }),
  closes({
    name: "the daemon's event loop stalls for 8 s",
    limit_s: 3,
    alarm: "none",
    because: "the dead-man process misses its beat; afterwards the valve rests for a minute",
    act: (site) => site.cause({ kind: "stall", duration_ms: 8000 }),
    afterwards: async (site) => {
      await sleep(7000);
      return site.gasFlows() ? "gas flowed again before its rest was over" : undefined;
    },
  }),
  closes({
    name: "the daemon has no memory left",
    limit_s: 30,
    alarm: daemonGone,
    answers: false,
    site: { nodeOptions: "--max-old-space-size=200" },
    because: "it ends when 300 MB are taken, which is part of the time; then as when killed",
    act: (site) => site.cause({ kind: "memory" }),
  }),
  closes({
    name: "the dead-man process is killed",
    limit_s: 2,
    alarm: "none",
    because: "the broker sends the closing command; the daemon starts another within seconds",
    act: (site) => signalDeadMan(site, "SIGKILL"),
  }),
  closes({
    name: "the dead-man process is frozen",
    limit_s: brokerGivesUp_s,
    alarm: "none",
    because: "the daemon no longer hears it and closes",
    act: (site) => signalDeadMan(site, "SIGSTOP"),
  }),
  closes({
    name: "the daemon and the dead-man process are frozen together",
    limit_s: brokerGivesUp_s,
    alarm: daemonGone,
    answers: false,
    because: "the broker misses the keepalive",
    act: (site) => {
      signalDeadMan(site, "SIGSTOP");
      signalDaemon(site, "SIGSTOP");
    },
    lost: async (site) => {
      signalDaemon(site, "SIGCONT");
      return site.lost();
    },
  }),
  closes({
    name: "the daemon is killed while the dead-man process is frozen",
    limit_s: brokerGivesUp_s,
    alarm: daemonGone,
    answers: false,
    because: "the broker misses the keepalive",
    act: (site) => {
      signalDeadMan(site, "SIGSTOP");
      signalDaemon(site, "SIGKILL");
    },
  }),
  closes({
    name: "daemon, dead-man process and broker are killed at once",
    limit_s: 11,
    alarm: "nothing can tell",
    answers: false,
    site: { autoOff_s: 10 },
    because: "the relay's own auto-off, here 10 s",
    act: async (site) => {
      const killed = site.broker.kill();
      signalDeadMan(site, "SIGKILL");
      signalDaemon(site, "SIGKILL");
      await killed;
    },
  }),
  closes({
    name: "the daemon is told to end",
    limit_s: 6,
    alarm: "the broker tells: stopped",
    answers: false,
    because: "it waits until the relay confirms",
    act: (site) => signalDaemon(site, "SIGTERM"),
    afterwards: async (site) => {
      const code = await site.daemon.exitCode(20_000);
      return code === 0 ? undefined : `exit code ${String(code)}`;
    },
  }),
  staysInCommand({
    name: "a second daemon is started with the same config",
    because: "it is refused, with the reason; the first one goes on",
    act: async (site) => {
      const { exitCode, output } = await runCommand(["run", "--config", site.daemon.configFile]);
      if (exitCode !== 1 || !output.includes("another daemon")) {
        throw new Error(`the second daemon was not refused: ${String(exitCode)} ${output}`);
      }
      return () => undefined;
    },
  }),
  closes({
    name: "a second daemon comes with the same ids at the broker, and a socket and database of its own",
    limit_s: 15,
    alarm: "none",
    because: "each takes the connections from the other, and each loss sends the closing command",
    act: async (site) => {
      await site.start({
        waits: false,
        config: { socketFile: `${site.folder}/other.sock`, storeFile: `${site.folder}/other.db` },
      });
    },
  }),
  staysInCommand({
    name: "the config is made invalid and read again by SIGHUP",
    because: "the running config stays, with its limits",
    act: async (site) => {
      site.daemon.writeConfig("site: [\n");
      signalDaemon(site, "SIGHUP");
      await site.daemon.logged("changes nothing");
      return () => undefined;
    },
  }),
  staysInCommand({
    name: "the config is read again by SIGHUP without its guard's line",
    because: "half a file that is still being written changes nothing",
    act: async (site) => {
      site.daemon.writeConfig(
        "site: { id: mill-house, timeZone: Etc/UTC }\nbroker: { addresses: [mqtt://a] }",
      );
      signalDaemon(site, "SIGHUP");
      await site.daemon.logged("half of it may be missing");
      return () => undefined;
    },
  }),
  staysInCommand({
    name: "sixteen clients hold the local socket and say nothing",
    because: "who says nothing is shown out after 5 s",
    act: async (site) => {
      const { createConnection } = await import("node:net");
      const sockets = Array.from({ length: 16 }, () => createConnection(site.daemon.socketFile));
      sockets.forEach((socket) => socket.on("error", () => socket.destroy()));
      return () => eventually(() => sockets.forEach((socket) => socket.destroy()), { timeout_ms: 1000 });
    },
  }),
];
