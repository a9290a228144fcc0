import { describe, expect, it } from "vitest";
import { answerTankLine, runTankCo2 } from "../../../../daemon/cli/tank-co2.js";
import { tankCo2Command, type TankCo2Options } from "../../../../daemon/cli/tank-co2-text.js";

const question = { pH: 6.6, kh_dKH: 4, temperature_degC: 25 };

type Answer = Record<string, unknown>;
const ask = (given: unknown): Answer => JSON.parse(answerTankLine(JSON.stringify(given))) as Answer;

async function* linesOf(lines: readonly string[]): AsyncGenerator<string> {
  for (const line of lines) {
    await Promise.resolve();
    yield line;
  }
}

describe("tank CO2 by JSON lines", () => {
  it("answers with the four numbers of the interface and no other", () => {
    const answer = ask(question);
    expect(Object.keys(answer)).toEqual([
      "co2_mgPerL",
      "co2Low80_mgPerL",
      "co2High80_mgPerL",
      "ruleOfThumb_mgPerL",
    ]);
    // PHREEQC 3.8.9 with phreeqc.dat, tap water of this pH and hardness at 4.9 mmol/L: 32.74 mg/L.
    expect(Math.abs(Number(answer["co2_mgPerL"]) / 32.74 - 1)).toBeLessThan(0.01);
    // The rule itself: 3 x 4 x 10^0.4.
    expect(Number(answer["ruleOfThumb_mgPerL"])).toBeCloseTo(30.14, 2);
  });

  it("takes 0.05 for the pH and 0.5 dKH for the test where nothing is said", () => {
    expect(ask({ ...question, phUncertainty: 0.05, khUncertainty_dKH: 0.5 })).toEqual(ask(question));
    const sure = ask({ ...question, phUncertainty: 0.01, khUncertainty_dKH: 0.1 });
    expect(Number(sure["co2High80_mgPerL"])).toBeLessThan(Number(ask(question)["co2High80_mgPerL"]));
    expect(sure["co2_mgPerL"]).toBe(ask(question)["co2_mgPerL"]);
  });

  it("takes a conductivity: more salt, less CO2", () => {
    const salty = ask({ ...question, conductivity_uSPerCm: 3000 });
    expect(Number(salty["co2_mgPerL"])).toBeLessThan(Number(ask(question)["co2_mgPerL"]));
    expect(salty["ruleOfThumb_mgPerL"]).toBe(ask(question)["ruleOfThumb_mgPerL"]);
  });

  it.each<readonly [string, object, object]>([
    ["a pH outside", { ...question, pH: 3 }, { quantity: "pH", value: 3, unit: "", minimum: 4, maximum: 10 }],
    [
      "no hardness to speak of",
      { ...question, kh_dKH: 0 },
      { quantity: "carbonate hardness", value: 0, unit: "dKH", minimum: 0.1, maximum: 40 },
    ],
    [
      "a temperature outside",
      { ...question, temperature_degC: 50 },
      { quantity: "temperature", value: 50, unit: "degC", minimum: 0, maximum: 45 },
    ],
    [
      "sea water",
      { ...question, conductivity_uSPerCm: 53_000 },
      { quantity: "conductivity", value: 53_000, unit: "uS/cm", minimum: 0, maximum: 35_000 },
    ],
    [
      "a negative uncertainty",
      { ...question, khUncertainty_dKH: -1 },
      { quantity: "hardness uncertainty", value: -1, unit: "dKH", minimum: 0, maximum: 10 },
    ],
    ["a missing field", { pH: 7, kh_dKH: 4 }, { quantity: "temperature", value: null, unit: "degC" }],
    ["text for a number", { ...question, pH: "6.6" }, { quantity: "pH", value: "6.6" }],
    ["an unknown field", { ...question, gh: 8 }, { quantity: "gh", value: 8 }],
    [
      "a hardness below the hydroxide of its pH, in the unit it was given in",
      { ...question, pH: 9.9, kh_dKH: 0.1 },
      { quantity: "carbonate hardness", value: 0.1, unit: "dKH", maximum: 40 },
    ],
  ])("answers %s with an error that names it", (_name, given, error) => {
    const answer = ask(given);
    expect(answer).toMatchObject({ error });
    expect(Object.keys(answer["error"] as Answer)).toEqual(
      expect.arrayContaining(["quantity", "value", "unit", "minimum", "maximum"]),
    );
  });

  it("names every bad field of a line", () => {
    expect(ask({ pH: 1, kh_dKH: 99, temperature_degC: 25 })).toMatchObject({
      error: { quantity: "pH" },
      furtherErrors: [{ quantity: "carbonate hardness" }],
    });
  });

  it.each(["{", "[]", "7", "null", '"text"'])("answers %s, which is no reading, with an error", (line) => {
    expect(JSON.parse(answerTankLine(line))).toHaveProperty("error");
  });

  it("keeps the order, goes on after a bad line and passes over blank ones", async () => {
    const written: string[] = [];
    await runTankCo2(
      linesOf([JSON.stringify(question), "", "oops", JSON.stringify({ ...question, pH: 7 })]),
      (line) => written.push(line),
    );
    const answers = written.map((line) => JSON.parse(line) as Answer);
    expect(answers).toHaveLength(3);
    expect(answers[1]).toHaveProperty("error.quantity", "line");
    expect(Number(answers[2]!["co2_mgPerL"])).toBeLessThan(Number(answers[0]!["co2_mgPerL"]));
  });
});

