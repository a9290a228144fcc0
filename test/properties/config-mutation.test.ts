import { Ajv2020 } from "ajv/dist/2020.js";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import { configJsonSchema } from "../../daemon/config/json-schema.js";
import { formatFault } from "../../daemon/config/config-faults.js";
import { type ParsedConfig, parseConfig } from "../../daemon/config/load-config.js";
import { exampleText } from "../support/marked-config.js";

const seed = 20260310;
/** The example without its remarks, so that a mutation mostly meets what counts. */
const lines = exampleText.split("\n").filter((line) => line.trim() !== "" && !line.trim().startsWith("#"));
const lineIndex = fc.nat({ max: lines.length - 1 });
const oddValue = fc.constantFrom(
  "",
  "~",
  "[]",
  "{}",
  "-1",
  "0",
  "1e99",
  "999999999",
  ".inf",
  ".nan",
  '"90"',
  "yes",
  "off",
  "0x1F",
  "1_000",
  "{a: 1}",
  "[a, b]",
  "*x",
  "&x 1",
  "!t 1",
  "|",
  ">",
  "'",
  '"',
  "@",
  "`",
  "%",
  "- 1",
  "? a",
  "a: b: c",
  "__proto__",
  "constructor",
  "toString",
  "\u{1F41F}",
  "\u2028",
  "$..*",
  "$[",
  "/~",
  "25:00",
  "2026-02-30",
  "cellar",
  "loach-ph",
  "pressure",
  "\t",
);

type Mutation = (text: readonly string[]) => readonly string[];

const mutation: fc.Arbitrary<Mutation> = fc.oneof(
  lineIndex.map(
    (at): Mutation =>
      (text) =>
        text.filter((_, index) => index !== at),
  ),
  fc
    .tuple(lineIndex, lineIndex)
    .map(([from, to]): Mutation => (text) => [...text.slice(0, to), text[from] ?? "", ...text.slice(to)]),
  fc.tuple(lineIndex, oddValue).map(
    ([at, value]): Mutation =>
      (text) =>
        text.map((line, index) => (index === at ? line.replace(/: .*$/, `: ${value}`) : line)),
  ),
  fc.tuple(lineIndex, fc.constantFrom("", " ", "  ", "    ", "\t", "- ", "#")).map(
    ([at, indent]): Mutation =>
      (text) =>
        text.map((line, index) => (index === at ? indent + line.trimStart() : line)),
  ),
  fc.tuple(lineIndex, fc.nat({ max: 60 }), fc.string({ minLength: 1, maxLength: 3, unit: "binary" })).map(
    ([at, column, piece]): Mutation =>
      (text) =>
        text.map((line, index) => (index === at ? line.slice(0, column) + piece + line.slice(column) : line)),
  ),
  fc.tuple(lineIndex, fc.nat({ max: 60 })).map(
    ([at, column]): Mutation =>
      (text) =>
        text.map((line, index) => (index === at ? line.slice(0, column) + line.slice(column + 1) : line)),
  ),
  lineIndex.map(
    (at): Mutation =>
      (text) =>
        text.slice(0, at),
  ),
  fc.tuple(lineIndex, fc.constantFrom("tank", "sensor", "relay", "min", "topic", "cellar", "loach", "_")).map(
    ([at, word]): Mutation =>
      (text) =>
        text.map((line, index) => (index === at ? line.replaceAll(word, `x${word}`) : line)),
  ),
);

function expectReasons(text: string, parsed: ParsedConfig): void {
  if (parsed.kind === "valid") return;
  expect(parsed.faults.length).toBeGreaterThan(0);
  const textLines = text.split("\n");
  for (const fault of [...parsed.faults, ...parsed.warnings]) {
    expect(fault.line).toBeGreaterThanOrEqual(1);
    expect(fault.line).toBeLessThanOrEqual(textLines.length);
    expect(fault.column).toBeGreaterThanOrEqual(1);
    expect(fault.column).toBeLessThanOrEqual((textLines[fault.line - 1]?.length ?? 0) + 1);
    for (const words of [fault.what, fault.allowed, fault.todo]) expect(words.trim()).not.toBe("");
    expect(formatFault("f", fault)).not.toMatch(/undefined|\[object|NaN:|\n/);
  }
}

describe("a mutated example", () => {
  it("never crashes the reader, and each refusal has a reason with a place in the file", () => {
    let refused = 0;
    fc.assert(
      fc.property(fc.array(mutation, { minLength: 1, maxLength: 4 }), (mutations) => {
        const text = mutations.reduce<readonly string[]>((soFar, mutate) => mutate(soFar), lines).join("\n");
        const parsed = parseConfig(text, "f");
        if (parsed.kind === "invalid") refused += 1;
        expectReasons(text, parsed);
      }),
      { seed, numRuns: 1500 },
    );
    expect(refused).toBeGreaterThan(700);
  }, 240_000);

  it("that is accepted is accepted by an independent validator of the JSON Schema too", () => {
    const validate = new Ajv2020({ strict: false, validateFormats: false }).compile(configJsonSchema());
    let accepted = 0;
    fc.assert(
      fc.property(mutation, (mutate) => {
        const text = mutate(lines).join("\n");
        if (parseConfig(text, "f").kind !== "valid") return;
        accepted += 1;
        expect(validate(parse(text)), JSON.stringify(validate.errors)).toBe(true);
      }),
      { seed, numRuns: 1000 },
    );
    expect(accepted).toBeGreaterThan(100);
  }, 240_000);
});

describe("any text at all", () => {
  it("never crashes the reader", () => {
    const yamlish = fc.array(
      fc.oneof(
        fc.constantFrom(
          "site",
          "broker",
          "sensors",
          ": ",
          ":",
          "\n",
          "  ",
          "- ",
          "{",
          "}",
          "[",
          "]",
          "'",
          '"',
          "&a ",
          "*a",
          "#",
          "|",
          ",",
          "!!",
          "<<",
          "?",
          "---\n",
          "%",
          "\t",
        ),
        fc.string({ maxLength: 4 }),
      ),
      { maxLength: 60 },
    );
    fc.assert(
      fc.property(yamlish, (pieces) => {
        const text = pieces.join("");
        const parsed = parseConfig(text, "f");
        expect(parsed.kind).toBe("invalid");
        expectReasons(text, parsed);
      }),
      { seed, numRuns: 3000 },
    );
  }, 120_000);
});
