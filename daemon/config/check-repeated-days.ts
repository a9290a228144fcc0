import type { KeyPath } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";

/** A day of the week that stands twice under the key `days`. */
export function checkRepeatedDays(context: CheckContext, owner: KeyPath): void {
  const seen = new Set<string>();
  for (let index = 0; index < context.view.length([...owner, "days"]); index += 1) {
    const path = [...owner, "days", index];
    const day = context.view.text(path);
    if (day === undefined) continue;
    if (seen.has(day)) {
      context.fault(path, {
        what: `names ${day} a second time`,
        allowed: "each day once",
        todo: "remove it",
      });
    }
    seen.add(day);
  }
}
