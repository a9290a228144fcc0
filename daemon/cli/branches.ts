import { InvalidArgumentError, type Command } from "commander";
import { decimal } from "./journal.js";
import { localCommand } from "./local-command.js";

interface BranchOptions {
  readonly config: string;
  readonly tanks: number;
  readonly vessel?: string;
  readonly backPressure?: number;
  readonly oneNeedle?: boolean;
  readonly json?: boolean;
}

/** `fizzward branches`: how long the charge lasts with more tanks on the splitter. */
export function addBranchesCommand(
  program: Command,
  ending: (exitCode: Promise<number>) => Promise<void>,
): void {
  program
    .command("branches")
    .description(
      "how long what is left lasts with 1, 2 ... tanks on the vessel, and whether the working pressure suffices",
    )
    .requiredOption("--config <file>", "the site's config")
    .requiredOption(
      "--tanks <count>",
      "up to so many, 1 to 16; beyond the config's they are taken like these",
      tankCount,
    )
    .option("--vessel <name>", "only this one")
    .option(
      "--back-pressure <bar>",
      "what diffuser, check valve and water need in each line, by default 0.3",
      decimal,
    )
    .option("--one-needle", "a single needle valve before the splitter, in place of one in every line")
    .option("--json", "one JSON object")
    .action(({ config, tanks, vessel, backPressure, oneNeedle, json }: BranchOptions) =>
      ending(
        localCommand(config, {
          command: "branches-outlook",
          tanks,
          vessel,
          backPressure_bar: backPressure,
          oneNeedle,
          json,
        }),
      ),
    );
}

/** A whole number of tanks. */
export function tankCount(text: string): number {
  const value = Number(text);
  if (/^\d+$/.test(text) && value >= 1 && value <= 16) return value;
  throw new InvalidArgumentError("a whole number from 1 to 16 is needed");
}
