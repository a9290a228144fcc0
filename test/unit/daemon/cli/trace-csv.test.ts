import { describe, expect, it } from "vitest";
import { createTraceReader, TraceRowError } from "../../../../daemon/cli/trace-csv.js";
import type { SupplyReading } from "../../../../lib/estimation/supply-trace.js";

const header = "at,pressureGauge_bar,temperature_degC,valveOpen";

function read(...lines: readonly string[]): readonly SupplyReading[] {
  const reader = createTraceReader();
  return lines.flatMap((line) => reader.readLine(line) ?? []);
}

function faultOf(...lines: readonly string[]): TraceRowError {
  try {
    read(...lines);
  } catch (error) {
    if (error instanceof TraceRowError) return error;
    throw error;
  }
  throw new Error("the lines were taken");
}

describe("trace as comma-separated values", () => {
  it("reads rows with their columns in any order", () => {
    expect(read("valveOpen,at,vesselMass_g", "1,2026-03-01T10:00:00Z,3399.5")).toEqual([
      { at_epochMs: Date.UTC(2026, 2, 1, 10), valveOpen: true, vesselMass_g: 3399.5 },
    ]);
  });

  it("leaves out what was not read", () => {
    expect(read(header, "2026-03-01T10:00:00Z,,,0")).toEqual([
      { at_epochMs: Date.UTC(2026, 2, 1, 10), valveOpen: false },
    ]);
  });

  it("takes a byte order mark, carriage returns, blank lines and spaces", () => {
    const rows = read(`\uFEFF${header}\r`, "", "2026-03-01T10:00:00Z, 14.25 , -2e0,1\r", "   ");
    expect(rows).toEqual([
      {
        at_epochMs: Date.UTC(2026, 2, 1, 10),
        pressureGauge_bar: 14.25,
        temperature_degC: -2,
        valveOpen: true,
      },
    ]);
  });

  it("takes rows of one instant, and the repeated hour of a clock that goes back", () => {
    expect(
      read(
        header,
        "2026-10-25T02:30:00+02:00,14,20,1",
        "2026-10-25T02:30:00+02:00,14,20,0",
        "2026-10-25T02:30:00+01:00,14,20,0",
      ),
    ).toHaveLength(3);
  });

  it.each([
    { row: `2026-03-01T10:00:00Z,1,2,${"0".repeat(2000)}`, column: "row", because: "no end to it" },
    { row: "2026-03-01T10:00:00Z,fourteen,20,1", column: "pressureGauge_bar", because: "a word" },
    { row: "2026-03-01T10:00:00Z,0x10,20,1", column: "pressureGauge_bar", because: "no decimal number" },
    { row: "2026-03-01T10:00:00Z,NaN,20,1", column: "pressureGauge_bar", because: "no number" },
    { row: "2026-03-01T10:00:00Z,151,20,1", column: "pressureGauge_bar", because: "beyond any gauge" },
    { row: "2026-03-01T10:00:00Z,14,200,1", column: "temperature_degC", because: "beyond any room" },
    { row: "2026-03-01T10:00:00Z,14,20,yes", column: "valveOpen", because: "neither 0 nor 1" },
    { row: "2026-03-01T10:00:00Z,14,20,", column: "valveOpen", because: "required" },
    { row: "2026-03-01T10:00:00,14,20,1", column: "at", because: "without an offset" },
    { row: "2026-03-01T10:00:00Z,14,20", column: "row", because: "a cell short" },
    { row: "2026-03-01T10:00:00Z,14,20,1,7", column: "row", because: "a cell too many" },
  ])("names line and column of $row: $because", ({ row, column }) => {
    const fault = faultOf(header, "2026-03-01T09:00:00Z,14,20,1", "", row);
    expect(fault.line).toBe(4);
    expect(fault.column).toBe(column);
    expect(fault.message).toContain("line 4");
  });

  it("refuses a row that is earlier than the one before", () => {
    const fault = faultOf(header, "2026-03-01T10:00:00Z,14,20,1", "2026-03-01T09:59:59Z,14,20,1");
    expect([fault.line, fault.column]).toEqual([3, "at"]);
  });

  it.each([
    { names: "at,valveOpen,pressure", because: "a column that it does not know" },
    { names: "at,valveOpen,at", because: "a column twice" },
    { names: "at,pressureGauge_bar", because: "no column for the valve" },
  ])("refuses a header with $because", ({ names }) => {
    const fault = faultOf(names);
    expect([fault.line, fault.column]).toEqual([1, "header"]);
  });
});
