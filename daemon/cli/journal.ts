import { InvalidArgumentError, Option, type Command } from "commander";
import { bufferNames, degassingMethods, dropCheckerColours } from "../../lib/journal/journal-entry.js";
import { pressureUnits } from "../../lib/quantities/units.js";
import { asColour } from "../journal/entered-entry.js";
import { localCommand } from "./local-command.js";

type Ending = (exitCode: Promise<number>) => Promise<void>;

/** Words of the shell are joined by hyphens: "aerated-a-day". */
const waysOfDegassing = new Map(degassingMethods.map((method) => [method.replaceAll(" ", "-"), method]));

/** What else stands on the faces of gauges. */
const unitsOnGauges: Readonly<Record<string, string>> = {
  "kgf/cm²": "kgf/cm2",
  "kg/cm2": "kgf/cm2",
  "kg/cm²": "kgf/cm2",
};

interface Common {
  readonly config: string;
  readonly at?: string;
  readonly note?: string;
  readonly sure?: boolean;
}

interface OfTank extends Common {
  readonly tank?: string;
}

interface OfVessel extends Common {
  readonly vessel?: string;
}

/** `fizzward journal ...`: what a person saw, measured or did, told to the running daemon. */
export function addJournalCommands(program: Command, ending: Ending): void {
  const journal = program
    .command("journal")
    .description("write down what you saw, measured or did at tank and vessel, and look it up");

  const entry = (name: string, description: string): Command =>
    journal
      .command(name)
      .description(description)
      .requiredOption("--config <file>", "the site's config")
      .option("--at <time>", "when it was, in local time: 2026-05-01T18:00; left out, now")
      .option("--note <text>", "a remark of your own")
      .option("--sure", "stand by a value that was refused as unusual");
  const ofTank = (name: string, description: string): Command =>
    entry(name, description).option("--tank <name>", "which tank, where there are several");
  const ofVessel = (name: string, description: string): Command =>
    entry(name, description).option("--vessel <name>", "which vessel, where there are several");
  const enter = (options: Common, fact: Readonly<Record<string, unknown>>): Promise<void> => {
    const { config, at, note, sure } = options;
    return ending(localCommand(config, { command: "journal-enter", entry: { ...fact, at, note, sure } }));
  };

  ofTank("kh", "carbonate hardness by a test kit, in dKH")
    .argument("<dKH>", "what the test showed", decimal)
    .option("--uncertainty <dKH>", "how far the test may be off", decimal)
    .action((kh_dKH: number, options: OfTank & { uncertainty?: number }) =>
      enter(options, {
        kind: "kh test",
        tank: options.tank,
        kh_dKH,
        khUncertainty_dKH: options.uncertainty,
      }),
    );

  ofTank("degassed-ph", "pH of tank water that was rid of its CO2")
    .argument("<pH>", "what the probe showed", decimal)
    .addOption(
      new Option("--how <way>", "how it was rid of it")
        .choices([...waysOfDegassing.keys()])
        .makeOptionMandatory(),
    )
    .option("--room-co2 <ppm>", "CO2 of the room's air, where a monitor tells", decimal)
    .option("--temperature <degC>", "of that water", decimal)
    .action((pH: number, options: OfTank & { how: string; roomCo2?: number; temperature?: number }) =>
      enter(options, {
        kind: "degassed pH",
        tank: options.tank,
        pH,
        how: waysOfDegassing.get(options.how),
        roomCo2_ppm: options.roomCo2,
        temperature_degC: options.temperature,
      }),
    );

  ofTank("drop-checker", `its colour: ${dropCheckerColours.join(", ")}`)
    .argument("<colour>", "the colour that you see", (text) => oneOf(dropCheckerColours)(asColour(text)))
    .action((colour: string, options: OfTank) =>
      enter(options, { kind: "drop checker", tank: options.tank, colour }),
    );

  entry("calibration", "what a pH probe showed in its buffers, before any correction")
    .argument("<buffer=shown...>", "such as 7.00=7.08 4.01=4.11", bufferReading)
    .requiredOption("--temperature <degC>", "of the buffers", decimal)
    .option("--sensor <name>", "which pH sensor, where there are several")
    .action((readings: readonly BufferShown[], options: Common & { temperature: number; sensor?: string }) =>
      enter(options, {
        kind: "calibration",
        sensor: options.sensor,
        buffers: readings.map((reading) => ({ ...reading, temperature_degC: options.temperature })),
      }),
    );

  ofTank("water-change", "how much water was changed, in litres")
    .argument("<L>", "litres", decimal)
    .action((changed_L: number, options: OfTank) =>
      enter(options, { kind: "water change", tank: options.tank, changed_L }),
    );

  entry("bubble-count", "bubbles in the bubble counter, a minute")
    .argument("<bubbles>", "bubbles a minute", decimal)
    .option("--valve <name>", "which valve it stands behind, where there are several")
    .action((bubbles_perMin: number, options: Common & { valve?: string }) =>
      enter(options, { kind: "bubble count", valve: options.valve, bubbles_perMin }),
    );

  ofVessel("gauge", "the vessel's pressure, read off its gauge by eye")
    .argument("<pressure>", "what it shows", decimal)
    .argument("<unit>", pressureUnits.join(", "), pressureUnit)
    .option("--temperature <degC>", "of the vessel, or of its room", decimal)
    .action((pressure: number, unit: string, options: OfVessel & { temperature?: number }) =>
      enter(options, {
        kind: "gauge reading",
        vessel: options.vessel,
        pressure,
        unit,
        temperature_degC: options.temperature,
      }),
    );

  ofVessel("weighing", "the vessel on the scale, with all that hangs on it")
    .argument("<weight>", "what the scale shows", decimal)
    .argument("[unit]", "g or kg", oneOf(["g", "kg"]), "g")
    .action((weight: number, unit: string, options: OfVessel) =>
      enter(options, {
        kind: "weighing",
        vessel: options.vessel,
        vesselMass_g: unit === "kg" ? Number((weight * 1000).toPrecision(12)) : weight,
      }),
    );

  ofVessel("charge-closed", "a refill: what was weighed in, when the vessel was closed")
    .requiredOption("--bicarbonate <g>", "sodium bicarbonate", decimal)
    .addOption(
      new Option("--acid-anhydrous <g>", "citric acid, anhydrous")
        .argParser(decimal)
        .conflicts("acidMonohydrate"),
    )
    .option("--acid-monohydrate <g>", "or citric acid monohydrate", decimal)
    .addOption(new Option("--water <kg>", "water").argParser(decimal).conflicts("ice"))
    .option("--ice <kg>", "or ice, or ice and water together", decimal)
    .option("--residual <L>", "liquor of the last charge that was left in", decimal)
    .requiredOption("--temperature <degC>", "of the vessel when it was closed", decimal)
    .option("--planned-bicarbonate <g>", "what the plan said to weigh, with --planned-acid", decimal)
    .option("--planned-acid <g>", "and its citric acid, in the form that was weighed", decimal)
    .action((options: ChargeOptions, command: Command) => {
      if (options.acidAnhydrous === undefined && options.acidMonohydrate === undefined) {
        command.error("say the citric acid: --acid-anhydrous <g> or --acid-monohydrate <g>");
      }
      if (options.water === undefined && options.ice === undefined) {
        command.error("say the water: --water <kg> or --ice <kg>");
      }
      return enter(options, {
        kind: "charge closed",
        vessel: options.vessel,
        sodiumBicarbonate_g: options.bicarbonate,
        citricAcidAnhydrous_g: options.acidAnhydrous,
        citricAcidMonohydrate_g: options.acidMonohydrate,
        water_kg: options.water ?? options.ice,
        closedWith: options.ice === undefined ? "water" : "ice",
        residualLiquor_L: options.residual,
        sealedAt_degC: options.temperature,
        plannedBicarbonate_g: options.plannedBicarbonate,
        plannedAcid_g: options.plannedAcid,
      });
    });

  ofVessel("regulator-set", "the working pressure behind the regulator, with gas flowing")
    .argument("<pressure>", "what its outlet gauge shows", decimal)
    .argument("<unit>", pressureUnits.join(", "), pressureUnit)
    .action((pressure: number, unit: string, options: OfVessel) =>
      enter(options, { kind: "regulator set", vessel: options.vessel, pressure, unit }),
    );

  journal
    .command("list")
    .description("the newest entries, withdrawn ones too")
    .requiredOption("--config <file>", "the site's config")
    .option("--subject <name>", "only of this tank, vessel, valve or sensor")
    .option("--since <time>", "only from this day or local time on: 2026-05-01")
    .option("--newest <count>", "at most so many", whole, 50)
    .option("--json", "one JSON list")
    .action((options: { config: string; subject?: string; since?: string; newest: number; json?: boolean }) =>
      ending(
        localCommand(options.config, {
          command: "journal-list",
          subject: options.subject,
          since: options.since,
          newest: options.newest,
          json: options.json === true,
        }),
      ),
    );

  journal
    .command("withdraw")
    .description("say that an entry was wrong: it stays written and counts no more")
    .argument("<entry>", "its number in the list", whole)
    .requiredOption("--config <file>", "the site's config")
    .action((entryId: number, options: { config: string }) =>
      ending(localCommand(options.config, { command: "journal-withdraw", entryId })),
    );
}

