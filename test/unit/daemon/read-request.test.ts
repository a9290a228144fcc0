import { describe, expect, it } from "vitest";
import { z } from "zod";
import { readRequest } from "../../../daemon/read-request.js";

const schema = z.strictObject({
  pH: z.number(),
  days: z.int().min(1).max(9).exactOptional(),
  note: z.string().max(5).exactOptional(),
  buffers: z
    .array(z.strictObject({ shown: z.number() }))
    .max(2)
    .exactOptional(),
  done: z.boolean().exactOptional(),
  fact: z.record(z.string(), z.unknown()).exactOptional(),
});

const reasonOf = (content: unknown): string => {
  const read = readRequest(schema, content);
  return read.kind === "read" ? "read" : read.reason;
};

describe("a request that cannot be taken", () => {
  it.each<readonly [unknown, string]>([
    [{ pH: 7 }, "read"],
    [{}, "pH is missing"],
    [{ pH: "7,1" }, "pH must be a number: write 7.1 with a point, not a comma, and without quotes"],
    [{ pH: "7.1" }, "pH must be a number, not text: write 7.1 without quotes"],
    [{ pH: "seven" }, "pH must be a number, not text"],
    [{ pH: null }, "pH must be a number, not null"],
    [{ pH: [7] }, "pH must be a number, not a list"],
    [{ pH: Infinity }, "pH is too large a number"],
    [{ ph: 7 }, '"ph" is not known here; "pH" is needed'],
    [{ pH: 7, colour: 1 }, '"colour" is not known here'],
    [{ pH: 7, days: 1.5 }, "days must be a whole number"],
    [{ pH: 7, days: 0 }, "days is too small: at least 1"],
    [{ pH: 7, days: 10 }, "days is too large: at most 9"],
    [{ pH: 7, note: "too long" }, "note is too long: at most 5 characters"],
    [{ pH: 7, note: 5 }, "note must be text, not 5"],
    [{ pH: 7, buffers: [{ shown: "x" }] }, "buffers[0].shown must be a number, not text"],
    [{ pH: 7, buffers: [{}] }, "buffers[0].shown is missing"],
    [{ pH: 7, done: "yes" }, 'done must be true or false, not "yes"'],
    [{ pH: 7, fact: "kh 4" }, 'fact must be a JSON object, not "kh 4"'],
    [[], "send one JSON object"],
    [7, "send one JSON object"],
  ])("%j: %s", (content, reason) => {
    expect(reasonOf(content)).toBe(reason);
  });

  it("names several faults, and no more than four", () => {
    const reason = reasonOf({ pH: "x", days: "x", note: 1, done: 1, fact: 1 });
    expect(reason.split("; ")).toHaveLength(5);
    expect(reason).toContain("and 1 more");
  });

  it("prints nothing of what was sent that could move a terminal's cursor, and not all of it", () => {
    const reason = reasonOf({ pH: 7, [`\u001b[2J${"x".repeat(500)}`]: 1 });
    expect(reason).not.toContain("\u001b");
    expect(reason.length).toBeLessThan(120);
  });
});
