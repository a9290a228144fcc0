import { type Command, InvalidArgumentError } from "commander";
import { standardOutputLines } from "./line-output.js";
import { planOutlooks } from "./plan-outlooks.js";
import type { PlanOptions } from "./plan-options.js";
import { planCommand } from "./plan.js";

/** Adds the command `plan`. */
export function addPlanCommand(program: Command, ending: (code: Promise<number>) => Promise<void>): void {
  program
    .command("plan")
    .description("what to weigh for a charge, and what pressure it makes")
    .requiredOption("--config <file>", "the site's config, or a file with nothing but its vessels", once)
    .option("--vessel <name>", "which vessel, where the config has several", once)
    .option("--days <count>", "how many days of dosing it should last", once)
    .option("--bicarbonate <g>", "or the sodium bicarbonate itself", once)
    .option("--sugar <g>", "or a charge of table sugar and yeast, in --water", once)
    .option(
      "--candidates <recipe,...>",
      "or compare recipes: 100, 100/82/0.5, 100/82/0.3+0.2ice, 90sugar/1",
      once,
    )
    .option("--acid <form>", "anhydrous (the default) or monohydrate", once)
    .option("--acid-excess <ratio>", "acid beyond the exact proportion, by default 0.08", once)
    .option("--water <kg>", "water, by default a quarter of the vessel, or half of it with sugar", once)
    .option("--ice <kg>", "ice in place of water, or beside --water", once)
    .option("--ice-piece <mm>", "the widest piece of the ice, held against the vessel's neck", once)
    .option("--residual <L>", "liquor of the config's last charge that was left in", once)
    .option("--room <degC>", "temperature of the room, by default 20", once)
    .option("--hottest <degC>", "the hottest day, by default 40", once)
    .option("--use-per-day <g>", "what the tanks take a day: 2.5, 2.5+-0.4, or loach=1.5,shrimp=1", once)
    .option(
      "--working-from <bar>",
      "with sugar: where your working range begins, by default what the regulator needs",
      once,
    )
    .option("--price-bicarbonate <price>", "a kilogram of it, in place of the config's", once)
    .option("--price-acid <price>", "a kilogram of it, in place of the config's", once)
    .option("--price-sugar <price>", "a kilogram of it, in place of the config's", once)
    .option("--currency <name>", "of the prices", once)
    .option("--json", "one JSON object")
    .action((options: PlanOptions) =>
      ending(
        planCommand(options, {
          write: standardOutputLines(),
          outlooks: (vessel) =>
            planOutlooks({
              room_degC: options.room === undefined ? undefined : Number(options.room),
              vessel,
            }),
        }),
      ),
    );
}

/** Of two values the last would win without a word, and it may be the wrong one. */
function once(value: string, previous: string | undefined): string {
  if (previous !== undefined) {
    throw new InvalidArgumentError(`it was given before, as ${previous}; give it once`);
  }
  return value;
}
