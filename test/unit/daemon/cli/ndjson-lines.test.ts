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

  const answerTo = (line: string): { readonly text: string; readonly answer: Record<string, unknown> } => {
    const read = readLine(line, schema, spans);
    const text = read.kind === "refused" ? read.answer : "{}";
    return { text, answer: JSON.parse(text) as Record<string, unknown> };
  };

  it.each([
    { because: "a list", line: `${"[".repeat(5000)}${"]".repeat(5000)}`, quantity: "line" },
    {
      because: "a field that there is",
      line: `{"kh_dKH":${"[".repeat(5000)}${"]".repeat(5000)}}`,
      quantity: "carbonate hardness",
    },
    {
      because: "one that there is not",
      line: `{"kh_dKH":4,"x":${'{"y":'.repeat(5000)}1${"}".repeat(5000)}}`,
      quantity: "x",
    },
  ])("is refused however deeply it nests, and not repeated: $because", ({ line, quantity }) => {
    expect(answerTo(line).answer).toMatchObject({
      error: { quantity, value: "nested too deeply to be repeated" },
    });
  });

  it("repeats a value that is short, and the beginning of one that is long", () => {
    expect(answerTo('{"kh_dKH":[1,{"a":2}]}').answer).toMatchObject({ error: { value: [1, { a: 2 }] } });
    const long = answerTo(`{"kh_dKH":[${"1,".repeat(5000)}1],"${"k".repeat(5000)}":"${"v".repeat(5000)}"}`);
    expect(long.answer).toMatchObject({
      error: { value: `[${"1,".repeat(100)}`.slice(0, 200) + "..." },
      furtherErrors: [{ quantity: `${"k".repeat(200)}...`, value: `${"v".repeat(200)}...` }],
    });
    expect(long.text.length).toBeLessThan(1500);
  });

  it("names eleven errors and counts the others, in time that grows with the line only", () => {
    const withUnknown = (count: number): string =>
      `{"kh_dKH":4,${Array.from({ length: count }, (_, k) => `"k${String(k)}":1`).join(",")}}`;
    expect(answerTo(withUnknown(11)).answer).not.toHaveProperty("unnamedErrors");
    const started_ms = performance.now();
    const { answer, text } = answerTo(withUnknown(60_000));
    // Searching all fields for each would take minutes.
    expect(performance.now() - started_ms).toBeLessThan(5000);
    expect(answer["error"]).toMatchObject({ quantity: "k0", value: 1 });
    expect(answer["furtherErrors"]).toHaveLength(10);
    expect(answer["unnamedErrors"]).toBe(60_000 - 11);
    expect(text.length).toBeLessThan(3000);
  });

  it("is refused where it is longer than any of ours", () => {
    const { answer, text } = answerTo(`{"kh_dKH":4,"x":"${"y".repeat(1_000_000)}"}`);
    expect(answer).toMatchObject({
      error: { quantity: "line", message: "line: longer than 1000000 characters" },
    });
    expect(text.length).toBeLessThan(500);
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
