import type { Writable } from "node:stream";

export interface BoundedOutput {
  write(line: string): void;
}

/**
 * Writes lines without ever waiting for the reader. While `most_bytes` wait for a reader that is slow or gone, further lines are
 * dropped, and counted in a line of their own as soon as there is room. What waits at the end of the process is written
 * by the event loop as long as that lives, and by nobody after that: a reader that stands still cannot keep the process.
 */
export function createBoundedOutput(
  stream: Writable,
  most_bytes: number,
  droppedLine: (dropped: number) => string,
): BoundedOutput {
  let dropped = 0;
  // A reader that went away (EPIPE) costs the log, not the daemon.
  stream.on("error", () => undefined);
  return {
    write: (line) => {
      const bytes = Buffer.from(line);
      if (!stream.writable || stream.writableLength + bytes.byteLength > most_bytes) {
        dropped += 1;
        return;
      }
      if (dropped > 0) {
        const notice = droppedLine(dropped);
        dropped = 0;
        stream.write(Buffer.from(notice));
      }
      stream.write(bytes);
    },
  };
}
