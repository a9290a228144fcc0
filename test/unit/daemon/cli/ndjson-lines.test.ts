import { describe, expect, it } from "vitest";
import { z } from "zod";
import { answerLines, readLine } from "../../../../daemon/cli/ndjson-lines.js";

const spans = { kh_dKH: { quantity: "carbonate hardness", unit: "dKH", minimum: 0, maximum: 40 } };
const schema = z.strictObject({ kh_dKH: z.number().min(0).max(40) });

describe("a line of JSON as a question", () => {
  it("is taken where it fits the schema", () => {
    expect(readLine('{"kh_dKH":4}', schema, spans)).toEqual({ kind: "question", question: { kh_dKH: 4 } });
  });

  it.each([
    { line: '{"kh_dKH":50}', quantity: "carbonate hardness", value: 50, maximum: 40, because: "too much" },
    { line: "{}", quantity: "carbonate hardness", value: null, maximum: 40, because: "missing" },
    {
      line: '{"kh_dKH":4,"__proto__x":1}',
      quantity: "__proto__x",
      value: 1,
      maximum: null,
      because: "unknown",
    },
    {
      line: '{"kh_dKH":4,"toString":1}',
      quantity: "toString",
      value: 1,
      maximum: null,
      because: "inherited name",
    },
    { line: "nonsense", quantity: "line", value: "nonsense", maximum: null, because: "no JSON" },
  ])("is refused by name, value and span: $because", ({ line, quantity, value, maximum }) => {
    const read = readLine(line, schema, spans);
    expect(read.kind).toBe("refused");
    const answer: unknown = JSON.parse(read.kind === "refused" ? read.answer : "{}");
    expect(answer).toMatchObject({ error: { quantity, value, maximum } });
  });

  it("quotes no more than the beginning of a line that is no JSON", () => {
    const read = readLine("x".repeat(100_000), schema, spans);
    expect(read.kind === "refused" ? read.answer.length : Infinity).toBeLessThan(400);
  });

  it("is answered in its turn, blank lines passed over", async () => {
    async function* lines(): AsyncGenerator<string> {
      for (const line of ["a", " ", "b"]) {
        await Promise.resolve();
        yield line;
      }
    }
    const written: string[] = [];
    await answerLines(
      lines(),
      (line) => written.push(line),
      (line) => line.toUpperCase(),
    );
    expect(written).toEqual(["A", "B"]);
  });
});
