import { OutOfValidRangeError } from "../../lib/errors.js";
import { saturatedCo2_mgPerL } from "../../lib/tank/air-equilibrium.js";
import { defaultCo2Limits } from "../../lib/tank/co2-bands.js";
import {
  co2FromHardness,
  type HardnessCaution,
  type HardnessEstimate,
  type HardnessReading,
} from "../../lib/tank/co2-from-hardness.js";
import { hardnessApart, type HardnessApart, type OtherBases } from "../../lib/tank/other-bases.js";

/** What was typed, word for word. */
export interface TankCo2Options {
  readonly pH?: string;
  readonly kh?: string;
  readonly temperature?: string;
  readonly conductivity?: string;
  readonly salinity?: string;
  readonly phUncertainty?: string;
  readonly khUncertainty?: string;
  readonly phosphate?: string;
  readonly organicCarbon?: string;
  readonly boron?: string;
}

/** An option that cannot be taken as it was typed. */
class TankOptionError extends Error {
  override readonly name = "TankOptionError";
}

const cautionTexts: Readonly<Record<HardnessCaution, string>> = {
  "kh within its uncertainty":
    "the hardness is no larger than the test's own error: measure it in a doubled or tripled sample, or go by the pH drop or a drop checker",
  brackish: "in brackish water borate counts as hardness too, and the figure is less sure than its interval",
  "hardly any co2": "at this pH hardly any CO2 is left, and small errors of the pH are large ones of the CO2",
};

/**
 * CO2 of a tank for a person to read: the estimate with its interval, the rule of thumb and how far it is off, cautions.
 * @returns the exit code: 0 for an estimate, 1 for an option that is missing or cannot be taken
 */
export function tankCo2Command(options: TankCo2Options, write: (line: string) => void): number {
  try {
    const reading = readingOf(options);
    const bases = basesOf(options);
    const apart = bases === undefined ? undefined : hardnessApart({ ...reading, bases });
    tankCo2Text(co2FromHardness(reading), apart, reading).forEach((line) => write(line));
    return 0;
  } catch (error) {
    if (!(error instanceof TankOptionError) && !(error instanceof OutOfValidRangeError)) throw error;
    write(error.message);
    return 1;
  }
}

function tankCo2Text(
  estimate: HardnessEstimate,
  apart: HardnessApart | undefined,
  { temperature_degC }: HardnessReading,
): readonly string[] {
  const { co2_mgPerL, co2Low80_mgPerL, co2High80_mgPerL } = estimate;
  const off_percent = Math.round(100 * estimate.ruleOfThumbError_ratio);
  const direction =
    off_percent === 0 ? "the same" : `${Math.abs(off_percent)} % ${off_percent < 0 ? "low" : "high"}`;
  return [
    row("CO2", `${twoDigits(co2_mgPerL)} mg/L`),
    row("80 % interval", `${twoDigits(co2Low80_mgPerL)} to ${twoDigits(co2High80_mgPerL)} mg/L`),
    row(
      "rule of thumb",
      `${twoDigits(estimate.ruleOfThumb_mgPerL)} mg/L by 3 x KH x 10^(7 - pH): ${direction} in this water, not used`,
    ),
    ...(apart === undefined ? [] : apartRows(co2_mgPerL, apart)),
    "",
    ...estimate.cautions.map((caution) => `Note: ${cautionTexts[caution]}.`),
    "Note: tannins, phosphate and borate count as hardness in the test and make this read high. A drop checker does not",
    "share that error; the pH drop against degassed water has no error by tannins, but reads low by a phosphate buffer.",
    ...dangerLines(estimate),
    ...impossibleLines(co2_mgPerL, temperature_degC),
  ];
}

const watch =
  "Watch their breathing, above all shrimp and before dawn; where they gasp, first close the CO2 and aerate strongly.";

