#!/usr/bin/env node
import { hearSignalsFromTheStart } from "./cli/signals.js";

const argv = process.argv.slice(2);
hearSignalsFromTheStart(argv);
// All else is loaded after that: it takes most of the first second.
const { commandLine } = await import("./cli/command-line.js");

commandLine(argv).then(
  (exitCode) => {
    process.exitCode = exitCode;
    // The daemon has ended everything of its own by now; what a library keeps open must not keep the process.
    setTimeout(() => process.exit(exitCode), 2000).unref();
  },
  (error: unknown) => {
    process.stderr.write(`${error instanceof Error ? (error.stack ?? error.message) : String(error)}\n`);
    // The dead-man process sees the parent go and lets the broker close every relay.
    process.exit(70);
  },
);
