export interface Position {
  readonly line: number;
  readonly column: number;
}

/** What is wrong with one place of a configuration file. Lines and columns count from 1. */
export interface ConfigFault extends Position {
  /** The place as a path of keys, as `valves.cellar-outlet.feeds[1].share`; empty for the whole file. */
  readonly keyPath: string;
  readonly what: string;
  readonly allowed: string;
  readonly todo: string;
}

export type KeyPath = readonly (string | number)[];

/** `file:line:column: what is wrong; allowed: what is allowed; what to do` */
export function formatFault(file: string, fault: ConfigFault): string {
  return `${placeOf(file, fault)}${fault.what}; allowed: ${fault.allowed}; ${fault.todo}`;
}

/** What is odd is not forbidden: it says what is usual. */
export function formatWarning(file: string, fault: ConfigFault): string {
  return `${placeOf(file, fault)}(warning) ${fault.what}; usual: ${fault.allowed}; ${fault.todo}`;
}

function placeOf(file: string, { keyPath, line, column }: ConfigFault): string {
  return `${file}:${line}:${column}: ${keyPath === "" ? "" : `${keyPath} `}`;
}

/** A path as a keeper reads it: keys joined by dots, places in a list counted from 0 in brackets. */
export function formatKeyPath(path: KeyPath): string {
  let text = "";
  for (const step of path) {
    if (typeof step === "number") text += `[${step}]`;
    else text += text === "" ? printable(step) : `.${printable(step)}`;
  }
  return text;
}

export function inFileOrder(faults: readonly ConfigFault[]): readonly ConfigFault[] {
  const seen = new Set<string>();
  return [...faults]
    .sort((a, b) => a.line - b.line || a.column - b.column)
    .filter((fault) => {
      const mark = [fault.line, fault.column, fault.keyPath, fault.what].join("\n");
      if (seen.has(mark)) return false;
      seen.add(mark);
      return true;
    });
}

/** A text in double quotes, on one line and at most 60 characters long. */
export function quoted(text: string): string {
  return `"${printable(text)}"`;
}

function printable(text: string): string {
  const oneLine = text.replace(/[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]/gu, "?");
  const characters = Array.from(oneLine);
  return characters.length > 60 ? `${characters.slice(0, 57).join("")}...` : oneLine;
}
