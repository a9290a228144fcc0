import { copyFileSync, rmSync } from "node:fs";
import { join } from "node:path";
import { expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { kill, runCommand } from "../support/daemon-process.js";

const bench = useDaemonBench();

/** The steps of deploy/docs/backup.md, after the daemon and its database have died together. */
it("a copy that is put back brings journal and states, and no gas until a person re-arms", async () => {
  const first = await bench().run();
  const config = ["--config", first.configFile];
  const entered = await runCommand(["journal", "kh", ...config, "4.5"]);
  expect(entered.output).toContain("4.5");
  const copied = await runCommand(["backup", ...config]);
  expect(copied.exitCode).toBe(0);
  const copy = /copied and checked: (\S+\.db)/.exec(copied.output)?.[1];
  expect(copy).toContain(join(first.folder, "backup", "whole-"));

  kill(first.processIds().daemon, "SIGKILL");
  await first.exitCode();
  const database = join(first.folder, "site.db");
  for (const end of ["", "-wal", "-shm"]) rmSync(`${database}${end}`, { force: true });
  copyFileSync(copy!, database);

  const again = await bench().run({ folder: first.folder });
  await bench().observer.publish("tank/ph", "6.8");
  await again.logged("a copy of the database was put back");
  const status = await runCommand(["status", ...config]);
  expect(status.output).toContain("a copy of the database was put back");
  expect(bench().relay.isOn()).toBe(false);
  const listed = await runCommand(["journal", "list", ...config]);
  expect(listed.output).toContain("4.5");

  const rearmed = await runCommand(["rearm", ...config, "valve", "outlet"]);
  expect(rearmed.output).toContain("is re-armed");
  await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });
}, 90_000);
