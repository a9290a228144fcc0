import type { LogFields } from "../../../../daemon/ports/logger.js";
import { describe, expect, it } from "vitest";
import { createPinoLogger } from "../../../../daemon/system/pino-logger.js";
import { terminalLine } from "../../../../daemon/system/terminal-lines.js";

function bench() {
  const lines: string[] = [];
  let now_ms = 0;
  const logger = createPinoLogger({
    level: "info",
    monotonic_ms: () => now_ms,
    destination: { write: (line) => void lines.push(line) },
  });
  return {
    lines,
    logger,
    wait: (duration_ms: number) => {
      now_ms += duration_ms;
    },
  };
}

describe("the log", () => {
  it("prints a repeated line once a minute and says how often it came", () => {
    const { lines, logger, wait } = bench();
    for (let second = 0; second < 61; second += 1) {
      logger.warn({ relay: "outlet" }, "a command was not taken");
      wait(1000);
    }
    expect(lines).toHaveLength(2);
    expect(JSON.parse(lines[1]!)).toMatchObject({ level: "warn", relay: "outlet", repeatedBefore: 59 });
  });

  it("does not fold lines that differ in a field", () => {
    const { lines, logger } = bench();
    logger.info({ subject: "a" }, "raised");
    logger.info({ subject: "b" }, "raised");
    expect(lines).toHaveLength(2);
  });

  it.each([
    { fields: { password: "hunter2" }, because: "at the top" },
    { fields: { broker: { password: "hunter2", user: "keeper" } }, because: "one level down" },
    { fields: { access: { tls: { key: "hunter2" } } }, because: "two levels down" },
  ])("never prints a secret $because", ({ fields }) => {
    const { lines, logger } = bench();
    // The names of the port forbid it; this is for whatever gets past them.
    logger.error(fields as LogFields, "something failed");
    expect(lines.join("")).not.toContain("hunter2");
    expect(lines.join("")).toContain("[not logged]");
  });

  it("is a plain line on a terminal", () => {
    const { lines, logger } = bench();
    logger.error({ reason: "disk full", count: 3 }, "the store fails");
    expect(terminalLine(lines[0]!.trimEnd())).toMatch(
      /^\d\d:\d\d:\d\d {2}ERROR the store fails {2}reason=disk full {2}count=3$/,
    );
  });

  it("passes on what is no JSON", () => {
    expect(terminalLine("plain text")).toBe("plain text");
  });
});
