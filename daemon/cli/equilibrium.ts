import { z } from "zod";
import { answerEquilibriumQuery, type EquilibriumQuery } from "../../lib/vessel/equilibrium-query.js";
import { answerLines, readLine } from "./ndjson-lines.js";

/** Name, unit and widest span of each number; what a given vessel allows within it is lib's to say. */
const numbers = {
  citricAcidAnhydrous_g: { quantity: "citric acid", unit: "g", minimum: 0, maximum: 110_000 },
  citricAcidMonohydrate_g: { quantity: "citric acid", unit: "g", minimum: 0, maximum: 110_000 },
  sodiumBicarbonate_g: { quantity: "sodium bicarbonate", unit: "g", minimum: 0, maximum: 110_000 },
  water_kg: { quantity: "water", unit: "kg", minimum: 0, maximum: 50 },
  vesselVolume_L: { quantity: "vessel volume", unit: "L", minimum: 0.05, maximum: 50 },
  sealedAt_degC: { quantity: "sealing temperature", unit: "degC", minimum: -20, maximum: 50 },
  temperature_degC: { quantity: "temperature", unit: "degC", minimum: 0, maximum: 45 },
  removedCo2_mol: { quantity: "removed CO2", unit: "mol", minimum: 0, maximum: 1000 },
} as const;

type NumberField = keyof typeof numbers;

const number = (field: NumberField) => z.number().min(numbers[field].minimum).max(numbers[field].maximum);

const lineSchema = z
  .strictObject({
    citricAcidAnhydrous_g: number("citricAcidAnhydrous_g").optional(),
    citricAcidMonohydrate_g: number("citricAcidMonohydrate_g").optional(),
    sodiumBicarbonate_g: number("sodiumBicarbonate_g"),
    water_kg: number("water_kg"),
    vesselVolume_L: number("vesselVolume_L"),
    sealedAt_degC: number("sealedAt_degC"),
    temperature_degC: number("temperature_degC"),
    removedCo2_mol: number("removedCo2_mol").default(0),
    withdrawal: z.enum(["co2-only", "headspace"]).default("headspace"),
  })
  .refine(
    (line) => (line.citricAcidAnhydrous_g === undefined) !== (line.citricAcidMonohydrate_g === undefined),
    {
      path: ["citricAcidAnhydrous_g"],
      error: "give either citricAcidAnhydrous_g or citricAcidMonohydrate_g",
    },
  );

function queryOf(line: z.infer<typeof lineSchema>): EquilibriumQuery {
  return {
    charge: {
      vesselVolume_L: line.vesselVolume_L,
      water_kg: line.water_kg,
      acid:
        line.citricAcidMonohydrate_g === undefined
          ? { kind: "citric-acid-anhydrous", mass_g: line.citricAcidAnhydrous_g ?? 0 }
          : { kind: "citric-acid-monohydrate", mass_g: line.citricAcidMonohydrate_g },
      sodiumBicarbonate_g: line.sodiumBicarbonate_g,
      sealedAt_degC: line.sealedAt_degC,
    },
    temperature_degC: line.temperature_degC,
    removedCo2_mol: line.removedCo2_mol,
    withdrawal: line.withdrawal,
  };
}

/** The answer to one line: the equilibrium, or `error` with what was wrong. */
export function answerLine(line: string): string {
  const read = readLine(line, lineSchema, numbers);
  if (read.kind === "refused") return read.answer;
  const answered = answerEquilibriumQuery(queryOf(read.question));
  return answered.kind === "equilibrium"
    ? JSON.stringify({ ...answered, kind: undefined })
    : JSON.stringify({ error: { ...answered, kind: undefined, value: answered.value ?? null } });
}

/** `equilibrium --ndjson`: a charge a line, its equilibrium a line, in order. */
export async function runEquilibrium(
  lines: AsyncIterable<string>,
  write: (line: string) => void,
): Promise<void> {
  await answerLines(lines, write, answerLine);
}
