import { z } from "zod";
import { nearestName } from "../config/nearest-name.js";
import { longestLine } from "./file-lines.js";

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

/** Of an answer's errors so many are named after the first; the rest is counted. */
const mostFurtherErrors = 10;
/** Of a value or a name that is repeated in an answer. */
const longestEcho = 200;
/** Whoever nests deeper than this did not mean one of our fields. */
const deepestEcho = 20;

/** One line of newline-delimited JSON as a question of the schema, or the answer that names all that is wrong with it. */
export function readLine<Question>(
  line: string,
  schema: z.ZodType<Question>,
  spans: Spans,
): ReadLine<Question> {
  if (line.length > longestLine) {
    const message = `longer than ${String(longestLine)} characters`;
    return { kind: "refused", answer: refusal([fieldError(spans, "line", line, message)]) };
  }
  let given: unknown;
  try {
    given = JSON.parse(line);
  } catch {
    return { kind: "refused", answer: refusal([fieldError(spans, "line", line, "not a JSON object")]) };
  }
  const parsed = schema.safeParse(given);
  return parsed.success
    ? { kind: "question", question: parsed.data }
    : { kind: "refused", answer: refusal(lineErrors(spans, parsed.error, given, fieldsOf(schema))) };
}

/** The answer to a question that cannot be answered: the first error, some further ones, and how many there are besides. */
export function refusal(errors: readonly LineError[]): string {
  const [error, ...further] = errors;
  const unnamed = further.length - mostFurtherErrors;
  return JSON.stringify({
    error,
    ...(further.length === 0 ? {} : { furtherErrors: further.slice(0, mostFurtherErrors) }),
    ...(unnamed > 0 ? { unnamedErrors: unnamed } : {}),
  });
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
  const name = shortened(field);
  return {
    quantity: known?.quantity ?? name,
    value: echoed(value),
    unit: known?.unit ?? "",
    minimum: known?.minimum ?? null,
    maximum: known?.maximum ?? null,
    message: `${name}: ${message}`,
  };
}

/** A value as it was given where it is short, else the beginning of its text. */
function echoed(value: unknown): unknown {
  if (typeof value === "string") return shortened(value);
  if (typeof value !== "object" || value === null) return value ?? null;
  if (isDeep(value, deepestEcho)) return "nested too deeply to be repeated";
  const text = JSON.stringify(value);
  return text.length > longestEcho ? shortened(text) : value;
}

function shortened(text: string): string {
  return text.length > longestEcho ? `${text.slice(0, longestEcho)}...` : text;
}

function isDeep(value: unknown, levels: number): boolean {
  if (typeof value !== "object" || value === null) return false;
  return levels === 0 || Object.values(value).some((part) => isDeep(part, levels - 1));
}

function fieldsOf(schema: z.ZodType): readonly string[] {
  return schema instanceof z.ZodObject ? Object.keys(schema.shape) : [];
}

/** What was likely meant by a name that is none: what begins as it does, whatever its unit, or what is spelled nearly so. */
function proposal(given: string, free: readonly string[]): string {
  const stem = given.toLowerCase().replace(/_[^_]*$/, "");
  const begun = stem.length < 3 ? [] : free.filter((name) => name.toLowerCase().startsWith(stem));
  const nearest = begun.length > 0 ? undefined : nearestName(given, free);
  const meant = nearest === undefined ? begun : [nearest];
  return meant.length === 0 ? "" : `; did you mean ${meant.join(" or ")}?`;
}

function lineErrors(
  spans: Spans,
  error: z.ZodError,
  given: unknown,
  known: readonly string[],
): readonly LineError[] {
  const fields = new Map<string, unknown>(
    typeof given === "object" && given !== null ? Object.entries(given) : [],
  );
  const free = known.filter((name) => !fields.has(name));
  return error.issues.flatMap((issue) => {
    if (issue.code === "unrecognized_keys") {
      return issue.keys.map((key, index) => {
        // Those after them are only counted.
        const meant = index > mostFurtherErrors ? "" : proposal(shortened(key), free);
        return fieldError(spans, key, fields.get(key), `no such field${meant}`);
      });
    }
    const field = String(issue.path[0] ?? "line");
    return [fieldError(spans, field, field === "line" ? given : fields.get(field), issue.message)];
  });
}
