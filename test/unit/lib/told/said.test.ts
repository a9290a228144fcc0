import { describe, expect, it } from "vitest";
import { plainText } from "../../../../lib/told/plain-text.js";
import {
  bar,
  celsius,
  day,
  grams,
  instant,
  litres,
  readSaid,
  said,
  saidList,
} from "../../../../lib/told/said.js";

describe("a sentence with its quantities as such", () => {
  it("keeps them apart from its text, and joins texts that touch", () => {
    const inner = said`at ${celsius(20.4, 1)}`;
    expect(said`${2} vessels, ${bar(12.38, 1)} ${inner}`).toEqual([
      "2 vessels, ",
      { kind: "pressure", gauge_bar: 12.38, places: 1 },
      " at ",
      { kind: "temperature", temperature_degC: 20.4, places: 1 },
    ]);
    expect(JSON.parse(JSON.stringify(inner))).toEqual(inner);
  });

  it.each([
    { sentence: said`${bar(12.38, 1)}`, plain: "12.4 bar", because: "rounded where places are given" },
    { sentence: said`${litres(37.85)}`, plain: "37.85 L", because: "as it was entered where not" },
    { sentence: said`${grams(82, 0)}, ${celsius(19.5)}`, plain: "82 g, 19.5 degC", because: "two of them" },
    {
      sentence: said`${day("2026-03-14")}, ${instant(Date.parse("2026-03-14T17:30:00+01:00"))}`,
      plain: "2026-03-14, Saturday 2026-03-14 17:30",
      because: "dates on the clock of the site",
    },
    {
      sentence: [
        { kind: "pressure as read", gauge_bar: 12.4106, asRead: { value: 180, unit: "psi" } } as const,
      ],
      plain: "180 psi (12.41 bar)",
      because: "as it stood on the face, and in bar",
    },
    { sentence: saidList([said`a`, said`b`], ", "), plain: "a, b", because: "a list" },
  ])("is plain in $plain: $because", ({ sentence, plain }) => {
    expect(plainText(sentence, "Europe/Berlin")).toBe(plain);
  });

  it.each([
    { kept: said`at ${bar(2)} on ${day("2026-03-14")}`, isRead: true, because: "as it was kept" },
    { kept: "at 2 bar", isRead: false, because: "plain text" },
    { kept: ["at ", { kind: "pressure", gauge_bar: null }], isRead: false, because: "no number" },
    { kept: [{ kind: "furlong", value: 1 }], isRead: false, because: "a kind of a later version" },
    { kept: [{ kind: "mass", mass_g: 2, places: 99 }], isRead: false, because: "places that cannot be" },
    { kept: [{ kind: "date", date: "soon" }], isRead: false, because: "no date" },
  ])("is read back from JSON only where it can be written: $because", ({ kept, isRead }) => {
    const back = readSaid(JSON.parse(JSON.stringify(kept)));
    expect(back).toEqual(isRead ? kept : undefined);
  });
});
