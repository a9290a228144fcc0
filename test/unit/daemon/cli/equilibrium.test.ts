import { describe, expect, it } from "vitest";
import { answerLine, runEquilibrium } from "../../../../daemon/cli/equilibrium.js";

const question = {
  citricAcidAnhydrous_g: 80,
  sodiumBicarbonate_g: 140,
  water_kg: 1,
  vesselVolume_L: 2,
  sealedAt_degC: 20,
  temperature_degC: 20,
};

type Answer = Record<string, unknown>;
const ask = (given: unknown): Answer => JSON.parse(answerLine(JSON.stringify(given))) as Answer;
const without = (field: keyof typeof question): object =>
  Object.fromEntries(Object.entries(question).filter(([name]) => name !== field));

async function* linesOf(lines: readonly string[]): AsyncGenerator<string> {
  for (const line of lines) {
    await Promise.resolve();
    yield line;
  }
}

describe("equilibrium by JSON lines", () => {
  it("answers with every field of the interface, as numbers", () => {
    const answer = ask(question);
    for (const field of [
      "pressureAbsolute_bar",
      "pressureGauge_bar",
      "pH",
      "co2Gas_mol",
      "co2Dissolved_mol",
      "bicarbonate_mol",
      "solidBicarbonate_mol",
      "ionicStrength_molPerKg",
      "co2Remaining_mol",
    ]) {
      expect(answer[field]).toEqual(expect.any(Number));
    }
    // PHREEQC 3 with sit.dat (ThermoChimie v12a): 18.075 bar, pH 5.928.
    expect(Math.abs(Number(answer["pressureAbsolute_bar"]) / 18.075 - 1)).toBeLessThan(0.02);
    expect(Math.abs(Number(answer["pH"]) - 5.928)).toBeLessThan(0.05);
    expect(answer["outsideModel"]).toEqual([]);
    expect(answer).not.toHaveProperty("kind");
  });

  it("takes the monohydrate, what was removed and how", () => {
    const mono = ask({
      ...without("citricAcidAnhydrous_g"),
      citricAcidMonohydrate_g: 87.5,
      removedCo2_mol: 0.3,
      withdrawal: "co2-only",
    });
    expect(mono["co2Remaining_mol"]).toBeCloseTo((3 * 87.5) / 210.138 - 0.3, 9);
  });

  it("tells what lies outside the model", () => {
    const cold = ask({ ...question, water_kg: 0.5, citricAcidAnhydrous_g: 120, temperature_degC: 0 });
    expect(cold["outsideModel"]).toEqual([
      { kind: "hydrate", reason: expect.stringContaining("12.6 bar") as string },
    ]);
  });

  it.each<readonly [string, object, object]>([
    [
      "a negative mass",
      { ...question, sodiumBicarbonate_g: -1 },
      { quantity: "sodium bicarbonate", value: -1, unit: "g", minimum: 0, maximum: 110_000 },
    ],
    [
      "a temperature outside",
      { ...question, temperature_degC: 50 },
      { quantity: "temperature", value: 50, unit: "degC", minimum: 0, maximum: 45 },
    ],
    [
      "a missing field",
      without("water_kg"),
      { quantity: "water", value: null, unit: "kg", minimum: 0, maximum: 50 },
    ],
    ["text for a number", { ...question, water_kg: "1" }, { quantity: "water", value: "1", unit: "kg" }],
    ["no acid named", without("citricAcidAnhydrous_g"), { quantity: "citric acid", value: null, unit: "g" }],
    ["both acids", { ...question, citricAcidMonohydrate_g: 10 }, { quantity: "citric acid" }],
    ["an unknown field", { ...question, colour: "red" }, { quantity: "colour", value: "red" }],
    ["an unknown withdrawal", { ...question, withdrawal: "all" }, { quantity: "withdrawal", value: "all" }],
    [
      "water that this vessel cannot hold",
      { ...question, water_kg: 1.95 },
      { quantity: "water", value: 1.95, unit: "kg" },
    ],
    [
      "more removed than there was",
      { ...question, removedCo2_mol: 2 },
      { quantity: "removed CO2", value: 2, unit: "mol", minimum: 0 },
    ],
  ])("answers %s with an error that names it", (_name, given, error) => {
    expect(ask(given)).toMatchObject({ error });
  });

  it.each([
    {
      given: { ...without("citricAcidAnhydrous_g"), citricAcid_g: 80 },
      says: "citricAcid_g: no such field; did you mean citricAcidAnhydrous_g or citricAcidMonohydrate_g?",
      because: "the bag's form is 9 % of the acid",
    },
    {
      given: { ...without("vesselVolume_L"), vesselVolume_mL: 2000 },
      says: "vesselVolume_mL: no such field; did you mean vesselVolume_L?",
      because: "another unit",
    },
    {
      given: { ...without("water_kg"), watre_kg: 1 },
      says: "watre_kg: no such field; did you mean water_kg?",
      because: "two letters exchanged",
    },
    {
      given: { ...question, withdraw: "co2-only" },
      says: "withdraw: no such field; did you mean withdrawal?",
      because: "the beginning of a field that may be left out",
    },
    { given: { ...question, colour: "red" }, says: /: no such field$/, because: "like none" },
    { given: { ...question, water_g: 1000 }, says: /: no such field$/, because: "what it may mean is there" },
  ])("proposes the field that was likely meant: $because", ({ given, says }) => {
    const { error, furtherErrors = [] } = ask(given) as {
      readonly error: { readonly message: string };
      readonly furtherErrors?: readonly { readonly message: string }[];
    };
    const messages = [error, ...furtherErrors].map(({ message }) => message);
    expect(messages).toContainEqual(
      typeof says === "string" ? says : (expect.stringMatching(says) as unknown),
    );
  });

  it("names every bad field of a line", () => {
    const answer = ask({ ...question, water_kg: -1, temperature_degC: 99 });
    expect(answer).toMatchObject({
      error: { quantity: "water" },
      furtherErrors: [{ quantity: "temperature" }],
    });
  });

  it.each(["{", "[]", "7", "null", '"text"'])("answers %s, which is no question, with an error", (line) => {
    expect(JSON.parse(answerLine(line))).toHaveProperty("error");
  });

  it("keeps the order, goes on after a bad line and passes over blank ones", async () => {
    const written: string[] = [];
    await runEquilibrium(
      linesOf([JSON.stringify(question), "", "oops", JSON.stringify({ ...question, temperature_degC: 30 })]),
      (line) => written.push(line),
    );
    const answers = written.map((line) => JSON.parse(line) as Answer);
    expect(answers).toHaveLength(3);
    expect(answers[1]).toHaveProperty("error.quantity", "line");
    expect(Number(answers[2]!["pressureAbsolute_bar"])).toBeGreaterThan(
      Number(answers[0]!["pressureAbsolute_bar"]),
    );
    expect(written.every((line) => !line.includes("\n"))).toBe(true);
  });
});
