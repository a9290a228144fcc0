import { Argument, type Command } from "commander";
import { recordedTasks } from "../../lib/upkeep/recorded-task.js";
import { localCommand } from "./local-command.js";

/** Words of the shell are joined by hyphens: "sediment-soak". */
const tasks = new Map(recordedTasks.map((task) => [task.replaceAll(" ", "-"), task]));

/** `fizzward upkeep ...`: what wears and ages, when it is due, and what was done. */
export function addUpkeepCommands(
  program: Command,
  ending: (exitCode: Promise<number>) => Promise<void>,
): void {
  const upkeep = program.command("upkeep").description("what wears and ages: what is due, and what was done");
  upkeep
    .command("list")
    .description("every task with when it was done and when it is due")
    .requiredOption("--config <file>", "the site's config")
    .option("--json", "one JSON list")
    .action((options: { config: string; json?: boolean }) =>
      ending(localCommand(options.config, { command: "upkeep-list", json: options.json === true })),
    );
  upkeep
    .command("done")
    .description("write down that a task was done; KH tests and calibrations go to `journal`")
    .addArgument(new Argument("<task>", "what was done").choices([...tasks.keys()]))
    .argument("[name]", "of the vessel, valve or tank, where there are several")
    .requiredOption("--config <file>", "the site's config")
    .option("--at <time>", "when it was, in local time: 2026-05-01T18:00; left out, now")
    .option("--note <text>", "a remark of your own")
    .action(
      (task: string, subject: string | undefined, options: { config: string; at?: string; note?: string }) =>
        ending(
          localCommand(options.config, {
            command: "journal-enter",
            entry: {
              kind: "upkeep done",
              task: tasks.get(task),
              subject,
              at: options.at,
              note: options.note,
            },
          }),
        ),
    );
}
