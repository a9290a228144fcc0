import type { YAMLError } from "yaml";
import type { ConfigFault, Position } from "./config-faults.js";

/** Ours, not the parser's words: those quote the text, in which a password may stand. */
const syntaxWords: Readonly<Record<string, readonly [what: string, allowed: string, todo: string]>> = {
  TAB_AS_INDENT: ["a tab indents this line", "spaces", "replace the tab by spaces"],
  BAD_INDENT: [
    "the indentation does not fit, or a bracket above is not closed",
    "two spaces more than the key above; ] for every [ and } for every {",
    "line the key up with its neighbours, or close the bracket",
  ],
  MISSING_CHAR: [
    "a closing quote or bracket, or the space after a colon or comma, is missing before this place",
    "pairs of quotes and brackets",
    "close the quote or the bracket that was opened above",
  ],
  BLOCK_AS_IMPLICIT_KEY: [
    "a second key stands where a value is expected",
    "one key on a line; keys that belong below another are indented, and that one has no value of its own",
    "line the next key up with this one, or put a value that contains a colon in quotes",
  ],
  MULTILINE_IMPLICIT_KEY: [
    "this line has no key of its own",
    "key: value, with a space behind the colon",
    "add the colon and the space, or mend the indentation of the next line",
  ],
  BAD_SCALAR_START: [
    "a value begins with a character that YAML keeps for itself",
    "a value in quotes",
    "put the value in single quotes",
  ],
  UNEXPECTED_TOKEN: [
    "something stands where it cannot be understood",
    "key: value, lined up with the keys of the same group",
    "mend the quotes and the indentation of this line and of the one above",
  ],
  BAD_DQ_ESCAPE: [
    "a backslash in double quotes is followed by a character that has no meaning there",
    "\\\\ for a backslash",
    "put the value in single quotes",
  ],
  MULTIPLE_DOCS: [
    "a second document begins here",
    "one document",
    "remove the line with --- and keep one document",
  ],
  TAG_RESOLVE_FAILED: [
    "a value begins with ! and so names a type of its own",
    "plain values",
    "put the value in single quotes, or remove the word with !",
  ],
};

/** One fault for each line that the parser stumbled over. */
export function syntaxFaults(
  errors: readonly YAMLError[],
  text: string,
  positionAt: (offset: number) => Position,
): readonly ConfigFault[] {
  const faults: ConfigFault[] = [];
  const lines = new Set<number>();
  for (const error of [...errors].sort((a, b) => a.pos[0] - b.pos[0])) {
    const position = positionAt(error.pos[0]);
    // One slip of the keyboard throws the parser off for the rest of its line.
    if (lines.has(position.line)) continue;
    lines.add(position.line);
    const [what, allowed, todo] = syntaxWords[error.code] ?? [
      `the line is no YAML (${error.code})`,
      "YAML 1.2",
      "compare the line with config/example.yaml",
    ];
    const atEnd = error.pos[0] >= text.trimEnd().length;
    faults.push({
      ...position,
      keyPath: "",
      what: atEnd ? `${what} (seen at the end of the file)` : what,
      allowed,
      todo,
    });
  }
  return faults;
}
