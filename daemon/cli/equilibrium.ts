import { z } from "zod";
import { answerEquilibriumQuery, type EquilibriumQuery } from "../../lib/vessel/equilibrium-query.js";

/** One bad field of a line, in the shape that lib's refusals have too. */
export interface EquilibriumLineError {
  readonly quantity: string;
  readonly value: unknown;
  readonly unit: string;
  readonly minimum: number | null;
  readonly maximum: number | null;
  readonly message?: string;
}

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

function isNumberField(name: string): name is NumberField {
  return Object.hasOwn(numbers, name);
}

function fieldError(field: string, value: unknown, message: string): EquilibriumLineError {
  const known = isNumberField(field) ? numbers[field] : undefined;
  return {
    quantity: known?.quantity ?? field,
    value: value ?? null,
    unit: known?.unit ?? "",
    minimum: known?.minimum ?? null,
    maximum: known?.maximum ?? null,
    message: `${field}: ${message}`,
  };
}

function lineErrors(error: z.ZodError, given: unknown): readonly EquilibriumLineError[] {
  const valueOf = (field: string): unknown =>
    typeof given === "object" && given !== null
      ? Object.entries(given).find(([name]) => name === field)?.[1]
      : undefined;
  return error.issues.flatMap((issue) => {
    if (issue.code === "unrecognized_keys") {
      return issue.keys.map((key) => fieldError(key, valueOf(key), "no such field"));
    }
    const field = String(issue.path[0] ?? "line");
    return [fieldError(field, field === "line" ? given : valueOf(field), issue.message)];
  });
}

function refusal(errors: readonly EquilibriumLineError[]): string {
  const [error, ...further] = errors;
  return JSON.stringify(further.length === 0 ? { error } : { error, furtherErrors: further });
}

function parseLine(line: string): EquilibriumQuery | readonly EquilibriumLineError[] {
  let given: unknown;
  try {
    given = JSON.parse(line);
  } catch {
    return [fieldError("line", line.slice(0, 200), "not a JSON object")];
  }
  const parsed = lineSchema.safeParse(given);
  if (!parsed.success) return lineErrors(parsed.error, given);
  const { data } = parsed;
  return {
    charge: {
      vesselVolume_L: data.vesselVolume_L,
      water_kg: data.water_kg,
      acid:
        data.citricAcidMonohydrate_g === undefined
          ? { kind: "citric-acid-anhydrous", mass_g: data.citricAcidAnhydrous_g ?? 0 }
          : { kind: "citric-acid-monohydrate", mass_g: data.citricAcidMonohydrate_g },
      sodiumBicarbonate_g: data.sodiumBicarbonate_g,
      sealedAt_degC: data.sealedAt_degC,
    },
    temperature_degC: data.temperature_degC,
    removedCo2_mol: data.removedCo2_mol,
    withdrawal: data.withdrawal,
  };
}

/** The answer to one line: the equilibrium, or `error` with what was wrong. */
export function answerLine(line: string): string {
  const query = parseLine(line);
  if (!("charge" in query)) return refusal(query);
  const answered = answerEquilibriumQuery(query);
  return answered.kind === "equilibrium"
    ? JSON.stringify({ ...answered, kind: undefined })
    : JSON.stringify({ error: { ...answered, kind: undefined, value: answered.value ?? null } });
}

/**
 * `equilibrium --ndjson`: a question a line, an answer a line, in order. A line that cannot be answered gets an `error`
 * and the next one is read; blank lines are passed over.
 */
export async function runEquilibrium(
  lines: AsyncIterable<string>,
  write: (line: string) => void,
): Promise<void> {
  for await (const line of lines) {
    if (line.trim() !== "") write(answerLine(line));
  }
}
