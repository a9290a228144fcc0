import type { SupplyReading } from "../../lib/estimation/supply-trace.js";
import { instantFromText } from "./instant-text.js";

/** A row that cannot be taken: where it stands and what is wrong with it. */
export class TraceRowError extends Error {
  override readonly name = "TraceRowError";

  constructor(
    readonly line: number,
    readonly column: string,
    readonly value: string,
    readonly what: string,
  ) {
    super(`line ${line}, ${column}: ${what}${value === "" ? "" : ` (it is "${value.slice(0, 60)}")`}`);
  }
}

/** What a column may hold; every limit is far outside what a vessel at home can show. */
const numberColumns = {
  pressureGauge_bar: { minimum: -1.1, maximum: 150 },
  temperature_degC: { minimum: -30, maximum: 80 },
  vesselMass_g: { minimum: 0, maximum: 200_000 },
} as const;
type NumberColumn = keyof typeof numberColumns;

const requiredColumns = ["at", "valveOpen"] as const;
const knownColumns: readonly string[] = [...requiredColumns, ...Object.keys(numberColumns), "byEye"];
/** No row of so few columns is as long. */
const longestRow = 2000;
const plainNumber = /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/;

/** Takes the lines of a trace one by one. */
export interface TraceReader {
  /** The row of a line; undefined for the header and for an empty line. @throws TraceRowError */
  readLine(text: string): SupplyReading | undefined;
}

/**
 * A reader of traces as comma-separated values: a line of column names, then a row a line, in order of time. `at` (ISO 8601
 * with offset) and `valveOpen` (0 or 1) stand in every row; a cell of another column may be empty where nothing was read.
 */
export function createTraceReader(): TraceReader {
  let line = 0;
  let columns: readonly string[] | undefined;
  let last_epochMs = -Infinity;
  return {
    readLine(text) {
      line += 1;
      const bare = (line === 1 ? text.replace(/^\uFEFF/, "") : text).replace(/\r$/, "");
      if (bare.length > longestRow) {
        throw new TraceRowError(line, "row", "", `longer than ${longestRow} characters`);
      }
      if (bare.trim() === "") return undefined;
      const cells = bare.split(",");
      if (columns === undefined) {
        columns = checkedHeader(line, cells);
        return undefined;
      }
      const reading = readingFrom(line, columns, cells);
      if (reading.at_epochMs < last_epochMs) {
        throw new TraceRowError(
          line,
          "at",
          cells[columns.indexOf("at")] ?? "",
          "earlier than the row before",
        );
      }
      last_epochMs = reading.at_epochMs;
      return reading;
    },
  };
}

function checkedHeader(line: number, cells: readonly string[]): readonly string[] {
  const columns = cells.map((cell) => cell.trim());
  for (const [index, column] of columns.entries()) {
    if (!knownColumns.includes(column)) {
      throw new TraceRowError(line, "header", column, `no such column; known: ${knownColumns.join(", ")}`);
    }
    if (columns.indexOf(column) !== index) throw new TraceRowError(line, "header", column, "named twice");
  }
  for (const column of requiredColumns) {
    if (!columns.includes(column))
      throw new TraceRowError(line, "header", "", `the column ${column} is missing`);
  }
  return columns;
}

function readingFrom(line: number, columns: readonly string[], cells: readonly string[]): SupplyReading {
  if (cells.length !== columns.length) {
    throw new TraceRowError(line, "row", "", `${cells.length} cells under ${columns.length} column names`);
  }
  const reading: { -readonly [K in keyof SupplyReading]: SupplyReading[K] } = {
    at_epochMs: Number.NaN,
    valveOpen: false,
  };
  for (const [index, column] of columns.entries()) {
    const cell = (cells[index] ?? "").trim();
    switch (column) {
      case "at": {
        const at_epochMs = instantFromText(cell);
        if (at_epochMs === undefined) {
          throw new TraceRowError(
            line,
            column,
            cell,
            "no instant as ISO 8601 with an offset, 2026-03-29T14:00:00+02:00",
          );
        }
        reading.at_epochMs = at_epochMs;
        break;
      }
      case "valveOpen":
        reading.valveOpen = flag(line, column, cell);
        break;
      case "byEye":
        if (cell !== "") reading.byEye = flag(line, column, cell);
        break;
      default:
        if (cell !== "" && isNumberColumn(column)) reading[column] = numberIn(line, column, cell);
    }
  }
  return reading;
}

function isNumberColumn(column: string): column is NumberColumn {
  return Object.hasOwn(numberColumns, column);
}

function flag(line: number, column: string, cell: string): boolean {
  if (cell !== "0" && cell !== "1") throw new TraceRowError(line, column, cell, "neither 0 nor 1");
  return cell === "1";
}

function numberIn(line: number, column: NumberColumn, cell: string): number {
  if (!plainNumber.test(cell)) throw new TraceRowError(line, column, cell, "no number");
  const value = Number(cell);
  const { minimum, maximum } = numberColumns[column];
  if (!(value >= minimum && value <= maximum)) {
    throw new TraceRowError(line, column, cell, `outside ${minimum} to ${maximum}`);
  }
  return value;
}
