import {
  missCauses,
  type ChargeLife,
  type DosingDay,
  type MissCause,
  type YearRecord,
} from "./year-record.js";

export interface Goal {
  readonly goal: string;
  readonly wanted: string;
  readonly found: string;
  readonly isMet: boolean;
}

export interface YearReport {
  readonly seed: number;
  readonly simulated_days: number;
  readonly took_s: number;
  readonly leaps: number;
  readonly dosing: {
    readonly wanted_days: number;
    readonly dosed_days: number;
    readonly lost_days: Readonly<Record<MissCause, number>>;
    /** Neither ice nor a fault took them. */
    readonly dosable_days: number;
    readonly dosedOfDosable_ratio: number;
    readonly lost: readonly string[];
  };
  readonly co2: {
    readonly aboveAlarm_h: number;
    readonly aboveClose_h: number;
    readonly aboveCloseBeyondLag_h: number;
  };
  readonly charges: {
    readonly count: number;
    readonly ranOut: number;
    /** Run-outs that could be warned of: without a leak that began in the 48 h before. */
    readonly toWarnOf: number;
    readonly warnedInTime: number;
    readonly falseRunOutWarnings: number;
  };
  readonly alarms: {
    readonly raised: number;
    readonly falseAlarms: readonly string[];
    readonly falsePerMonth: number;
    readonly missed: readonly string[];
    readonly faults: number;
  };
  readonly gramsHeld_ratio: number;
  readonly disk: {
    readonly written_bytes: number;
    readonly eachDay_bytes: number;
    readonly file_bytes: number;
  };
  readonly memory: {
    readonly start_bytes: number | undefined;
    readonly end_bytes: number | undefined;
    readonly growth_ratio: number | undefined;
    readonly heaps_bytes: readonly number[];
    readonly rssEnd_bytes: number | undefined;
  };
  readonly goals: readonly Goal[];
}

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const month_days = 365.25 / 12;
const warnedAhead_ms = 48 * hour_ms;
/** A day counts as lost when it misses more than a tenth of its open time, as the refill advice has it. */
const lostShare_ratio = 0.1;
/** A warning that a charge runs out says three days; with twice that left it was no help. */
const falseAbove_days = 6;

function isLost({ wanted_s, dosed_s }: DosingDay): boolean {
  return dosed_s < (1 - lostShare_ratio) * wanted_s;
}

/** What took most of what was missed. */
function mainCause({ missed_s }: DosingDay): MissCause {
  return missCauses.reduce((most, cause) => (missed_s[cause] > missed_s[most] ? cause : most));
}

/**
 * Whether a warning 48 h before its end was due in the life of a charge: one that was refilled earlier needed none. Where a leak
 * began in those 48 h nobody could know.
 */
function isToWarnOf({ ranOut_epochMs, leakOnset_epochMs, ended_epochMs }: ChargeLife): boolean {
  if (ranOut_epochMs === undefined || ended_epochMs < ranOut_epochMs - warnedAhead_ms) return false;
  return leakOnset_epochMs === undefined || leakOnset_epochMs < ranOut_epochMs - warnedAhead_ms;
}

function dateTime(at_epochMs: number): string {
  return new Date(at_epochMs).toISOString().slice(0, 16);
}

