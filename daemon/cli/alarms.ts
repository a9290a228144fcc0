import { InvalidArgumentError, type Command } from "commander";
import { localCommand } from "./local-command.js";

interface WithConfig {
  readonly config: string;
}

/** `fizzward alarms ...`: what needs a person, and what the person says to it. */
export function addAlarmCommands(
  program: Command,
  ending: (exitCode: Promise<number>) => Promise<void>,
): void {
  const alarms = program
    .command("alarms")
    .description("the running daemon's alarms: list, acknowledge, shelve, remove from service");
  const withConfig = (name: string, description: string): Command =>
    alarms.command(name).description(description).requiredOption("--config <file>", "the site's config");
  const ofAlarm = (name: string, description: string): Command =>
    withConfig(name, description).argument("<alarm>", "its id, as the list shows it");

  withConfig("list", "every alarm with its state, what follows, what to do, and how long there is")
    .option("--json", "one JSON list")
    .action((options: WithConfig & { json?: boolean }) =>
      ending(localCommand(options.config, { command: "alarms-list", json: options.json === true })),
    );
  withConfig("acknowledge", "say that you have seen an alarm and look after it")
    .argument("[alarm]", "its id, as the list shows it")
    .option("--all", "every alarm that waits for it")
    .action((alarm: string | undefined, options: WithConfig & { all?: boolean }, command: Command) => {
      if ((alarm === undefined) !== (options.all === true)) {
        command.error("say which alarm, or --all");
      }
      return ending(
        localCommand(
          options.config,
          alarm === undefined
            ? { command: "alarms-acknowledge-all" }
            : { command: "alarms-acknowledge", alarm },
        ),
      );
    });
  ofAlarm("shelve", "keep a known alarm from calling for a limited time; not one that is critical")
    .requiredOption("--for <minutes>", "for how long", minutes)
    .action((alarm: string, options: WithConfig & { for: number }) =>
      ending(localCommand(options.config, { command: "alarms-shelve", alarm, for_min: options.for })),
    );
  for (const [name, description] of [
    ["unshelve", "let a shelved alarm call again"],
    ["remove-from-service", "keep an alarm from calling while you mend what it watches"],
    ["return-to-service", "let it call again"],
  ] as const) {
    ofAlarm(name, description).action((alarm: string, options: WithConfig) =>
      ending(localCommand(options.config, { command: `alarms-${name}`, alarm })),
    );
  }
}

function minutes(text: string): number {
  const value = Number(text);
  if (!(value > 0 && Number.isFinite(value))) throw new InvalidArgumentError("a number above 0 is needed");
  return value;
}