describe("tank CO2 for a person", () => {
  const run = (options: TankCo2Options): { readonly text: string; readonly exitCode: number } => {
    const lines: string[] = [];
    const exitCode = tankCo2Command(options, (line) => lines.push(line));
    return { text: lines.join("\n"), exitCode };
  };
  const typed = { pH: "6.6", kh: "4", temperature: "25" };

  it("shows the estimate, the interval and how far the rule of thumb is off, with two digits", () => {
    const { text, exitCode } = run(typed);
    expect(exitCode).toBe(0);
    expect(text).toMatch(/^CO2 +33 mg\/L$/m);
    expect(text).toMatch(/^80 % interval +26 to 41 mg\/L$/m);
    expect(text).toMatch(/^rule of thumb +30 mg\/L .*: 8 % low in this water, not used$/m);
    expect(text).not.toMatch(/\d\.\d\d/);
  });

  it("warns where the interval reaches what animals may suffer from, and not below", () => {
    expect(run(typed).text).toContain("Caution:");
    expect(run({ ...typed, pH: "7.2" }).text).not.toContain("Caution:");
  });

  it.each([
    {
      pH: "6.6",
      because: "33 mg/L",
      says: /^Caution: the interval reaches 30 mg\/L/m,
      not: /ALARM|DANGER|Impossible/,
    },
    { pH: "6.45", because: "46 mg/L", says: /^ALARM: above 40 mg\/L/m, not: /DANGER|Caution:|Impossible/ },
    {
      pH: "6.2",
      because: "82 mg/L",
      says: /^DANGER: above 60 mg\/L.*aerate strongly/ms,
      not: /ALARM|Impossible/,
    },
    {
      pH: "4.5",
      because: "4100 mg/L",
      says: /^Impossible: water at 25 degC under pure CO2 holds 14[0-9]0 mg\/L/m,
      not: /ALARM/,
    },
  ])("grades what it says of $because", ({ pH, says, not }) => {
    const { text } = run({ ...typed, pH });
    expect(text).toMatch(says);
    expect(text).not.toMatch(not);
  });

  it("says that the valve might close by the interval's upper end", () => {
    expect(run({ ...typed, pH: "6.5", phUncertainty: "0.2" }).text).toMatch(
      /^It may be \d+, above the 60 mg\/L from which the daemon closes/m,
    );
  });

  it("says that a hardness within the test's own error is hardly known", () => {
    expect(run({ ...typed, kh: "0.5", pH: "6.2" }).text).toContain("no larger than the test's own error");
    expect(run({ ...typed, kh: "0.5", pH: "6.2", khUncertainty: "0.1" }).text).not.toContain("own error");
  });

  it("shows by how much brown water misleads", () => {
    const { text } = run({ ...typed, kh: "1", pH: "6.4", organicCarbon: "20" });
    expect(text).toMatch(/^other bases +0\.\d+ dKH/m);
    expect(text).toMatch(/^without them .* % high$/m);
    expect(run(typed).text).not.toContain("other bases");
  });

  it.each([
    { options: { kh: "4", temperature: "25" }, says: "--pH is needed" },
    { options: { ...typed, kh: "four" }, says: '--kh needs a number, not "four"' },
    { options: { ...typed, temperature: "" }, says: "--temperature needs a number" },
    { options: { ...typed, kh: "60" }, says: "carbonate hardness is 60 dKH; allowed is 0.1 to 40 dKH" },
    {
      options: { ...typed, kh: "0.2", phosphate: "200" },
      says: "carbonate hardness is 0.2 dKH",
    },
  ])("says $says", ({ options, says }) => {
    const { text, exitCode } = run(options);
    expect(exitCode).toBe(1);
    expect(text).toContain(says);
    expect(text.split("\n")).toHaveLength(1);
  });
});
