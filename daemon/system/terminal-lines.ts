/** What a terminal shows of a log line: time of day, level where it matters, message, and the fields that say why. */
export function terminalLine(json: string): string {
  const parsed = parse(json);
  if (parsed === undefined) return json;
  const { time, level, msg, ...fields } = parsed;
  const clock = typeof time === "string" ? time.slice(11, 19) : "";
  const mark = level === "warn" || level === "error" ? `${level.toUpperCase()} ` : "";
  const rest = Object.entries(fields)
    .filter(([, value]) => value !== "" && value !== undefined)
    .map(([key, value]) => `${key}=${typeof value === "string" ? value : JSON.stringify(value)}`)
    .join("  ");
  return `${clock}  ${mark}${typeof msg === "string" ? msg : ""}${rest === "" ? "" : `  ${rest}`}`;
}

function parse(json: string): Record<string, unknown> | undefined {
  try {
    const value: unknown = JSON.parse(json);
    return typeof value === "object" && value !== null ? { ...value } : undefined;
  } catch {
    return undefined;
  }
}
