import { describe, expect, it } from "vitest";
import { createLiveTerminal } from "../../../../daemon/cli/live-terminal.js";

function bench(isTTY: boolean) {
  const written: string[] = [];
  let now_ms = 0;
  const terminal = createLiveTerminal(
    { write: (text) => written.push(text), isTTY, columns: 20 },
    () => now_ms,
  );
  return {
    written,
    terminal,
    wait: (duration_ms: number) => {
      now_ms += duration_ms;
    },
  };
}

describe("the terminal", () => {
  it("writes the status over in place and keeps it below the lines", () => {
    const { written, terminal } = bench(true);
    terminal.status("closed");
    terminal.line("an event");
    expect(written).toEqual(["\r\u001b[2Kclosed", "\r\u001b[2Kan event\nclosed"]);
  });

  it("cuts a status that would wrap, since a wrapped line cannot be written over", () => {
    const { written, terminal } = bench(true);
    terminal.status("0123456789012345678901234567890");
    expect(written[0]).toBe("\r\u001b[2K012345678901234567…");
  });

  it("breaks a long status at its joints, whole, and writes all its lines over", () => {
    const { written, terminal } = bench(true);
    terminal.status("Mon 07:50 | cellar 14.6 bar | loach 5 mg/L");
    terminal.line("an event");
    terminal.status("ends");
    terminal.status("ended");
    expect(written).toEqual([
      "\r\u001b[2KMon 07:50\ncellar 14.6 bar\nloach 5 mg/L",
      "\r\u001b[2K\u001b[1A\r\u001b[2K\u001b[1A\r\u001b[2Kan event\nMon 07:50\ncellar 14.6 bar\nloach 5 mg/L",
      "\r\u001b[2K\u001b[1A\r\u001b[2K\u001b[1A\r\u001b[2Kends",
      "\r\u001b[2Kended",
    ]);
  });

  it("prints a plain status at most every ten seconds where there is no terminal", () => {
    const { written, terminal, wait } = bench(false);
    for (let second = 0; second <= 20; second += 1) {
      terminal.status(`at ${second}`);
      wait(1000);
    }
    expect(written).toEqual(["at 0\n", "at 10\n", "at 20\n"]);
  });
});
