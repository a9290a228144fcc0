#!/usr/bin/env node
/** The `fizzward` command of a checkout: compiles what changed since the last time, then runs. */
import { spawnSync } from "node:child_process";
import { fileURLToPath } from "node:url";

const prepared = spawnSync(
  process.execPath,
  [fileURLToPath(new URL("./prepare.mjs", import.meta.url)), "build-only"],
  { stdio: ["ignore", "ignore", "inherit"] },
);
if (prepared.status === 0) await import("../dist/daemon/main.js");
else process.exitCode = 1;
