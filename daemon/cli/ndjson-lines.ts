import type { z } from "zod";

/** Name, unit and widest span of a number that a line may carry. */
export interface NumberSpan {
  readonly quantity: string;
  readonly unit: string;
  readonly minimum: number;
  readonly maximum: number;
}

/** One bad field of a line, in the shape that lib's refusals have too. */
export interface LineError {
  readonly quantity: string;
  readonly value: unknown;
  readonly unit: string;
  readonly minimum: number | null;
  readonly maximum: number | null;
  readonly message?: string;
}

export type ReadLine<Question> =
  | { readonly kind: "question"; readonly question: Question }
  | { readonly kind: "refused"; readonly answer: string };

type Spans = Readonly<Record<string, NumberSpan>>;

/** One line of newline-delimited JSON as a question of the schema, or the answer that names all that is wrong with it. */
export function readLine<Question>(
  line: string,
  schema: z.ZodType<Question>,
  spans: Spans,
): ReadLine<Question> {
  let given: unknown;
  try {
    given = JSON.parse(line);
  } catch {
    return {
      kind: "refused",
      answer: refusal([fieldError(spans, "line", line.slice(0, 200), "not a JSON object")]),
    };
  }
  const parsed = schema.safeParse(given);
  return parsed.success
    ? { kind: "question", question: parsed.data }
    : { kind: "refused", answer: refusal(lineErrors(spans, parsed.error, given)) };
}

/** The answer to a question that cannot be answered: the first error, and the further ones where there are any. */
export function refusal(errors: readonly LineError[]): string {
  const [error, ...further] = errors;
  return JSON.stringify(further.length === 0 ? { error } : { error, furtherErrors: further });
}

/**
 * A question a line, an answer a line, in order. A line that cannot be answered gets an `error` and the next one is read;
 * blank lines are passed over.
 */
export async function answerLines(
  lines: AsyncIterable<string>,
  write: (line: string) => void,
  answer: (line: string) => string,
): Promise<void> {
  for await (const line of lines) {
    if (line.trim() !== "") write(answer(line));
  }
}

function fieldError(spans: Spans, field: string, value: unknown, message: string): LineError {
  const known = Object.hasOwn(spans, field) ? spans[field] : undefined;
  return {
    quantity: known?.quantity ?? field,
    value: value ?? null,
    unit: known?.unit ?? "",
    minimum: known?.minimum ?? null,
    maximum: known?.maximum ?? null,
    message: `${field}: ${message}`,
  };
}

function lineErrors(spans: Spans, error: z.ZodError, given: unknown): readonly LineError[] {
  const valueOf = (field: string): unknown =>
    typeof given === "object" && given !== null
      ? Object.entries(given).find(([name]) => name === field)?.[1]
      : undefined;
  return error.issues.flatMap((issue) => {
    if (issue.code === "unrecognized_keys") {
      return issue.keys.map((key) => fieldError(spans, key, valueOf(key), "no such field"));
    }
    const field = String(issue.path[0] ?? "line");
    return [fieldError(spans, field, field === "line" ? given : valueOf(field), issue.message)];
  });
}
