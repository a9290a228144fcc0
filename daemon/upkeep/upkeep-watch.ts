import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import { upkeepItems, type UpkeepItem } from "../../lib/upkeep/upkeep-items.js";
import type { ControlSnapshot } from "../control-snapshot.js";
import type { Clock } from "../ports/clock.js";
import { createFaultLog } from "../fault-log.js";
import type { Logger } from "../ports/logger.js";
import type { SiteModel } from "../site-model.js";
import { upkeepSiteOf } from "./upkeep-site.js";
import { upkeepConditions } from "./upkeep-text.js";

export interface UpkeepWatch {
  readonly items: () => readonly UpkeepItem[];
  readonly conditions: () => readonly AlarmCondition[];
}

const lookEvery_ms = 60_000;

/** Looks once a minute at what is due. It throws nothing: a control pass asks it, and no upkeep is worth a closed valve. */
export function createUpkeepWatch(ports: {
  readonly clock: Pick<Clock, "now_epochMs" | "monotonic_ms">;
  readonly journal: JournalView;
  readonly logger: Logger;
  readonly model: () => SiteModel;
  readonly holds: () => ControlSnapshot["holds"];
}): UpkeepWatch {
  const { clock, journal, logger, model, holds } = ports;
  let looked_monotonicMs = Number.NEGATIVE_INFINITY;
  let conditions: readonly AlarmCondition[] = [];
  const faults = createFaultLog(logger, "upkeep could not be looked after");

  return {
    items: () => upkeepItems(upkeepSiteOf(model(), holds()), journal, clock.now_epochMs()),
    conditions: () => {
      if (clock.monotonic_ms() - looked_monotonicMs < lookEvery_ms) return conditions;
      looked_monotonicMs = clock.monotonic_ms();
      try {
        const items = upkeepItems(upkeepSiteOf(model(), holds()), journal, clock.now_epochMs());
        conditions = upkeepConditions(items, model());
        faults.over();
      } catch (error) {
        faults.note(error);
      }
      return conditions;
    },
  };
}
