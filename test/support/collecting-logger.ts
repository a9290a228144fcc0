import type { Logger } from "../../daemon/ports/logger.js";

export interface LogLine {
  readonly level: keyof Logger;
  readonly fields: Readonly<Record<string, unknown>>;
  readonly message: string;
}

/** Keeps what was logged, so that a test can look. */
export class CollectingLogger implements Logger {
  readonly lines: LogLine[] = [];

  debug = (fields: LogLine["fields"], message: string): void =>
    void this.lines.push({ level: "debug", fields, message });
  info = (fields: LogLine["fields"], message: string): void =>
    void this.lines.push({ level: "info", fields, message });
  warn = (fields: LogLine["fields"], message: string): void =>
    void this.lines.push({ level: "warn", fields, message });
  error = (fields: LogLine["fields"], message: string): void =>
    void this.lines.push({ level: "error", fields, message });
}
