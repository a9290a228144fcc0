import { comparisonSentences } from "../../lib/charge-log/charge-log-text.js";
import { chargeMeasures, compareCharges } from "../../lib/charge-log/compare-charges.js";
import type { FollowedCharge } from "../../lib/charge-log/followed-charge.js";
import { OutOfValidRangeError } from "../../lib/errors.js";
import { factSaid } from "../../lib/journal/fact-said.js";
import { taskDescriptions } from "../../lib/upkeep/upkeep-catalogue.js";
import { isDue, type UpkeepItem } from "../../lib/upkeep/upkeep-items.js";
import { siteReport } from "../charge-log/charge-report-site.js";
import type { Journal } from "../journal/journal.js";
import type { SiteModel } from "../site-model.js";
import { upkeepLine } from "../upkeep/upkeep-text.js";
import type { ChargePicture, ChargesPicture, JournalPicture, UpkeepPicture } from "./page-contract.js";

/** Reports are arithmetic, but a tick waits while they are made. */
const mostCharges = 60;
const mostEntries = 500;

export function chargesPicture(
  charges: readonly FollowedCharge[],
  model: SiteModel,
  now_epochMs: number,
): ChargesPicture {
  const reports = charges.slice(-mostCharges).flatMap((charge): readonly ChargePicture[] => {
    try {
      const { acid, sodiumBicarbonate_g, water_kg, planned } = charge;
      const weighed = { acid, sodiumBicarbonate_g, water_kg, ...(planned === undefined ? {} : { planned }) };
      return [{ ...siteReport(charge, model, now_epochMs), ...weighed }];
    } catch (error) {
      // One that could give nothing is not reported; the others are.
      if (error instanceof OutOfValidRangeError) return [];
      throw error;
    }
  });
  const hasCost = reports.some(({ cost }) => cost !== undefined);
  const comparisons = chargeMeasures
    .filter((measure) => reports.length > 0 && (measure !== "costPerGram" || hasCost))
    .flatMap((measure) =>
      (["closedWith", "recipe"] as const).map((by) => compareCharges(reports, measure, by)),
    );
  return { charges: reports, comparisons, sentences: comparisons.flatMap(comparisonSentences) };
}

export function journalPicture(journal: Pick<Journal, "list">, newest: number): JournalPicture {
  const entries = journal.list({ newest: Math.min(mostEntries, newest) });
  return { entries: [...entries].reverse().map((entry) => ({ ...entry, said: factSaid(entry.fact) })) };
}

export function upkeepPicture(items: readonly UpkeepItem[], timeZone: string): UpkeepPicture {
  return {
    items: items.map((item) => {
      const { consequence, whatToDo } = taskDescriptions[item.task];
      return { ...item, isDue: isDue(item), line: upkeepLine(item, timeZone), consequence, whatToDo };
    }),
  };
}
