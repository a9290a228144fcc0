/**
 * Writes lines to standard output. A reader that goes away before the end, as `head` does, ends the command quietly.
 */
export function standardOutputLines(): (line: string) => void {
  process.stdout.on("error", (error: NodeJS.ErrnoException) => {
    if (error.code !== "EPIPE") throw error;
    process.exit(0);
  });
  return (line) => void process.stdout.write(`${line}\n`);
}
