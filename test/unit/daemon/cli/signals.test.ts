import { spawnSync } from "node:child_process";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";

const mainFile = fileURLToPath(new URL("../../../../dist/daemon/main.js", import.meta.url));

/** Sends the signal to the daemon's own process as soon as it listens to it; the config it is to read does not exist. */
function runWithEarly(signal: "SIGTERM" | "SIGINT" | "SIGHUP", command: readonly string[]) {
  const preload = `process.on("newListener", (name) => {
    if (name !== "${signal}") return;
    queueMicrotask(() => { process.stderr.write("sent "); process.kill(process.pid, "${signal}"); });
  });`;
  return spawnSync(
    process.execPath,
    ["--import", `data:text/javascript,${encodeURIComponent(preload)}`, mainFile, ...command],
    { encoding: "utf8", timeout: 15_000 },
  );
}

describe("a signal before the config is read", () => {
  const run = ["run", "--config", "/nowhere/site.yaml"];

  it.each(["SIGTERM", "SIGINT"] as const)("ends by %s with exit code 0 and reads nothing", (signal) => {
    const ended = runWithEarly(signal, run);
    expect(ended).toMatchObject({ status: 0, signal: null, stderr: "sent ", stdout: "" });
  });

  it("goes on after SIGHUP", () => {
    const ended = runWithEarly("SIGHUP", run);
    expect(ended).toMatchObject({ status: 1, signal: null });
    expect(ended.stderr).toMatch(/^sent .*\/nowhere\/site\.yaml/);
  });

  it("is left to the system by a command that only answers", () => {
    expect(runWithEarly("SIGTERM", ["check", "/nowhere/site.yaml"]).stderr).not.toContain("sent");
  });
});
