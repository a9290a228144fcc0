/** Lines that stay, above one status line that is written over in place. */
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
/** Where nothing can be written over, the status is a plain line, at most this often. */
const plainStatusEvery_ms = 10_000;

export function createLiveTerminal(output: TerminalOutput, monotonic_ms: () => number): LiveTerminal {
  let shown = "";
  let plainAt_monotonicMs = Number.NEGATIVE_INFINITY;
  const isLive = output.isTTY === true;
  return {
    line: (text) => output.write(isLive ? `${clearLine}${text}\n${cut(shown)}` : `${text}\n`),
    status: (text) => {
      if (text === shown) return;
      shown = text;
      const now_monotonicMs = monotonic_ms();
      if (isLive) {
        output.write(clearLine + cut(text));
      } else if (now_monotonicMs - plainAt_monotonicMs >= plainStatusEvery_ms) {
        plainAt_monotonicMs = now_monotonicMs;
        output.write(`${text}\n`);
      }
    },
    end: () => {
      shown = "";
      if (isLive) output.write(clearLine);
    },
  };

  /** A line that wraps could not be written over. */
  function cut(text: string): string {
    const width = (output.columns ?? 80) - 1;
    return text.length <= width ? text : `${text.slice(0, width - 1)}…`;
  }
}
