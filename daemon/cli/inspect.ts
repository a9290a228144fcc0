import { InvalidArgumentError, type Command } from "commander";
import { exitCodeOf, findingLines, type Finding } from "../../lib/inspection/finding.js";
import { loadSite } from "../config/load-site.js";
import { askDaemon, askForClick } from "../inspection/daemon-answers.js";
import { inspectSite } from "../inspection/inspect-site.js";
import { createMqttMessageBus } from "../mqtt/mqtt-message-bus.js";
import type { Logger } from "../ports/logger.js";
import { systemSynchronisation } from "../system/clock-synchronisation.js";
import { systemClock } from "../system/system-clock.js";
import { unknownName } from "../unknown-name.js";
import { ask } from "./local-command.js";

interface InspectOptions {
  readonly config: string;
  readonly listen: number;
  readonly atTheTank: readonly string[];
}

/** `fizzward inspect`: whether everything that the daemon needs is there. */
export function addInspectCommand(
  program: Command,
  ending: (exitCode: Promise<number>) => Promise<void>,
): void {
  program
    .command("inspect")
    .description("look at broker, clock, disk, database, sensors and valves, and say what has to be mended")
    .requiredOption("--config <file>", "the site's config")
    .option("--listen <seconds>", "where no daemon runs: how long to listen for sensors", listenFor, 5)
    .option(
      "--at-the-tank <valve>",
      "somebody is at this valve's tank: let it click without a question; may be given for several",
      (valve: string, earlier: readonly string[]) => [...earlier, valve],
      [],
    )
    .action((options: InspectOptions) => ending(inspectCommand(options)));
}

async function inspectCommand({ config: path, listen, atTheTank }: InspectOptions): Promise<number> {
  const findings: Finding[] = [];
  const loaded = await loadSite(path);
  if (loaded.kind === "faulty") {
    for (const told of loaded.faults) findings.push({ subject: "config", verdict: "mend this first", told });
    findingLines(findings).forEach(print);
    return 1;
  }
  const { config, access, warnings } = loaded;
  const unknown = atTheTank.find((valveId) => config.valves[valveId] === undefined);
  if (unknown !== undefined) {
    process.stderr.write(`${unknownName("valve", unknown, Object.keys(config.valves))}\n`);
    return 1;
  }
  if (warnings.length === 0) findings.push({ subject: "config", verdict: "good", told: `${path}: no fault` });
  for (const told of warnings) findings.push({ subject: "config", verdict: "look at this", told });

  const socketFile = config.control.clientSocket;
  const bus = createMqttMessageBus({
    ...access,
    clientId: `${config.broker.clientIdPrefix}-${config.site.id}.inspect`,
    keepalive_s: config.broker.keepalive_s,
    clock: systemClock,
    logger: noLog,
    random: Math.random,
  });
  await inspectSite(config, listen, {
    clock: systemClock,
    bus,
    synchronisation: systemSynchronisation,
    machineTimeZone: new Intl.DateTimeFormat().resolvedOptions().timeZone,
    askDaemon: () => askDaemon(socketFile),
    click: (valveId) => {
      const agreed = atTheTank.includes(valveId);
      if (!agreed && !process.stdin.isTTY) return Promise.resolve({ kind: "not asked for" });
      return askForClick(socketFile, valveId, agreed ? valveId : undefined, { hears: print, answers: ask });
    },
    tell: (finding) => void findings.push(finding),
  });
  findingLines(findings).forEach(print);
  return exitCodeOf(findings);
}

const noLog: Logger = {
  debug: () => undefined,
  info: () => undefined,
  warn: () => undefined,
  error: () => undefined,
};

function print(line: string): void {
  process.stdout.write(`${line}\n`);
}

function listenFor(text: string): number {
  const value = Number(text);
  if (!(value >= 0 && value <= 3600)) throw new InvalidArgumentError("allowed is 0 to 3600");
  return value;
}
