/**
 * Loaded into the daemon's own process ahead of it (`node --import`), for faults that no signal can cause: on SIGUSR2 it does
 * what the file named by FIZZWARD_FAULT_FILE says. FIZZWARD_CLOCK_SHIFT_MS sets the civil clock off from the start.
 */
import { readFileSync } from "node:fs";
import { isMainThread } from "node:worker_threads";

export type InsideFault =
  /** The event loop does nothing else for so long. */
  | { readonly kind: "stall"; readonly duration_ms: number }
  /** The civil clock is set to another time; what is monotonic goes on. */
  | { readonly kind: "clock"; readonly shift_ms: number }
  /** Memory is taken until none is left. */
  | { readonly kind: "memory" };

const realNow = Date.now.bind(Date);
let shift_ms = Number(process.env["FIZZWARD_CLOCK_SHIFT_MS"] ?? "0");
Date.now = () => realNow() + shift_ms;

const isDaemon = process.argv[1]?.endsWith("/daemon/main.js") === true;
if (isMainThread && isDaemon) {
  process.on("SIGUSR2", () => {
    const file = process.env["FIZZWARD_FAULT_FILE"];
    if (file !== undefined) act(JSON.parse(readFileSync(file, "utf8")) as InsideFault);
  });
}

function act(fault: InsideFault): void {
  switch (fault.kind) {
    case "stall": {
      const end_ms = performance.now() + fault.duration_ms;
      while (performance.now() < end_ms);
      return;
    }
    case "clock":
      ({ shift_ms } = fault);
      return;
    case "memory": {
      const taken: string[] = [];
      setInterval(() => {
        for (let count = 0; count < 100; count += 1) taken.push(`${taken.length}`.repeat(20_000));
      }, 1);
    }
  }
}
