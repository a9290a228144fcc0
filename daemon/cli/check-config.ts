import { withDateWarnings } from "../config/check-dates.js";
import { formatFault, formatWarning, inFileOrder } from "../config/config-faults.js";
import { loadConfig, type ParsedConfig } from "../config/load-config.js";
import { resolveAlertSecrets } from "../config/resolve-alert-secrets.js";
import { resolvePageToken } from "../config/resolve-page-token.js";
import { resolveSecrets } from "../config/resolve-secrets.js";
import type { SecretFileReader } from "../config/secret-reading.js";

export interface CheckConfigOptions {
  readonly now_epochMs: number;
  /** Opens the files that the config names. */
  readonly readFile: SecretFileReader;
  readonly environment: Readonly<Record<string, string | undefined>>;
  /** Takes one line, without its line end. */
  readonly write: (line: string) => void;
}

const mostLines = 500;

/** Prints what is wrong with a configuration file, and what is odd. @returns the exit code: 0 without fault, else 1. */
export async function checkConfigCommand(path: string, options: CheckConfigOptions): Promise<number> {
  const dated = withDateWarnings(await loadConfig(path), options.now_epochMs);
  const checked = await withNamedFiles(dated, options);
  const faults = checked.kind === "invalid" ? checked.faults : [];
  const lines = [
    ...faults.map((fault) => ({ fault, text: formatFault(path, fault) })),
    ...checked.warnings.map((fault) => ({
      fault,
      text: formatWarning(path, fault),
    })),
  ].sort((a, b) => a.fault.line - b.fault.line || a.fault.column - b.fault.column);
  for (const { text } of lines.slice(0, mostLines)) options.write(text);
  if (lines.length > mostLines) options.write(`${path}: and ${lines.length - mostLines} more`);

  const ofWarnings = counted(checked.warnings.length, "warning");
  if (checked.kind === "valid") {
    options.write(`${path}: no fault, ${ofWarnings}`);
    return 0;
  }
  const rest = checked.isComplete ? "" : "; the keys and values are checked once the file can be read";
  options.write(`${path}: ${counted(faults.length, "fault")}, ${ofWarnings}${rest}`);
  return 1;
}

/** A valid config with what is wrong with the files that it names. */
async function withNamedFiles(
  parsed: ParsedConfig,
  { readFile, environment }: CheckConfigOptions,
): Promise<ParsedConfig> {
  if (parsed.kind === "invalid") return parsed;
  const resolved = await resolveSecrets(parsed.config, readFile, parsed.positionOf);
  const ofAlerts = await resolveAlertSecrets(parsed.config, readFile, environment, parsed.positionOf);
  const ofPage = await resolvePageToken(parsed.config, readFile, parsed.positionOf);
  const warnings = inFileOrder([
    ...parsed.warnings,
    ...resolved.warnings,
    ...ofAlerts.warnings,
    ...ofPage.warnings,
  ]);
  const faults = [
    ...(resolved.kind === "unreadable" ? resolved.faults : []),
    ...ofAlerts.faults,
    ...ofPage.faults,
  ];
  return faults.length > 0
    ? { kind: "invalid", faults: inFileOrder(faults), warnings, isComplete: true }
    : { ...parsed, warnings };
}

function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? "" : "s"}`;
}
