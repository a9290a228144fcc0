import { pino, type DestinationStream } from "pino";
import type { LogFields, Logger } from "../ports/logger.js";
import { createBoundedOutput } from "./bounded-output.js";

export type LogLevel = "debug" | "info" | "warn" | "error";

export interface LoggerOptions {
  readonly level: LogLevel;
  readonly monotonic_ms: () => number;
  /** Where the lines go; standard output when left out. */
  readonly destination?: DestinationStream;
}

/** A line that repeats within this time is counted instead of printed. */
const foldWithin_ms = 60_000;
const mostFolds = 500;
/** So much of the log waits for a reader that does not read. */
const mostWaiting_bytes = 1024 * 1024;

const secretKeys = ["password", "token", "secret", "authorization", "key", "passphrase"];

interface Fold {
  readonly first_monotonicMs: number;
  repeats: number;
}

/** JSON lines; repeated lines are folded and counted; values under secret keys are censored at any of three depths. */
export function createPinoLogger(options: LoggerOptions): Logger {
  const log = pino(
    {
      level: options.level,
      base: null,
      timestamp: pino.stdTimeFunctions.isoTime,
      formatters: { level: (label) => ({ level: label }) },
      redact: {
        paths: secretKeys.flatMap((key) => [key, `*.${key}`, `*.*.${key}`]),
        censor: "[not logged]",
      },
    },
    options.destination ?? createBoundedOutput(process.stdout, mostWaiting_bytes, droppedLine),
  );
  const folds = new Map<string, Fold>();
  const at =
    (level: LogLevel) =>
    (fields: LogFields, message: string): void => {
      const key = `${level} ${message} ${JSON.stringify(fields)}`;
      const now_monotonicMs = options.monotonic_ms();
      const fold = folds.get(key);
      if (fold !== undefined && now_monotonicMs - fold.first_monotonicMs < foldWithin_ms) {
        fold.repeats += 1;
        return;
      }
      if (folds.size >= mostFolds) folds.clear();
      folds.set(key, { first_monotonicMs: now_monotonicMs, repeats: 0 });
      const repeated = fold === undefined || fold.repeats === 0 ? {} : { repeatedBefore: fold.repeats };
      log[level]({ ...fields, ...repeated }, message);
    };
  return { debug: at("debug"), info: at("info"), warn: at("warn"), error: at("error") };
}

function droppedLine(dropped: number): string {
  const line = { level: "warn", time: new Date().toISOString(), dropped };
  return `${JSON.stringify({ ...line, msg: "lines of the log were dropped; nobody read them" })}\n`;
}
