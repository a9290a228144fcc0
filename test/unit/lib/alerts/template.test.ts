import { describe, expect, it } from "vitest";
import { filled, placeholdersIn } from "../../../../lib/alerts/template.js";

const values = { count: 3, heading: 'two "words"\nand a line', alarms: [{ id: "a" }], none: null };

describe("a template", () => {
  it.each([
    { because: "a lone placeholder keeps its type", template: "{count}", result: 3 },
    { because: "a list too", template: "{alarms}", result: [{ id: "a" }] },
    { because: "in a text it is written out", template: "{count} of {count}", result: "3 of 3" },
    { because: "doubled braces are braces", template: "{{count}} {count}", result: "{count} 3" },
    { because: "what has no value stays", template: "{other} {toString}", result: "{other} {toString}" },
    {
      because: "a value is not read as a template",
      template: "{a}",
      values: { a: "{b}", b: "x" },
      result: "{b}",
    },
    {
      because: "numbers and null are left",
      template: { a: 1, b: [null, true] },
      result: { a: 1, b: [null, true] },
    },
    { because: "it reaches into lists and objects", template: { a: ["{count}"] }, result: { a: [3] } },
    { because: "keys are left as they are", template: { "{count}": 1 }, result: { "{count}": 1 } },
  ])("$because", ({ template, values: own, result }) => {
    expect(filled(template, own ?? values)).toEqual(result);
  });

  it("makes JSON that any reader takes, whatever the value", () => {
    const body = JSON.stringify(filled({ text: "say: {heading}" }, values));
    expect(JSON.parse(body)).toEqual({ text: 'say: two "words"\nand a line' });
  });

  it("names its placeholders, each once", () => {
    expect(placeholdersIn({ a: "{x} {y}", b: ["{x}", "{{z}}"], c: 1 })).toEqual(["x", "y"]);
  });
});
