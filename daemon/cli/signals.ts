/** Before `untilSignal` nothing is open yet: there is nothing to close and no reason to wait. */
const endAtOnce = (): never => process.exit(0);

/** The first thing that a command which runs on does: a signal ends it in good order however early it comes. */
export function hearSignalsFromTheStart(argv: readonly string[]): void {
  const command = argv.find((word) => !word.startsWith("-")) ?? "demo";
  const runsOn = command === "run" || command === "demo" || argv[0]?.startsWith("-") === true;
  if (!runsOn) return;
  process.on("SIGINT", endAtOnce);
  process.on("SIGTERM", endAtOnce);
  // "Read the config again", to a daemon that is still reading it for the first time.
  if (command === "run") process.on("SIGHUP", () => undefined);
}

/**
 * Resolves at the first SIGINT or SIGTERM. Later ones are heard and ignored: npm passes a Ctrl-C on a second time, and the
 * closing of the valves must not be cut short.
 */
export function untilSignal(): Promise<NodeJS.Signals> {
  return new Promise((resolve) => {
    for (const signal of ["SIGINT", "SIGTERM"] as const) {
      process.on(signal, resolve);
      process.off(signal, endAtOnce);
    }
  });
}
