import { Command, InvalidArgumentError, Option } from "commander";
import { closest } from "fastest-levenshtein";
import { readFile } from "node:fs/promises";
import { packageVersion } from "../system/package-version.js";
import { systemClock } from "../system/system-clock.js";
import { readSecretFile } from "../config/secret-file.js";
import { addAlarmCommands } from "./alarms.js";
import { addAlertCommands } from "./alerts.js";
import { addBranchesCommand, tankCount } from "./branches.js";
import { addChargesCommand } from "./charges.js";
import { checkConfigCommand } from "./check-config.js";
import { runEquilibrium } from "./equilibrium.js";
import { fileLines, standardInputLines } from "./file-lines.js";
import { addHoldCommands } from "./holds.js";
import { addHubCommands } from "./hub-preview.js";
import { addInspectCommand } from "./inspect.js";
import { addJournalCommands } from "./journal.js";
import { addLeakTestCommands } from "./leak-test.js";
import { standardOutputLines } from "./line-output.js";
import { localCommand } from "./local-command.js";
import { addUpkeepCommands } from "./upkeep.js";
import { plainFault } from "./plain-fault.js";
import { addPlanCommand } from "./plan-command.js";
import { replayDatabaseCommand, type ReplayDatabaseOptions } from "./replay-database.js";
import { replayCommand, type ReplayOptions } from "./replay.js";
import { tankCo2Command, type TankCo2Options } from "./tank-co2-text.js";
import { runTankCo2 } from "./tank-co2.js";

/** Reads the command line and runs it. @returns the exit code. */
export async function commandLine(argv: readonly string[]): Promise<number> {
  let exitCode = 0;
  const program = createProgram(async (code) => {
    exitCode = await code;
  });
  const known = [...program.commands.map((command) => command.name()), "help"];
  const [first] = argv;
  if (first !== undefined && !first.startsWith("-") && !known.includes(first)) {
    process.stderr.write(`there is no command "${first}"; did you mean "${closest(first, known)}"?\n`);
    return 1;
  }
  try {
    await program.parseAsync(argv, { from: "user" });
  } catch (error) {
    if (error instanceof Error && "exitCode" in error && typeof error.exitCode === "number")
      return error.exitCode;
    throw error;
  }
  return exitCode;
}

