import { describe, expect, it } from "vitest";
import { parseConfig } from "../../../../daemon/config/load-config.js";
import { edited, exampleText } from "../../../support/marked-config.js";

const withPlausible = (maximum: string): readonly string[] =>
  parseConfig(
    edited(exampleText, [
      [
        "topic: cellar/air/co2",
        `topic: cellar/air/co2\n    plausible: { minimum: 200, maximum: ${maximum} }`,
      ],
    ]),
    "home.yaml",
  ).warnings.map(({ keyPath, what }) => `${keyPath} ${what}`);

describe("the sensor of a room's air", () => {
  it("is warned of where it is not believed up to where people must leave", () => {
    expect(withPlausible("5000")).toContainEqual(
      expect.stringMatching(
        /^sensors\.cellar-air\.plausible\.maximum is 5000 ppm.*leave a room at 30000 ppm/,
      ),
    );
  });

  it("is not where it is", () => {
    expect(withPlausible("50000").filter((line) => line.includes("cellar-air"))).toEqual([]);
  });
});
