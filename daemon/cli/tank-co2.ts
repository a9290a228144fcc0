import { z } from "zod";
import { OutOfValidRangeError } from "../../lib/errors.js";
import { co2FromHardness, hardnessRanges, type HardnessReading } from "../../lib/tank/co2-from-hardness.js";
import { conductivityRange } from "../../lib/tank/ionic-strength.js";
import { answerLines, readLine, refusal } from "./ndjson-lines.js";

/** Name, unit and span of each number of a line. */
const numbers = {
  pH: hardnessRanges.pH,
  kh_dKH: hardnessRanges.kh_dKH,
  temperature_degC: hardnessRanges.temperature_degC,
  conductivity_uSPerCm: conductivityRange,
  phUncertainty: hardnessRanges.phUncertainty,
  khUncertainty_dKH: hardnessRanges.khUncertainty_dKH,
} as const;

const number = (field: keyof typeof numbers) =>
  z.number().min(numbers[field].minimum).max(numbers[field].maximum);

const lineSchema = z.strictObject({
  pH: number("pH"),
  kh_dKH: number("kh_dKH"),
  temperature_degC: number("temperature_degC"),
  conductivity_uSPerCm: number("conductivity_uSPerCm").optional(),
  phUncertainty: number("phUncertainty").default(0.05),
  khUncertainty_dKH: number("khUncertainty_dKH").default(0.5),
});

function readingOf({ conductivity_uSPerCm, ...given }: z.infer<typeof lineSchema>): HardnessReading {
  return conductivity_uSPerCm === undefined ? given : { ...given, conductivity_uSPerCm };
}

/** The answer to one line: CO2 with its interval and the rule of thumb beside it, or `error` with what was wrong. */
export function answerTankLine(line: string): string {
  const read = readLine(line, lineSchema, numbers);
  if (read.kind === "refused") return read.answer;
  try {
    const estimate = co2FromHardness(readingOf(read.question));
    const { co2_mgPerL, co2Low80_mgPerL, co2High80_mgPerL, ruleOfThumb_mgPerL } = estimate;
    return JSON.stringify({ co2_mgPerL, co2Low80_mgPerL, co2High80_mgPerL, ruleOfThumb_mgPerL });
  } catch (error) {
    if (!(error instanceof OutOfValidRangeError)) throw error;
    const { quantity, value, unit, minimum, maximum, message } = error;
    return refusal([{ quantity, value, unit, minimum, maximum, message }]);
  }
}

/** `tank-co2 --ndjson`: a reading a line, its CO2 a line, in order. */
export async function runTankCo2(lines: AsyncIterable<string>, write: (line: string) => void): Promise<void> {
  await answerLines(lines, write, answerTankLine);
}
