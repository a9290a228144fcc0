/** Lines that stay, above a status that is written over in place: one line, or a few where the terminal is narrow. */
export interface LiveTerminal {
  line(text: string): void;
  status(text: string): void;
  /** Takes the status away: what it says is no longer true. */
  end(): void;
}

export interface TerminalOutput {
  write(text: string): unknown;
  readonly isTTY?: boolean;
  readonly columns?: number;
}

const clearLine = "\r\u001b[2K";
const lineUp = "\u001b[1A";
/** Between what may stand on lines of their own. */
const joint = " | ";
/** Where nothing can be written over, the status is a plain line, at most this often. */
const plainStatusEvery_ms = 10_000;

export function createLiveTerminal(output: TerminalOutput, monotonic_ms: () => number): LiveTerminal {
  let shown = "";
  /** Of the status on the screen. */
  let lineCount = 1;
  let plainAt_monotonicMs = Number.NEGATIVE_INFINITY;
  const isLive = output.isTTY === true;
  return {
    line: (text) => output.write(isLive ? `${cleared()}${text}\n${laidOut(shown)}` : `${text}\n`),
    status: (text) => {
      if (text === shown) return;
      shown = text;
      const now_monotonicMs = monotonic_ms();
      if (isLive) {
        output.write(cleared() + laidOut(text));
      } else if (now_monotonicMs - plainAt_monotonicMs >= plainStatusEvery_ms) {
        plainAt_monotonicMs = now_monotonicMs;
        output.write(`${text}\n`);
      }
    },
    end: () => {
      shown = "";
      if (isLive) output.write(cleared());
    },
  };

  function cleared(): string {
    const sequence = clearLine + `${lineUp}${clearLine}`.repeat(lineCount - 1);
    lineCount = 1;
    return sequence;
  }

  /** Broken at its joints; a line that the terminal itself wraps could not be written over. */
  function laidOut(text: string): string {
    const width = (output.columns ?? 80) - 1;
    const lines = text.split(joint).reduce<readonly string[]>((before, part) => {
      const last = before.at(-1);
      return last !== undefined && last.length + joint.length + part.length <= width
        ? [...before.slice(0, -1), last + joint + part]
        : [...before, part];
    }, []);
    lineCount = lines.length;
    return lines.map((line) => (line.length <= width ? line : `${line.slice(0, width - 1)}…`)).join("\n");
  }
}
