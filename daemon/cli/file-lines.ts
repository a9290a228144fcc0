import { createReadStream } from "node:fs";

/** No line of ours is a thousandth as long; what comes after is dropped unread, so that it fills no memory. */
export const longestLine = 1_000_000;

/**
 * Text that comes in pieces, line by line, without line ends and without a byte-order mark at its beginning. Of a line
 * beyond the longest one character more is kept, by which it is known.
 */
export async function* linesIn(chunks: AsyncIterable<string>): AsyncGenerator<string> {
  let pieces: string[] = [];
  let length = 0;
  let isFirst = true;
  const keep = (piece: string): void => {
    const kept = piece.slice(0, longestLine + 1 - length);
    if (kept === "") return;
    pieces.push(kept);
    length += kept.length;
  };
  const line = (): string => {
    const text = pieces.join("");
    pieces = [];
    length = 0;
    const bare = isFirst ? text.replace(/^\uFEFF/, "") : text;
    isFirst = false;
    return bare.endsWith("\r") ? bare.slice(0, -1) : bare;
  };
  for await (const chunk of chunks) {
    let from = 0;
    for (let end = chunk.indexOf("\n"); end >= 0; end = chunk.indexOf("\n", from)) {
      keep(chunk.slice(from, end));
      yield line();
      from = end + 1;
    }
    keep(chunk.slice(from));
  }
  if (length > 0) yield line();
}

/** The lines of a text file in UTF-8, as linesIn; a fault of the file comes out of the loop. */
export async function* fileLines(path: string): AsyncGenerator<string> {
  yield* linesIn(createReadStream(path, { encoding: "utf8", highWaterMark: 1 << 18 }));
}

/** The lines of standard input in UTF-8, as linesIn. */
export function standardInputLines(): AsyncGenerator<string> {
  return linesIn(process.stdin.setEncoding("utf8"));
}
