import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

export const root = fileURLToPath(new URL("../../", import.meta.url));

/** A shell block of the documentation, as it stands. */
export interface ShellBlock {
  readonly page: string;
  readonly line: number;
  readonly text: string;
}

/** One simple command: what stands between `&&`, `|` and the ends of lines. */
export interface DocumentedCommand {
  readonly page: string;
  readonly line: number;
  readonly words: readonly string[];
  /** What is handed to it through a pipe. */
  readonly pipedFrom: readonly string[] | undefined;
}

/** The pages with commands for people: the two at the root, and everything under deploy/. */
export function documentationPages(): readonly string[] {
  const deployed = readdirSync(join(root, "deploy"), { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".md"))
    .map((name) => `deploy/${name}`);
  return ["README.md", "DEVELOPERS.md", ...deployed.sort()];
}

export function textOf(page: string): string {
  return readFileSync(join(root, page), "utf8");
}

/** Within a list a block is indented. */
const fence = /^ *```(\w*)\n([\s\S]*?)^ *```$/gm;
const shells = ["sh", "bash", "shell", "console"];

/** Fenced blocks of one kind of language, in order. */
export function blocksOf(page: string, languages: readonly string[] = shells): readonly ShellBlock[] {
  const text = textOf(page);
  return [...text.matchAll(fence)]
    .filter(([, language]) => languages.includes(language ?? ""))
    .map((match) => ({
      page,
      line: text.slice(0, match.index).split("\n").length + 1,
      text: match[2] ?? "",
    }));
}

export function commandsOf({ page, line, text }: ShellBlock): readonly DocumentedCommand[] {
  return text.split("\n").flatMap((written, index) => {
    const found: DocumentedCommand[] = [];
    for (const sequence of split(wordsOf(written), ["&&", ";"])) {
      let pipedFrom: readonly string[] | undefined;
      for (const words of split(sequence, ["|"])) {
        if (words.length > 0) found.push({ page, line: line + index, words, pipedFrom });
        pipedFrom = words;
      }
    }
    return found;
  });
}

/** Code within a line of text, tables among it; what a fence holds is not. */
export function spansOf(page: string): readonly { readonly page: string; readonly span: string }[] {
  const text = textOf(page).replace(fence, "");
  return [...text.matchAll(/`([^`\n]+)`/g)].map(([, span = ""]) => ({
    page,
    span: span.replaceAll("\\|", "|"),
  }));
}

/** Words as a shell splits them, without quotes, up to a remark. Enough for what stands in our pages. */
export function wordsOf(line: string): readonly string[] {
  const words: string[] = [];
  for (const [word] of line.matchAll(/(?:"[^"]*"|'[^']*'|[^\s"'])+/g)) {
    if (word.startsWith("#")) break;
    words.push(word.replace(/"([^"]*)"|'([^']*)'/g, "$1$2"));
  }
  return words;
}

function split(words: readonly string[], at: readonly string[]): readonly (readonly string[])[] {
  return words.reduce<readonly (readonly string[])[]>(
    (parts, word) =>
      at.includes(word) ? [...parts, []] : [...parts.slice(0, -1), [...(parts.at(-1) ?? []), word]],
    [[]],
  );
}
