/**
 * Resolves at the first SIGINT or SIGTERM. Later ones are heard and ignored: npm passes a Ctrl-C on a second time, and the
 * closing of the valves must not be cut short.
 */
export function untilSignal(): Promise<NodeJS.Signals> {
  return new Promise((resolve) => {
    process.on("SIGINT", resolve);
    process.on("SIGTERM", resolve);
  });
}
