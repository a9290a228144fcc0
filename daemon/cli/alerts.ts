import type { Command } from "commander";
import { localCommand } from "./local-command.js";

/** `fizzward alerts ...`: the ways by which alarms reach people. */
export function addAlertCommands(
  program: Command,
  ending: (exitCode: Promise<number>) => Promise<void>,
): void {
  const alerts = program
    .command("alerts")
    .description("the ways by which the running daemon tells people of alarms");
  alerts
    .command("list")
    .description("each channel, what it took last, and what waits for it")
    .requiredOption("--config <file>", "the site's config")
    .action((options: { config: string }) =>
      ending(localCommand(options.config, { command: "alerts-list" })),
    );
  alerts
    .command("digest")
    .description("the digest as it would be sent now, without sending it")
    .requiredOption("--config <file>", "the site's config")
    .action((options: { config: string }) =>
      ending(localCommand(options.config, { command: "alerts-digest" })),
    );
  alerts
    .command("test")
    .description("send one trial message and say what became of it")
    .argument("<channel>", "its name in the config")
    .requiredOption("--config <file>", "the site's config")
    .action((channel: string, options: { config: string }) =>
      ending(localCommand(options.config, { command: "alerts-test", channel })),
    );
}
