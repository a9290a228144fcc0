import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { checkConfigCommand } from "../../../../daemon/cli/check-config.js";
import { edited, examplePath, exampleText } from "../../../support/marked-config.js";

const now_epochMs = Date.UTC(2026, 5, 1);

async function check(
  path: string,
): Promise<{ readonly exitCode: number; readonly lines: readonly string[] }> {
  const lines: string[] = [];
  const exitCode = await checkConfigCommand(path, { now_epochMs, write: (line) => void lines.push(line) });
  return { exitCode, lines };
}

describe("the command that checks a configuration", () => {
  let path = "";
  let folder = "";
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), "fizzward-check-"));
    path = join(folder, "home.yaml");
  });
  afterAll(async () => {
    await rm(folder, { recursive: true });
  });

  it("finds no fault in the example", async () => {
    expect(await check(examplePath)).toEqual({
      exitCode: 0,
      lines: [`${examplePath}: no fault, 0 warnings`],
    });
  });

  it("prints warnings and still succeeds", async () => {
    await writeFile(path, edited(exampleText, [["guardSensors: [loach-ph, shrimp-ph]", "guardSensors: []"]]));
    const { exitCode, lines } = await check(path);
    expect(exitCode).toBe(0);
    expect(lines).toHaveLength(2);
    expect(lines[0]).toMatch(
      /^.*home\.yaml:\d+:5: valves\.cellar-outlet\.guardSensors \(warning\) has no guard sensor/,
    );
    expect(lines[1]).toBe(`${path}: no fault, 1 warning`);
  });

  it("names a window that a clock change touches", async () => {
    await writeFile(
      path,
      edited(exampleText, [
        ['lightsOn: "10:30", lightsOff: "19:30"', 'lightsOn: "02:30", lightsOff: "12:00"'],
      ]),
    );
    expect((await check(path)).lines.join("\n")).toContain("2026-10-25");
  });

  it("prints faults and warnings together, in the order of the file, and fails", async () => {
    await writeFile(
      path,
      edited(exampleText, [
        ["Europe/Berlin", "Europe/Berlni"],
        ["reliefOpeningGauge_bar: 18", "reliefOpeningGauge_bar: 22"],
        ["level: info", "level: loud"],
      ]),
    );
    const { exitCode, lines } = await check(path);
    expect(exitCode).toBe(1);
    expect(lines.map((line) => line.replace(/^.*home\.yaml(:\d+:\d+)?: /, "").split(" ")[0])).toEqual([
      "site.timeZone",
      "vessels.cellar.reliefOpeningGauge_bar",
      "log.level",
      "2",
    ]);
    expect(lines.at(-1)).toBe(`${path}: 2 faults, 1 warning`);
  });

  it("says that the values are still to be checked when the file is no YAML", async () => {
    await writeFile(path, "site:\n\tid: a\n");
    const { exitCode, lines } = await check(path);
    expect(exitCode).toBe(1);
    expect(lines[0]).toContain(":2:1: a tab indents this line");
    expect(lines.at(-1)).toBe(
      `${path}: 1 fault, 0 warnings; the keys and values are checked once the file can be read`,
    );
  });

  it("fails on a file that is not there", async () => {
    const absent = join(folder, "absent.yaml");
    const { exitCode, lines } = await check(absent);
    expect(exitCode).toBe(1);
    expect(lines[0]).toContain(`${absent}:1:1: the file cannot be read: there is none with this name`);
  });

  it("does not print without end", async () => {
    await writeFile(path, Array.from({ length: 3000 }, (_, index) => `key${index}: 1`).join("\n"));
    const { lines } = await check(path);
    expect(lines).toHaveLength(502);
    expect(lines.at(-2)).toMatch(/: and 2503 more$/);
  });
});
