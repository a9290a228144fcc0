import { readFileSync } from "node:fs";

/** Computing of this process's first thread alone, as the kernel counts it: what else runs on the machine does not count. */
export function computed_ms(): number {
  return Number(readFileSync(`/proc/self/task/${process.pid}/schedstat`, "utf8").split(" ")[0]) / 1e6;
}