/** Reckons the report of a year; each of its goals can be missed. */
export function reportOf(record: YearRecord): YearReport {
  const { days, charges, alarms, faults, heaps, from_epochMs, to_epochMs } = record;
  const simulated_days = (to_epochMs - from_epochMs) / day_ms;
  const lost = days.filter(isLost);
  const lost_days = Object.fromEntries(
    missCauses.map((cause) => [cause, lost.filter((day) => mainCause(day) === cause).length]),
  ) as Record<MissCause, number>;
  const dosable_days = days.length - lost_days.fault - lost_days.ice;
  const dosed_days = days.length - lost.length;
  const dosedOfDosable_ratio = dosable_days === 0 ? 0 : dosed_days / dosable_days;

  const toWarnOf = charges.filter(isToWarnOf);
  const warnedInTime = toWarnOf.filter(
    ({ warned_epochMs, ranOut_epochMs = 0 }) =>
      warned_epochMs !== undefined && warned_epochMs <= ranOut_epochMs - warnedAhead_ms,
  );
  const falseRunOutWarnings = charges
    .flatMap(({ runOutWarnings }) => runOutWarnings)
    .filter(({ left_days }) => left_days > falseAbove_days);

  const falseAlarms = alarms.filter(({ judgement }) => judgement === "false");
  const falsePerMonth = (falseAlarms.length * month_days) / simulated_days;
  const missed = faults.filter(
    ({ isToBeTold, told_epochMs, onset_epochMs, within_min }) =>
      isToBeTold && (told_epochMs === undefined || told_epochMs > onset_epochMs + within_min * 60_000),
  );
  const gramsHeld_ratio = record.grams.looked === 0 ? 0 : record.grams.held / record.grams.looked;
  const first = heaps[0];
  const last = heaps.at(-1);
  const growth_ratio =
    first === undefined || last === undefined || heaps.length < 2
      ? undefined
      : last.heapUsed_bytes / first.heapUsed_bytes - 1;

  const goals: readonly Goal[] = [
    {
      goal: "days dosed of those that neither ice nor a fault took",
      wanted: ">= 99 %",
      found: `${percent(dosedOfDosable_ratio)} (${dosed_days} of ${dosable_days})`,
      isMet: dosedOfDosable_ratio >= 0.99,
    },
    {
      goal: "above the close limit with gas flowing, beyond the lag",
      wanted: "0 h",
      found: `${record.aboveCloseBeyondLag_h.toFixed(2)} h`,
      isMet: record.aboveCloseBeyondLag_h === 0,
    },
    {
      goal: "run-outs warned of 48 h before",
      wanted: "all",
      found: `${warnedInTime.length} of ${toWarnOf.length}`,
      isMet: warnedInTime.length === toWarnOf.length,
    },
    {
      goal: "false run-out warnings a year",
      wanted: "<= 1",
      found: ((falseRunOutWarnings.length * 365) / simulated_days).toFixed(1),
      isMet: (falseRunOutWarnings.length * 365) / simulated_days <= 1,
    },
    {
      goal: "false alarms a month",
      wanted: "< 1",
      found: `${falsePerMonth.toFixed(2)} (${falseAlarms.length})`,
      isMet: falsePerMonth < 1,
    },
    {
      goal: "faults that nobody was told of in time",
      wanted: "0",
      found: `${missed.length} of ${faults.filter(({ isToBeTold }) => isToBeTold).length}`,
      isMet: missed.length === 0,
    },
    {
      goal: "memory grows after warm-up",
      wanted: "< 5 %",
      found: growth_ratio === undefined ? "not measured" : percent(growth_ratio),
      isMet: growth_ratio !== undefined && growth_ratio < 0.05,
    },
  ];

  return {
    seed: record.seed,
    simulated_days,
    took_s: Math.round(record.took_s),
    leaps: record.leaps,
    dosing: {
      wanted_days: days.length,
      dosed_days,
      lost_days,
      dosable_days,
      dosedOfDosable_ratio,
      lost: lost.map(
        (day) =>
          `${day.date} ${day.valveId}: ${mainCause(day)}, ${Math.round((100 * day.dosed_s) / day.wanted_s)} % dosed${day.reasons.length === 0 ? "" : `; ${day.reasons.join("; ")}`}`,
      ),
    },
    co2: {
      aboveAlarm_h: record.aboveAlarm_h,
      aboveClose_h: record.aboveClose_h,
      aboveCloseBeyondLag_h: record.aboveCloseBeyondLag_h,
    },
    charges: {
      count: charges.length,
      ranOut: charges.filter(
        ({ ranOut_epochMs, ended_epochMs }) =>
          ranOut_epochMs !== undefined && ranOut_epochMs <= ended_epochMs,
      ).length,
      toWarnOf: toWarnOf.length,
      warnedInTime: warnedInTime.length,
      falseRunOutWarnings: falseRunOutWarnings.length,
    },
    alarms: {
      raised: alarms.length,
      falseAlarms: falseAlarms.map(
        ({ at_epochMs, alarmId, cause }) => `${dateTime(at_epochMs)} ${alarmId}: ${cause}`,
      ),
      falsePerMonth,
      missed: missed.map(
        ({ onset_epochMs, name, subject }) => `${dateTime(onset_epochMs)} ${name} (${subject})`,
      ),
      faults: faults.length,
    },
    gramsHeld_ratio,
    disk: {
      written_bytes: record.written_bytes,
      eachDay_bytes: Math.round(record.written_bytes / simulated_days),
      file_bytes: record.storeFile_bytes,
    },
    memory: {
      start_bytes: first?.heapUsed_bytes,
      end_bytes: last?.heapUsed_bytes,
      growth_ratio,
      heaps_bytes: heaps.map(({ heapUsed_bytes }) => heapUsed_bytes),
      rssEnd_bytes: last?.rss_bytes,
    },
    goals,
  };
}

function percent(ratio: number): string {
  return `${(100 * ratio).toFixed(1)} %`;
}

function megabytes(bytes: number | undefined): string {
  return bytes === undefined ? "not measured" : `${(bytes / 1e6).toFixed(1)} MB`;
}

/** The report as people read it. */
export function tableOf(report: YearReport): string {
  const { dosing, co2, charges, alarms, disk, memory } = report;
  const { fault, ice, refill, other } = dosing.lost_days;
  const rows: readonly (readonly [string, string])[] = [
    ["seed, days, time taken", `${report.seed}, ${report.simulated_days}, ${report.took_s} s`],
    ["days dosed of days wanted (each valve)", `${dosing.dosed_days} of ${dosing.wanted_days}`],
    [
      "lost to faults, ice, refilling, run-out, other",
      `${fault}, ${ice}, ${refill}, ${dosing.lost_days["run-out"]}, ${other}`,
    ],
    [
      "hours above the alarm limit, above the close limit",
      `${co2.aboveAlarm_h.toFixed(1)}, ${co2.aboveClose_h.toFixed(1)}`,
    ],
    ["charges, of them run out", `${charges.count}, ${charges.ranOut}`],
    [
      "faults, alarms raised, of them false",
      `${alarms.faults}, ${alarms.raised}, ${alarms.falseAlarms.length}`,
    ],
    ["80 % interval of the grams left holds", percent(report.gramsHeld_ratio)],
    [
      "written to disk, in the file at the end",
      `${megabytes(disk.eachDay_bytes)} a day, ${megabytes(disk.file_bytes)}`,
    ],
    ["heap after warm-up, at the end", `${megabytes(memory.start_bytes)}, ${megabytes(memory.end_bytes)}`],
  ];
  const goals = report.goals.map(
    ({ goal, wanted, found, isMet }) =>
      [`${isMet ? "pass" : "FAIL"}  ${goal}`, `${found}, wanted ${wanted}`] as const,
  );
  const width = Math.max(...[...rows, ...goals].map(([what]) => what.length));
  return [...rows, ...goals].map(([what, found]) => `${what.padEnd(width)}  ${found}`).join("\n");
}
