import { expect, vi } from "vitest";
import type { DaemonBench } from "./daemon-bench.js";
import type { DaemonProcess } from "./daemon-process.js";

/** A daemon that runs and has opened its valve. */
export async function dosing(
  bench: DaemonBench,
  options: Parameters<DaemonBench["run"]>[0] = {},
): Promise<DaemonProcess> {
  const started = await bench.run(options);
  await bench.observer.publish("tank/ph", "6.8");
  await vi.waitFor(() => expect(bench.relay.isOn()).toBe(true), { timeout: 10_000, interval: 10 });
  // The relay's report has come back, so that an orderly end finds it confirmed.
  await started.logged("reports open");
  return started;
}

/** How long after an instant the relay was off. */
export async function closedAfter(bench: DaemonBench, from_ms: number, timeout_ms: number): Promise<number> {
  await vi.waitFor(() => expect(bench.relay.isOn()).toBe(false), { timeout: timeout_ms, interval: 5 });
  return (bench.relay.changes.at(-1)?.at_ms ?? Number.NaN) - from_ms;
}

/** The last document on a topic below the base, as the broker passed it on. */
export function lastTold(bench: DaemonBench, topic: string): string {
  const all = bench.observer.messages.filter((m) => m.topic === `fizzward/mill-house/${topic}`);
  return all.at(-1)?.payload ?? "{}";
}