/** By the daemon's own default bands: those of the figure itself, closing by the interval's upper end. */
function dangerLines({ co2_mgPerL, co2High80_mgPerL }: HardnessEstimate): readonly string[] {
  const { co2TargetHigh_mgPerL, co2Alarm_mgPerL, co2Close_mgPerL } = defaultCo2Limits;
  if (co2_mgPerL > co2Close_mgPerL) {
    return [
      `DANGER: above ${co2Close_mgPerL} mg/L, where the daemon closes the valve: fish can suffocate. Close the CO2 now, by hand at the vessel`,
      "where you are not sure of the valve, aerate strongly and look at the animals; then test pH and KH again.",
    ];
  }
  const mayClose =
    co2High80_mgPerL > co2Close_mgPerL
      ? [
          `It may be ${twoDigits(co2High80_mgPerL)}, above the ${co2Close_mgPerL} mg/L from which the daemon closes the valve.`,
        ]
      : [];
  if (co2_mgPerL > co2Alarm_mgPerL) {
    return [
      `ALARM: above ${co2Alarm_mgPerL} mg/L fish breathe fast, and low oxygen at night is a danger to them. Turn the CO2 down.`,
      ...mayClose,
      watch,
    ];
  }
  if (co2High80_mgPerL < co2TargetHigh_mgPerL) return [];
  return [
    `Caution: the interval reaches ${co2TargetHigh_mgPerL} mg/L, from where animals may suffer.`,
    ...mayClose,
    watch,
  ];
}

function impossibleLines(co2_mgPerL: number, temperature_degC: number): readonly string[] {
  const most_mgPerL = saturatedCo2_mgPerL(temperature_degC);
  if (co2_mgPerL <= most_mgPerL) return [];
  return [
    `Impossible: water at ${temperature_degC} degC under pure CO2 holds ${Number(most_mgPerL.toPrecision(3))} mg/L, and no open tank more. The pH, the KH or a unit`,
    "is wrong: calibrate the probe, test again. Until then take the CO2 for too high, not for harmless.",
  ];
}

function apartRows(co2_mgPerL: number, apart: HardnessApart): readonly string[] {
  const { carbonateHardness_dKH, co2Excess_ratio } = apart;
  return [
    row(
      "other bases",
      `${twoDigits(apart.otherHardness_dKH)} dKH of the test's figure; carbonate is ${twoDigits(carbonateHardness_dKH)} dKH`,
    ),
    row(
      "without them",
      `${twoDigits(co2_mgPerL / (1 + co2Excess_ratio))} mg/L; the figure above is ${Math.round(100 * co2Excess_ratio)} % high`,
    ),
  ];
}

function readingOf(options: TankCo2Options): HardnessReading {
  const conductivity_uSPerCm = maybe(options.conductivity, "--conductivity");
  const salinity_gPerKg = maybe(options.salinity, "--salinity");
  const phUncertainty = maybe(options.phUncertainty, "--ph-uncertainty");
  const khUncertainty_dKH = maybe(options.khUncertainty, "--kh-uncertainty");
  return {
    pH: needed(options.pH, "--pH"),
    kh_dKH: needed(options.kh, "--kh"),
    temperature_degC: needed(options.temperature, "--temperature"),
    ...(conductivity_uSPerCm === undefined ? {} : { conductivity_uSPerCm }),
    ...(salinity_gPerKg === undefined ? {} : { salinity_gPerKg }),
    ...(phUncertainty === undefined ? {} : { phUncertainty }),
    ...(khUncertainty_dKH === undefined ? {} : { khUncertainty_dKH }),
  };
}

function basesOf(options: TankCo2Options): OtherBases | undefined {
  const phosphate_mgPerL = maybe(options.phosphate, "--phosphate");
  const dissolvedOrganicCarbon_mgPerL = maybe(options.organicCarbon, "--organic-carbon");
  const boron_mgPerL = maybe(options.boron, "--boron");
  if ((phosphate_mgPerL ?? dissolvedOrganicCarbon_mgPerL ?? boron_mgPerL) === undefined) return undefined;
  return {
    ...(phosphate_mgPerL === undefined ? {} : { phosphate_mgPerL }),
    ...(dissolvedOrganicCarbon_mgPerL === undefined ? {} : { dissolvedOrganicCarbon_mgPerL }),
    ...(boron_mgPerL === undefined ? {} : { boron_mgPerL }),
  };
}

function needed(text: string | undefined, option: string): number {
  const value = maybe(text, option);
  if (value === undefined) {
    throw new TankOptionError(`${option} is needed, as in: tank-co2 --pH 6.6 --kh 4 --temperature 25`);
  }
  return value;
}

function maybe(text: string | undefined, option: string): number | undefined {
  if (text === undefined) return undefined;
  const value = Number(text);
  if (text.trim() === "" || !Number.isFinite(value)) {
    throw new TankOptionError(`${option} needs a number, not "${text.slice(0, 40)}"`);
  }
  return value;
}

function row(label: string, text: string): string {
  return `${label.padEnd(15)}${text}`;
}

/** Two significant digits: no CO2 of a tank is known better. */
function twoDigits(value: number): string {
  return Number(value.toPrecision(2)).toString();
}
