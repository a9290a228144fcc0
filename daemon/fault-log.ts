import type { Logger } from "./ports/logger.js";

/** A fault that comes back with each pass is logged once for each reason, until it is over. */
export interface FaultLog {
  note(error: unknown): void;
  over(): void;
}

export function createFaultLog(logger: Pick<Logger, "error">, message: string): FaultLog {
  let known: string | undefined;

  return {
    note(error) {
      const reason = error instanceof Error ? error.message : String(error);
      const isNew = known !== reason;
      known = reason;
      if (isNew) logger.error({ reason, stack: error instanceof Error ? error.stack : undefined }, message);
    },
    over() {
      known = undefined;
    },
  };
}
