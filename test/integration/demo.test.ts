import { spawn } from "node:child_process";
import { describe, expect, it } from "vitest";
import { descendants, mainFile, runCommand } from "../support/daemon-process.js";

async function demo(
  args: readonly string[],
  interruptWhen?: string,
): Promise<{ exitCode: number | null; output: string; left: readonly number[] }> {
  const child = spawn(process.execPath, [mainFile, "demo", ...args], { stdio: ["ignore", "pipe", "pipe"] });
  let output = "";
  let children: readonly number[] = [];
  const hear = (chunk: Buffer): void => {
    output += chunk.toString();
    if (interruptWhen === undefined || !output.includes(interruptWhen)) return;
    // From then on the process ends by itself, and nothing hears a signal any more.
    if (output.includes("Every relay is off.")) return;
    children = descendants(child.pid ?? 0);
    child.kill("SIGINT");
  };
  child.stdout.on("data", hear);
  child.stderr.on("data", hear);
  const exitCode = await new Promise<number | null>((resolve) => child.on("exit", resolve));
  const left = children.filter((pid) => {
    try {
      process.kill(pid, 0);
      return true;
    } catch {
      return false;
    }
  });
  return { exitCode, output, left };
}

describe("the command line", () => {
  it.each([
    { args: ["cehck", "my.yaml"], exitCode: 1, says: 'there is no command "cehck"; did you mean "check"?' },
    { args: ["--version"], exitCode: 0, says: "0.1.0" },
    { args: ["check"], exitCode: 1, says: "missing required argument" },
    { args: ["check", "no-such-file.yaml"], exitCode: 1, says: "no-such-file.yaml" },
  ])("answers $args with $says", async ({ args, exitCode, says }) => {
    const answer = await runCommand(args);
    expect(answer.output).toContain(says);
    expect(answer.exitCode).toBe(exitCode);
  });
});

describe("the demo", () => {
  it("opens with the window, doses, and ends by itself with every relay off", async () => {
    const { exitCode, output } = await demo(["--speed", "600", "--days", "0.05"]);
    expect(output).toContain("commanded open: dosing window");
    expect(output).toContain("reports open");
    expect(output).toContain("In its journal: loach, KH test: 4 dKH");
    expect(output).toContain("Every relay is off.");
    expect(output).not.toContain("ERROR");
    expect(exitCode).toBe(0);
  }, 120_000);

  it("closes the valve first on Ctrl-C, exits with 0 and leaves nothing running", async () => {
    const { exitCode, output, left } = await demo(["--speed", "600"], "reports open");
    expect(output.indexOf("commanded closed: the daemon ends")).toBeGreaterThan(
      output.indexOf("reports open"),
    );
    expect(output).toContain("Every relay is off.");
    expect(exitCode).toBe(0);
    expect(left).toEqual([]);
  }, 120_000);

  it.each([
    ["--speed", "0"],
    ["--speed", "ten"],
    ["--days", "-1"],
    ["--speeed", "10"],
  ])("refuses %s %s and says what is allowed", async (...args) => {
    const { exitCode, output } = await demo(args);
    expect(exitCode).toBe(1);
    expect(output).toMatch(/allowed|above 0|unknown option/);
  });
});
