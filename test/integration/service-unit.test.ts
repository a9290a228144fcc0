import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, it } from "vitest";
import { mainFile } from "../support/daemon-process.js";

/** The unit file is judged by systemd's own analyser; Debian's package "systemd" holds it. */
const root = new URL("../../", import.meta.url);
let folder: string;
let unitFile: string;

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "fizzward-unit-"));
  unitFile = join(folder, "fizzward.service");
  const text = readFileSync(new URL("deploy/systemd/fizzward.service", root), "utf8");
  // Programs have to be where the unit says, so it is judged with those of this checkout.
  writeFileSync(
    unitFile,
    text
      .replaceAll("/usr/bin/node", process.execPath)
      .replaceAll("/opt/fizzward/dist/daemon/main.js", mainFile),
  );
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const analyse = (...args: readonly string[]) =>
  spawnSync("systemd-analyze", [...args, unitFile], { encoding: "utf8" });

it("has no key that systemd does not know, and nothing that is not there", () => {
  const { status, stderr } = analyse("verify", "--recursive-errors=no");
  expect(stderr).toBe("");
  expect(status).toBe(0);
});

it("would be told of a key that does not exist", () => {
  writeFileSync(unitFile, readFileSync(unitFile, "utf8").replace("RestartSec=", "RestartSecs="));
  const { stderr } = analyse("verify", "--recursive-errors=no");
  writeFileSync(unitFile, readFileSync(unitFile, "utf8").replace("RestartSecs=", "RestartSec="));
  expect(stderr).toContain("RestartSecs");
});

it("leaves the service an exposure of at most 2.0 of 10 by systemd's measure", () => {
  const { status, stdout } = analyse("security", "--offline=true", "--threshold=20");
  expect(stdout).toContain("Overall exposure level");
  expect(status).toBe(0);
});
