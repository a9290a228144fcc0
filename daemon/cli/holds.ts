import { Argument, type Command } from "commander";
import { localCommand } from "./local-command.js";

type Ending = (exitCode: Promise<number>) => Promise<void>;

/** `fizzward maintenance ...` and `fizzward refill ...`: keep valves closed while a person works. */
export function addHoldCommands(program: Command, ending: Ending): void {
  const maintenance = program
    .command("maintenance")
    .description("keep the valves of a vessel, or one valve, closed while you work, until you lift it");
  const refill = program
    .command("refill")
    .description("keep a vessel's valves closed and its low pressure silent while you refill it");

  for (const [action, description] of [
    ["begin", "close and lock; it stands over restarts"],
    ["end", "lift the lock"],
  ] as const) {
    const command = maintenance
      .command(action)
      .description(description)
      .addArgument(new Argument("<kind>", "what you work at").choices(["vessel", "valve"]))
      .argument("<name>", "its name in the config")
      .requiredOption("--config <file>", "the site's config");
    if (action === "begin") command.option("--note <text>", "a remark of your own", "");
    command.action((kind: string, id: string, options: { config: string; note?: string }) =>
      ending(localCommand(options.config, request(action, "maintenance lock", { kind, id }, options.note))),
    );
  }
  for (const [action, description] of [
    ["begin", "before the vessel is opened; `journal charge-closed` ends it"],
    ["end", "where no new charge is recorded"],
  ] as const) {
    const command = refill
      .command(action)
      .description(description)
      .argument("<vessel>", "its name in the config")
      .requiredOption("--config <file>", "the site's config");
    if (action === "begin") command.option("--note <text>", "a remark of your own", "");
    command.action((id: string, options: { config: string; note?: string }) =>
      ending(
        localCommand(
          options.config,
          request(action, "refill in progress", { kind: "vessel", id }, options.note),
        ),
      ),
    );
  }
}

function request(
  action: "begin" | "end",
  kind: string,
  subject: { readonly kind: string; readonly id: string },
  note = "",
): Readonly<Record<string, unknown>> {
  return action === "begin"
    ? { command: "hold-set", kind, subject, note }
    : { command: "hold-lift", kind, subject };
}
