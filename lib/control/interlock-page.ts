import { interlockRows, type InterlockRow } from "./interlock-rules.js";

const heads = ["rule", "condition", "beside closing", "latch", "who lets gas flow again", "tested by"];

/** The rules of the interlock as a page in Markdown, in the form that the project's formatter keeps. */
export function interlockPage(): string {
  const rows = Object.entries(interlockRows).map(([id, row]) => cellsOf(id, row));
  const widths = heads.map((head, column) =>
    Math.max(head.length, ...rows.map((cells) => cells[column]?.length ?? 0)),
  );
  const line = (cells: readonly string[]): string =>
    `| ${cells.map((cell, column) => cell.padEnd(widths[column] ?? 0)).join(" | ")} |`;
  return [
    "# What closes the gas",
    "",
    "Made by `npm run -s interlock-page` from `lib/control/interlock-rules.ts`; do not edit it by hand.",
    "",
    "Gas flows only while none of these holds. Each closes the valve and keeps it closed; unknown means closed. No message by MQTT, no page and no hub re-arms a trip or lifts a lock. None of it replaces the vessel's relief device, a gas alarm, local codes or people licensed for pressure equipment.",
    "",
    line(heads),
    line(widths.map((width) => "-".repeat(width))),
    ...rows.map(line),
    "",
  ].join("\n");
}

function cellsOf(id: string, row: InterlockRow): readonly string[] {
  return [id, row.condition, row.action, row.latch, row.released, `\`${row.test}\``];
}