/** Every command with its arguments and options. @param ending  takes the exit code of the one that is run. */
export function createProgram(ending: (exitCode: Promise<number>) => Promise<void>): Command {
  const program = new Command("fizzward")
    .description("Doses planted tanks from a pressure vessel, watches the charge, and closes when in doubt.")
    .exitOverride()
    .configureOutput({ outputError: (text, write) => write(plainFault(text)) })
    .enablePositionalOptions()
    .version(packageVersion(), "--version");
  const withConfig = (name: string, description: string): Command =>
    program.command(name).description(description).requiredOption("--config <file>", "the site's config");

  // The daemon and the demo take half of the loading time; a local command waits for neither.
  program
    .command("demo", { isDefault: true })
    .description("a simulated home with its own broker, in accelerated time (the default)")
    .option("--speed <times>", "how much faster than real time, 1 to 1000", speed, 300)
    .option("--days <count>", "end after so many simulated days", positive)
    .action((options: { speed: number; days?: number }) =>
      ending(import("./demo.js").then(({ demoCommand }) => demoCommand(options))),
    );
  withConfig("run", "run the daemon on your own broker and hardware").action((options: { config: string }) =>
    ending(import("./run.js").then(({ runCommand }) => runCommand(options.config))),
  );
  program
    .command("check")
    .description("say everything that is wrong with a config")
    .argument("<file>", "the config")
    .action((file: string) =>
      ending(
        checkConfigCommand(file, {
          now_epochMs: systemClock.now_epochMs(),
          readFile: readSecretFile,
          environment: process.env,
          write: (line) => void process.stdout.write(`${line}\n`),
        }),
      ),
    );
  addInspectCommand(program, ending);
  addPlanCommand(program, ending);
  program
    .command("equilibrium")
    .description("the state of a closed charge: one JSON object a line in, one a line out")
    .requiredOption("--ndjson", "the only form so far: newline-delimited JSON on standard input and output")
    .action(() => ending(runEquilibrium(standardInputLines(), standardOutputLines()).then(() => 0)));
  program
    .command("replay")
    .description(
      "what the estimator would have said over a recorded trace of pressure, temperature and valve, or over what the daemon kept",
    )
    .argument(
      "[trace]",
      "comma-separated: at, pressureGauge_bar, temperature_degC, valveOpen, vesselMass_g; in place of it --database",
    )
    .option("--charge <file>", "with a trace: the charge as JSON: what was put in, gauge, windows")
    .option("--database <file>", "the daemon's own store; it may be running")
    .option("--config <file>", "with --database: the site's config, which names sensors and valves")
    .option("--vessel <name>", "with --database: which vessel, where the config has several")
    .option("--ndjson", "newline-delimited JSON: an object for every hour of the trace")
    .action((trace: string | undefined, options: ReplayOptions & ReplayDatabaseOptions) =>
      ending(
        options.database === undefined
          ? replayCommand(trace, options, {
              readText: (path) => readFile(path, "utf8"),
              readLines: fileLines,
              write: standardOutputLines(),
            })
          : replayDatabaseCommand(trace, options.database, options, standardOutputLines()),
      ),
    );
  program
    .command("tank-co2")
    .description("a tank's CO2 from pH and carbonate hardness, with its interval")
    .option("--ndjson", "newline-delimited JSON: one reading a line on standard input, one answer a line out")
    .option("--pH <value>", "of the tank")
    .option("--kh <dKH>", "carbonate hardness")
    .option("--temperature <degC>", "of the water")
    .option("--conductivity <uS/cm>", "at 25 degC, where it is known")
    .option("--salinity <g/kg>", "of brackish water")
    .option("--ph-uncertainty <value>", "standard uncertainty of the pH, by default 0.05")
    .option("--kh-uncertainty <dKH>", "standard uncertainty of the hardness, by default 0.5")
    .option("--phosphate <mg/L>", "as PO4: shows how far the hardness misleads")
    .option("--organic-carbon <mg/L>", "dissolved, as in brown water: shows how far the hardness misleads")
    .option("--boron <mg/L>", "from borax or sea salt: shows how far the hardness misleads")
    .action((options: TankCo2Options & { ndjson?: boolean }) => {
      const write = (line: string): void => void process.stdout.write(`${line}\n`);
      return ending(
        options.ndjson === true
          ? runTankCo2(standardInputLines(), write).then(() => 0)
          : Promise.resolve(tankCo2Command(options, write)),
      );
    });
  withConfig("status", "what the running daemon believes and does")
    .option("--json", "the whole status as one JSON object")
    .addOption(
      new Option("--tanks <count>", "and how long the charge lasts with up to so many tanks on it")
        .argParser(tankCount)
        .conflicts("json"),
    )
    .addOption(
      new Option("--flow <times>", "and where each tank would come to rest at so many times today's flow")
        .argParser(positive)
        .conflicts("json"),
    )
    .addOption(
      new Option("--target <mg/L>", "and what flow it would take for each tank to come to rest there")
        .argParser(positive)
        .conflicts("json"),
    )
    .action((options: StatusOptions) => ending(statusCommand(options)));
  withConfig("commission", "try a relay's auto-off and power-on state, once, with a person beside it")
    .argument("<valve>")
    .action((valve: string, options: { config: string }) =>
      ending(localCommand(options.config, { command: "commission", valve })),
    );
  withConfig("rearm", "re-arm a tank or a valve after a trip, once its cause is gone")
    .argument("<kind>", "tank or valve")
    .argument("<name>")
    .action((kind: string, id: string, options: { config: string }) =>
      ending(localCommand(options.config, { command: "rearm", kind, id })),
    );
  withConfig("override", "wish a valve open or closed for some time, against its schedule")
    .argument("<valve>")
    .argument("<action>", "open or closed")
    .requiredOption("--for <minutes>", "how long", positive)
    .action((valve: string, action: string, options: { config: string; for: number }) =>
      ending(localCommand(options.config, { command: "override", valve, action, for_min: options.for })),
    );
  withConfig("end-override", "let a valve follow its schedule again")
    .argument("<valve>")
    .action((valve: string, options: { config: string }) =>
      ending(localCommand(options.config, { command: "end-override", valve })),
    );
  withConfig("accept-clock", "say that this machine's clock is right").action((options: { config: string }) =>
    ending(localCommand(options.config, { command: "accept-clock" })),
  );
  withConfig(
    "backup",
    "copy the running daemon's whole store to its backup folder, and check the copy",
  ).action((options: { config: string }) => ending(localCommand(options.config, { command: "backup-now" })));
  addAlarmCommands(program, ending);
  addAlertCommands(program, ending);
  addHubCommands(program, ending);
  addJournalCommands(program, ending);
  addLeakTestCommands(program, ending);
  addHoldCommands(program, ending);
  addBranchesCommand(program, ending);
  addChargesCommand(program, ending, () => systemClock.now_epochMs());
  addUpkeepCommands(program, ending);
  return program;
}

interface StatusOptions {
  readonly config: string;
  readonly json?: boolean;
  readonly tanks?: number;
  readonly flow?: number;
  readonly target?: number;
}

/** The status, and below it what was asked beside it. */
async function statusCommand({ config, json, tanks, flow, target }: StatusOptions): Promise<number> {
  const asked = [
    ...(tanks === undefined ? [] : [{ command: "branches-outlook", tanks }]),
    ...(flow === undefined && target === undefined
      ? []
      : [{ command: "flow-outlook", flow_ratio: flow, target_mgPerL: target }]),
  ];
  let exitCode = await localCommand(config, { command: "status" }, json === true ? "value" : "words");
  for (const request of asked) if (exitCode === 0) exitCode = await localCommand(config, request);
  return exitCode;
}

function positive(text: string): number {
  const value = Number(text);
  if (!(value > 0 && Number.isFinite(value))) throw new InvalidArgumentError("a number above 0 is needed");
  return value;
}

function speed(text: string): number {
  const value = positive(text);
  if (value < 1 || value > 1000) throw new InvalidArgumentError("allowed is 1 to 1000");
  return value;
}
