import type { Command } from "commander";
import { chargeTable, comparisonSentences } from "../../lib/charge-log/charge-log-text.js";
import type { ChargeReport } from "../../lib/charge-log/charge-report.js";
import {
  chargeMeasures,
  compareCharges,
  type ServedComparison,
} from "../../lib/charge-log/compare-charges.js";
import type { FollowedCharge } from "../../lib/charge-log/followed-charge.js";
import { NoConvergenceError, OutOfValidRangeError } from "../../lib/errors.js";
import { siteReport } from "../charge-log/charge-report-site.js";
import { chargesFrom, chargesSnapshotName } from "../charge-log/kept-charges.js";
import { formatFault } from "../config/config-faults.js";
import { loadConfig } from "../config/load-config.js";
import { siteModelFrom } from "../site-model.js";
import { HistoryUnreadableError, openKeptHistory } from "../store/kept-history.js";
import { unknownName } from "../unknown-name.js";
import { instantInZone } from "./instant-text.js";
import { standardOutputLines } from "./line-output.js";

export interface ChargesOptions {
  readonly config: string;
  readonly database?: string;
  readonly vessel?: string;
  readonly json?: boolean;
}

interface LoggedCharge {
  readonly charge: FollowedCharge;
  readonly report: ChargeReport;
}

/** Adds `fizzward charges`. */
export function addChargesCommand(
  program: Command,
  ending: (exitCode: Promise<number>) => Promise<void>,
  now_epochMs: () => number,
): void {
  program
    .command("charges")
    .description(
      "every charge that was followed: weighed, foreseen, delivered, leak, days, cost, and what served best",
    )
    .requiredOption("--config <file>", "the site's config: prices and tanks")
    .option("--database <file>", "the daemon's own store, by default the config's; it may be running")
    .option("--vessel <name>", "only this one")
    .option("--json", "one JSON object")
    .action((options: ChargesOptions) =>
      ending(chargesCommand(options, { now_epochMs, write: standardOutputLines() })),
    );
}

/**
 * The charges out of the daemon's own store, read only.
 * @returns the exit code: 0, or 1 where config or store cannot be read
 */
export async function chargesCommand(
  options: ChargesOptions,
  ports: { readonly now_epochMs: () => number; readonly write: (line: string) => void },
): Promise<number> {
  const { write } = ports;
  const isJson = options.json ?? false;
  const complain = (message: string): number => {
    write(isJson ? JSON.stringify({ error: { message } }) : message);
    return 1;
  };
  const parsed = await loadConfig(options.config);
  if (parsed.kind === "invalid") {
    return complain(parsed.faults.map((fault) => formatFault(options.config, fault)).join("\n"));
  }
  const site = siteModelFrom(parsed.config);
  if (options.vessel !== undefined && !site.vessels.has(options.vessel)) {
    return complain(unknownName("vessel", options.vessel, site.vessels.keys()));
  }
  const file = options.database ?? parsed.config.store.file;
  let logged: readonly LoggedCharge[];
  try {
    const history = openKeptHistory(file);
    try {
      const now_epochMs = ports.now_epochMs();
      logged = chargesFrom(history.snapshot(chargesSnapshotName))
        .filter(({ vesselId }) => options.vessel === undefined || vesselId === options.vessel)
        .map((charge) => ({
          charge,
          report: siteReport(charge, site, now_epochMs, { withReadyForecast: true }),
        }));
    } finally {
      history.close();
    }
  } catch (error) {
    if (error instanceof HistoryUnreadableError) return complain(`${file}: ${error.message}`);
    if (error instanceof OutOfValidRangeError || error instanceof NoConvergenceError) {
      return complain(`a kept charge cannot be reported: ${error.message}`);
    }
    throw error;
  }
  const reports = logged.map(({ report }) => report);
  const comparisons = comparisonsOf(reports);
  if (isJson) {
    write(JSON.stringify({ charges: logged.map((one) => jsonOf(one, site.timeZone)), comparisons }));
    return 0;
  }
  if (logged.length === 0) {
    write("No charge has been followed yet: enter one with `journal charge-closed`, or in the config.");
    return 0;
  }
  for (const line of [
    "Bounds hold 95 of 100 times.",
    ...chargeTable(reports, site.timeZone),
    "",
    ...logged.flatMap(detailLines),
    "",
    ...(comparisons.every(({ groups }) => groups.length === 0)
      ? ["Nothing can be compared yet: no charge has ended that was followed well enough."]
      : comparisons.flatMap(comparisonSentences)),
  ]) {
    write(line);
  }
  return 0;
}

/** What there is to compare with: cost only where prices are stated. */
function comparisonsOf(reports: readonly ChargeReport[]): readonly ServedComparison[] {
  if (reports.length === 0) return [];
  const hasCost = reports.some(({ cost }) => cost !== undefined);
  return chargeMeasures
    .filter((measure) => measure !== "costPerGram" || hasCost)
    .flatMap((measure) =>
      (["closedWith", "recipe"] as const).map((by) => compareCharges(reports, measure, by)),
    );
}

function detailLines({ charge, report }: LoggedCharge): readonly string[] {
  const { acid, sodiumBicarbonate_g, planned, foreseen_g } = charge;
  const weighed = `weighed ${grams(sodiumBicarbonate_g)} g bicarbonate and ${grams(acid.mass_g)} g ${acid.kind === "citric-acid-monohydrate" ? "citric acid monohydrate" : "citric acid"}`;
  const asPlanned =
    planned === undefined
      ? ""
      : `, planned ${grams(planned.sodiumBicarbonate_g)} and ${grams(planned.citricAcid_g)} g`;
  const foreseen =
    foreseen_g === undefined
      ? "what it would deliver was not foreseen"
      : `foreseen to deliver ${foreseen_g.value.toFixed(0)} g (${foreseen_g.low.toFixed(0)} to ${foreseen_g.high.toFixed(0)})`;
  const tanks = report.byTank.map(({ name, co2_g }) => `${name} ${co2_g.value.toFixed(1)} g`);
  return [
    `${report.chargeId}: ${weighed}${asPlanned}; ${foreseen}${tanks.length === 0 ? "" : `; delivered to ${tanks.join(", ")}`}.`,
    ...report.remarks.map(({ text }) => `  ${text}`),
  ];
}

function jsonOf({ charge, report }: LoggedCharge, timeZone: string): object {
  const { closed_epochMs, ended, ...rest } = report;
  return {
    ...rest,
    closedAt: instantInZone(closed_epochMs, timeZone),
    ended: ended.kind,
    endedAt: ended.kind === "running" ? null : instantInZone(ended.at_epochMs, timeZone),
    weighed: {
      acid: charge.acid,
      sodiumBicarbonate_g: charge.sodiumBicarbonate_g,
      water_kg: charge.water_kg,
    },
    planned: charge.planned ?? null,
    foreseen_g: charge.foreseen_g ?? null,
  };
}

function grams(value: number): string {
  return String(Number(value.toFixed(1)));
}
