/** What happened in the simulated year, as it truly was: plain facts from which the report is reckoned. */

/** Why gas did not flow though its window was open. */
export type MissCause = "fault" | "ice" | "refill" | "run-out" | "other";
export const missCauses = [
  "fault",
  "ice",
  "refill",
  "run-out",
  "other",
] as const satisfies readonly MissCause[];

/** One valve on one day of the calendar. */
export interface DosingDay {
  readonly valveId: string;
  readonly date: string;
  readonly wanted_s: number;
  readonly dosed_s: number;
  readonly missed_s: Readonly<Record<MissCause, number>>;
  /** What the daemon said for what it could not be blamed on anything else. */
  readonly reasons: readonly string[];
}

/** A charge from its closing to the next refill. */
export interface ChargeLife {
  readonly vesselId: string;
  readonly closed_epochMs: number;
  readonly closedWith: "water" | "ice";
  /** What was put in over what was entered. */
  readonly weighed_ratio: number;
  /** When it ended: refilled, or with the year. */
  readonly ended_epochMs: number;
  readonly isRefilled: boolean;
  /** When it was truly used up: in its life, or when it would have been, by the use of its last days; undefined: not known. */
  readonly ranOut_epochMs: number | undefined;
  /** A leak of the vessel that began in it. */
  readonly leakOnset_epochMs: number | undefined;
  /** When a warning that it runs out, or is to be refilled, was told first. */
  readonly warned_epochMs: number | undefined;
  /** Warnings that it runs out, with the days of dosing that truly were left. */
  readonly runOutWarnings: readonly { readonly at_epochMs: number; readonly left_days: number }[];
}

export type AlarmJudgement = "true" | "reminder" | "false";

/** An alarm that was raised. */
export interface RaisedAlarm {
  readonly at_epochMs: number;
  readonly alarmId: string;
  readonly priority: string;
  readonly cause: string;
  readonly judgement: AlarmJudgement;
  /** Whether a message of it reached the keeper. */
  readonly isTold: boolean;
}

/** A fault that was drawn. */
export interface PastFault {
  readonly name: string;
  readonly subject: string;
  readonly onset_epochMs: number;
  readonly ended_epochMs: number;
  /** Whether an alarm has to tell of it. */
  readonly isToBeTold: boolean;
  readonly told_epochMs: number | undefined;
  readonly toldBy: string | undefined;
  readonly within_min: number;
}

export interface YearRecord {
  readonly seed: number;
  readonly from_epochMs: number;
  readonly to_epochMs: number;
  readonly days: readonly DosingDay[];
  readonly charges: readonly ChargeLife[];
  readonly alarms: readonly RaisedAlarm[];
  readonly faults: readonly PastFault[];
  readonly aboveAlarm_h: number;
  readonly aboveClose_h: number;
  /** Of these while gas flowed though it could long have been stopped. */
  readonly aboveCloseBeyondLag_h: number;
  /** Each hour, vessels with an estimate after the charge has settled: whether its 80 % interval of the grams left held. */
  readonly grams: { readonly held: number; readonly looked: number };
  readonly written_bytes: number;
  readonly storeFile_bytes: number;
  /** After a forced collection; the first once the year has warmed up. */
  readonly heaps: readonly {
    readonly at_epochMs: number;
    readonly heapUsed_bytes: number;
    readonly rss_bytes: number;
  }[];
  readonly leaps: number;
  readonly took_s: number;
}
