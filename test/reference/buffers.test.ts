import { describe, expect, it } from "vitest";
import { bufferPh, type BufferName } from "../../lib/tank/buffer-solutions.js";
import { missOf, readReference } from "./read-reference.js";

interface BufferRow {
  readonly buffer: BufferName;
  readonly temperature_degC: number;
  readonly expected: number;
}

const tables = [
  "buffer-phthalate.json",
  "buffer-hamer.json",
  "buffer-standards.json",
  "buffer-alkaline.json",
  "buffer-printed.json",
];

describe.each(tables)("calibration buffers against %s", (name) => {
  const table = readReference<BufferRow>(name);

  it.each(table.rows)("$buffer at $temperature_degC degC has a pH of $expected", (row) => {
    const computed = bufferPh(row.buffer, row.temperature_degC);
    expect(
      missOf(table, computed, row.expected),
      `${table.quantity} ${String(computed)}, published ${String(row.expected)} (${table.source})`,
    ).toBeLessThanOrEqual(table.tolerance);
  });
});
