import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

export const examplePath = fileURLToPath(new URL("../../config/example.yaml", import.meta.url));
export const exampleText = readFileSync(examplePath, "utf8");

/** Marks, in a test's own text, the place at which a fault is expected. */
export const mark = "‸";

export interface MarkedText {
  readonly text: string;
  readonly line: number;
  readonly column: number;
}

/** Takes the mark out of a text and says where it stood. */
export function unmarked(marked: string): MarkedText {
  const parts = marked.split(mark);
  if (parts.length !== 2) throw new Error(`the text holds ${parts.length - 1} marks, not one`);
  const [before = "", after = ""] = parts;
  const lines = before.split("\n");
  return { text: before + after, line: lines.length, column: (lines.at(-1)?.length ?? 0) + 1 };
}

/** A text with each edit made at the one place where its first part stands. */
export function edited(text: string, edits: readonly (readonly [from: string, to: string])[]): string {
  return edits.reduce((soFar, [from, to]) => {
    const pieces = soFar.split(from);
    if (pieces.length !== 2)
      throw new Error(`"${from}" stands ${pieces.length - 1} times in the text, not once`);
    return pieces.join(to);
  }, text);
}
