import { createReadStream } from "node:fs";

/** The lines of a text file in UTF-8, without their line ends; a fault of the file comes out of the loop. */
export async function* fileLines(path: string): AsyncGenerator<string> {
  const chunks: AsyncIterable<string> = createReadStream(path, { encoding: "utf8", highWaterMark: 1 << 18 });
  let rest = "";
  for await (const chunk of chunks) {
    const lines = (rest + chunk).split("\n");
    rest = lines.pop() ?? "";
    yield* lines;
  }
  if (rest !== "") yield rest;
}
