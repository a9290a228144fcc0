import { describe, expect, it } from "vitest";
import { unknownName } from "../../../daemon/unknown-name.js";

describe("whoever names something that is not there", () => {
  it.each([
    {
      because: "it says what is there",
      given: "attic",
      known: ["cellar", "loft"],
      text: 'there is no vessel "attic"; the config has cellar, loft',
    },
    {
      because: "there may be none",
      given: "x",
      known: [],
      text: 'there is no vessel "x"; the config has no vessel',
    },
    {
      because: "what was typed may hold anything",
      given: "at\ntic\u001b[2J",
      known: ["cellar"],
      text: 'there is no vessel "at?tic?[2J"; the config has cellar',
    },
    {
      because: "what was typed may be long",
      given: "a".repeat(500),
      known: ["cellar"],
      text: `there is no vessel "${"a".repeat(57)}..."; the config has cellar`,
    },
  ])("reads it back in quotation marks: $because", ({ given, known, text }) => {
    expect(unknownName("vessel", given, known)).toBe(text);
  });

  it("is not told hundreds of names", () => {
    const many = Array.from({ length: 300 }, (_, index) => `tank-${index}`);
    expect(unknownName("tank", "x", many)).toMatch(/tank-18, tank-19 and others$/);
  });
});
