import type { Command } from "commander";
import { pressureUnits } from "../../lib/quantities/units.js";
import { decimal, pressureUnit } from "./journal.js";
import { localCommand } from "./local-command.js";

interface Common {
  readonly config: string;
  readonly vessel?: string;
}

interface WithGauge extends Common {
  readonly gauge?: number;
  readonly unit: string;
  readonly temperature?: number;
}

/** `fizzward leak-test ...`: a vessel held closed until its gauge tells whether it leaks. */
export function addLeakTestCommands(
  program: Command,
  ending: (exitCode: Promise<number>) => Promise<void>,
): void {
  const leakTest = program
    .command("leak-test")
    .description(
      "hold a vessel closed and say whether it leaks, by its pressure sensor or its gauge read by eye",
    );
  const ofVessel = (name: string, description: string): Command =>
    leakTest
      .command(name)
      .description(description)
      .requiredOption("--config <file>", "the site's config")
      .option("--vessel <name>", "which vessel, where there are several");
  const withGauge = (name: string, description: string): Command =>
    ofVessel(name, description)
      .option("--gauge <pressure>", "what the gauge shows now, read by eye", decimal)
      .option("--unit <unit>", `of the gauge: ${pressureUnits.join(", ")}`, pressureUnit, "bar")
      .option("--temperature <degC>", "of the vessel now, or of its room", decimal);

  withGauge("begin", "hold every valve of the vessel closed; the windows that are missed are told first")
    .requiredOption("--hours <h>", "how long, 1 to 240", decimal)
    .option(
      "--accuracy <pressure>",
      "with --gauge: how far one look may be off from another, half a division",
      decimal,
    )
    .option("--matters <g>", "the loss a day that matters to you, by default 1", decimal)
    .option("--yes", "do not ask")
    .action((options: WithGauge & { hours: number; accuracy?: number; matters?: number; yes?: boolean }) =>
      ending(
        localCommand(options.config, {
          command: "leak-test-begin",
          vessel: options.vessel,
          hold_h: options.hours,
          matters_gPerDay: options.matters,
          gauge: gaugeOf(options),
          accuracy: options.accuracy,
          agreed: options.yes === true,
        }),
      ),
    );
  ofVessel("status", "how far it is, and what could be told by now")
    .option("--json", "one JSON object")
    .action((options: Common & { json?: boolean }) =>
      ending(
        localCommand(options.config, {
          command: "leak-test-status",
          vessel: options.vessel,
          json: options.json === true,
        }),
      ),
    );
  withGauge("end", "end it before its time and hear the verdict")
    .option("--yes", "without a new look, where the gauge is read by eye")
    .action((options: WithGauge & { yes?: boolean }) =>
      ending(
        localCommand(options.config, {
          command: "leak-test-end",
          vessel: options.vessel,
          gauge: gaugeOf(options),
          agreed: options.yes === true,
        }),
      ),
    );
}

function gaugeOf({ gauge, unit, temperature }: WithGauge): Readonly<Record<string, unknown>> | undefined {
  return gauge === undefined ? undefined : { pressure: gauge, unit, temperature_degC: temperature };
}
