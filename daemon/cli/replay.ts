import { toldRunOut } from "../../lib/estimation/run-out.js";
import type { SupplyEstimate } from "../../lib/estimation/supply-estimate.js";
import { createSupplyModel } from "../../lib/estimation/supply-model.js";
import { NoConvergenceError, OutOfValidRangeError } from "../../lib/errors.js";
import { ChargeFileError, chargeFileFromText } from "./charge-file.js";
import { instantInZone } from "./instant-text.js";
import { createTraceReader, TraceRowError } from "./trace-csv.js";
import { createWatchedReplay } from "./watched-replay.js";

export interface ReplayOptions {
  readonly charge?: string;
  readonly ndjson?: boolean;
}

export interface ReplayPorts {
  readonly readText: (path: string) => Promise<string>;
  /** The lines of a file, without their line ends. */
  readonly readLines: (path: string) => AsyncIterable<string>;
  /** Takes one line, without its line end. */
  readonly write: (line: string) => void;
}

/**
 * Runs the estimator over a recorded trace and prints what it would have said when: with `ndjson` a JSON object for every hour,
 * else a table with a row a day.
 * @returns the exit code: 0, or 1 when charge or trace cannot be read; what was said up to a bad row stays said
 */
export async function replayCommand(
  tracePath: string | undefined,
  options: ReplayOptions,
  ports: ReplayPorts,
): Promise<number> {
  const isNdjson = options.ndjson ?? false;
  const complain = (text: string, fields: object): number => {
    ports.write(isNdjson ? JSON.stringify({ error: { ...fields, message: text } }) : text);
    return 1;
  };
  const chargePath = options.charge;
  if (tracePath === undefined || chargePath === undefined) {
    return complain(
      "a trace needs its charge: replay trace.csv --charge charge.json; or replay --database site.db --config site.yaml",
      {},
    );
  }
  try {
    const { charge, vessel } = chargeFileFromText(await ports.readText(chargePath));
    const replay = createWatchedReplay(createSupplyModel(charge), vessel);
    const reader = createTraceReader();
    const told = createToldEstimates(charge.timeZone, isNdjson, ports.write);
    for await (const line of ports.readLines(tracePath)) {
      const reading = reader.readLine(line);
      if (reading !== undefined) told.take(replay.take(reading));
    }
    told.take(replay.end());
    told.end();
    return 0;
  } catch (error) {
    if (error instanceof ChargeFileError) {
      return complain(`${chargePath}: ${error.message}`, { file: chargePath, faults: error.faults });
    }
    if (error instanceof TraceRowError) {
      const { line, column, value } = error;
      return complain(`${tracePath}: ${error.message}`, { file: tracePath, line, column, value });
    }
    if (error instanceof OutOfValidRangeError) {
      const { quantity, value, unit, minimum, maximum } = error;
      return complain(`${chargePath}: ${error.message}`, { quantity, value, unit, minimum, maximum });
    }
    if (error instanceof NoConvergenceError) {
      return complain(`${chargePath}: ${error.message}`, { quantity: error.quantity });
    }
    if (isFileError(error)) return complain(error.message, { file: error.path ?? "", code: error.code });
    throw error;
  }
}

function isFileError(error: unknown): error is Error & { readonly code: string; readonly path?: string } {
  return error instanceof Error && "code" in error && typeof error.code === "string" && "syscall" in error;
}

const rounded = (value: number, digits: number): number => Number(value.toFixed(digits));

/** One hour as the machine interface has it: programs judge by the interval themselves, so the run-out is always there. */
export function hourLine(estimate: SupplyEstimate, timeZone: string): object {
  const { remaining, deliverable, runOut } = estimate;
  const instant = (at_epochMs: number): string => instantInZone(at_epochMs, timeZone);
  return {
    at: instant(estimate.at_epochMs),
    co2Remaining_g: rounded(remaining.value_g, 3),
    co2Remaining80_g: [rounded(remaining.low80_g, 3), rounded(remaining.high80_g, 3)],
    co2Deliverable_g: rounded(deliverable.value_g, 3),
    leak_gPerDay: rounded(estimate.leak_gPerDay.value, 4),
    runOut: {
      median: instant(runOut.median_epochMs),
      low80: instant(runOut.low80_epochMs),
      high80: instant(runOut.high80_epochMs),
    },
    phase: estimate.phase,
    warnings: estimate.warnings.map(({ id }) => id),
  };
}

/** Estimates on their way to whoever reads them. */
export interface ToldEstimates {
  take(estimates: readonly SupplyEstimate[]): void;
  end(): void;
}

export function createToldEstimates(
  timeZone: string,
  isNdjson: boolean,
  write: (line: string) => void,
): ToldEstimates {
  const table = isNdjson ? undefined : createDailyTable(timeZone, write);
  return {
    take(estimates) {
      for (const estimate of estimates) {
        if (table === undefined) write(JSON.stringify(hourLine(estimate, timeZone)));
        else table.take(estimate);
      }
    },
    end: () => table?.end(),
  };
}

interface DailyTable {
  take(estimate: SupplyEstimate): void;
  end(): void;
}

/** The last hour of every day, for people. */
function createDailyTable(timeZone: string, write: (line: string) => void): DailyTable {
  const widths = [17, 9, 16, 12, 9, 18, 30, 9] as const;
  const row = (cells: readonly string[]): string =>
    cells
      .map((cell, k) => cell.padEnd(widths[k] ?? 0))
      .join("")
      .trimEnd();
  let last: SupplyEstimate | undefined;
  const minuteOf = (at_epochMs: number): string =>
    instantInZone(at_epochMs, timeZone).slice(0, 16).replace("T", " ");
  const dayOf = (at_epochMs: number): string => minuteOf(at_epochMs).slice(0, 10);
  const said = new Set<string>();
  const put = (estimate: SupplyEstimate): void => {
    const { remaining, deliverable, leak_gPerDay } = estimate;
    const runOut = toldRunOut(estimate.runOut, estimate.at_epochMs);
    write(
      row([
        minuteOf(estimate.at_epochMs),
        remaining.value_g.toFixed(1),
        `${remaining.low80_g.toFixed(1)} to ${remaining.high80_g.toFixed(1)}`,
        deliverable.value_g.toFixed(1),
        leak_gPerDay.value.toFixed(2),
        runOut === undefined ? "not known yet" : minuteOf(runOut.median_epochMs),
        runOut === undefined ? "" : `${dayOf(runOut.low80_epochMs)} to ${dayOf(runOut.high80_epochMs)}`,
        estimate.phase,
      ]),
    );
    for (const { id, text } of estimate.warnings) {
      if (said.has(id)) continue;
      said.add(id);
      write(`  ${text}`);
    }
  };
  return {
    take(estimate) {
      if (last === undefined) {
        write("CO2 in grams; intervals hold 80 of 100 times; times in " + timeZone);
        write(row(["at", "left", "", "to deliver", "leak/day", "run-out", "", "phase"]));
      } else if (dayOf(estimate.at_epochMs) !== dayOf(last.at_epochMs)) put(last);
      last = estimate;
    },
    end() {
      if (last !== undefined) put(last);
    },
  };
}