interface ChargeOptions extends OfVessel {
  readonly bicarbonate: number;
  readonly acidAnhydrous?: number;
  readonly acidMonohydrate?: number;
  readonly water?: number;
  readonly ice?: number;
  readonly residual?: number;
  readonly temperature: number;
  readonly plannedBicarbonate?: number;
  readonly plannedAcid?: number;
}

interface BufferShown {
  readonly buffer: string;
  readonly shown: number;
}

export function decimal(text: string): number {
  if (/^[+-]?(\d+(\.\d*)?|\.\d+)$/.test(text)) return Number(text);
  throw new InvalidArgumentError(
    /^\d+,\d+$/.test(text) ? `write it with a point: ${text.replace(",", ".")}` : "a number is needed",
  );
}

function whole(text: string): number {
  const value = Number(text);
  if (/^\d+$/.test(text) && value >= 1) return value;
  throw new InvalidArgumentError("a whole number from 1 on is needed");
}

function oneOf(names: readonly string[]): (text: string) => string {
  return (text) => {
    if (names.includes(text)) return text;
    throw new InvalidArgumentError(`one of ${names.join(", ")} is needed`);
  };
}

export function pressureUnit(text: string): string {
  const written = text.toLowerCase();
  const aliased = unitsOnGauges[written] ?? written;
  // "mpa" is the pressure of gauges: nobody prints millipascals on one.
  const known = pressureUnits.find((unit) => unit.toLowerCase() === aliased);
  if (known !== undefined) return known;
  throw new InvalidArgumentError(`one of ${pressureUnits.join(", ")} is needed`);
}

function bufferReading(text: string, before: readonly BufferShown[] | undefined): readonly BufferShown[] {
  const [written = "", shown = ""] = text.split("=");
  const buffer = bufferNames.find((name) => Number(name) === Number(written));
  if (buffer === undefined) {
    throw new InvalidArgumentError(
      `write buffer=shown, such as 7.00=7.08; buffers are ${bufferNames.join(", ")}`,
    );
  }
  return [...(before ?? []), { buffer, shown: decimal(shown) }];
}
