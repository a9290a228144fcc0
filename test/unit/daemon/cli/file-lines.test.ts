import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { fileLines, linesIn, longestLine } from "../../../../daemon/cli/file-lines.js";

async function* pieces(chunks: readonly string[]): AsyncGenerator<string> {
  for (const chunk of chunks) {
    await Promise.resolve();
    yield chunk;
  }
}

async function taken(lines: AsyncIterable<string>): Promise<readonly string[]> {
  const found: string[] = [];
  for await (const line of lines) found.push(line);
  return found;
}

describe("text line by line", () => {
  it.each([
    { because: "pieces end anywhere", chunks: ["a", "b\nc", "\n", "d"], lines: ["ab", "c", "d"] },
    { because: "the last line end may be missing", chunks: ["a\nb\n"], lines: ["a", "b"] },
    { because: "a carriage return may come before it", chunks: ["a\r", "\nb\r\n"], lines: ["a", "b"] },
    { because: "empty lines count", chunks: ["\n\na\n"], lines: ["", "", "a"] },
    { because: "nothing is no line", chunks: ["", ""], lines: [] },
    { because: "a byte-order mark is no text", chunks: ["\uFEFF", "a\nb"], lines: ["a", "b"] },
    { because: "elsewhere it is", chunks: ["a\n\uFEFFb"], lines: ["a", "\uFEFFb"] },
    { because: "JSON has its own line separators", chunks: ["a\u2028b\n"], lines: ["a\u2028b"] },
  ])("has $lines.length lines: $because", async ({ chunks, lines }) => {
    expect(await taken(linesIn(pieces(chunks)))).toEqual(lines);
  });

  it("keeps no more of an endless line than shows that it is too long, and goes on after it", async () => {
    const piece = "x".repeat(300_000);
    const endless = [...Array.from({ length: 200 }, () => piece), "\nb\n"];
    const [long, next] = await taken(linesIn(pieces(endless)));
    expect(long).toHaveLength(longestLine + 1);
    expect(next).toBe("b");
    const [whole] = await taken(linesIn(pieces(["y".repeat(longestLine), "\n"])));
    expect(whole).toHaveLength(longestLine);
  });

  it("comes from a file alike", async () => {
    const folder = await mkdtemp(join(tmpdir(), "fizzward-lines-"));
    try {
      const path = join(folder, "trace.csv");
      await writeFile(path, "\uFEFFat,valveOpen\r\nä\n");
      expect(await taken(fileLines(path))).toEqual(["at,valveOpen", "ä"]);
    } finally {
      await rm(folder, { recursive: true });
    }
  });
});
