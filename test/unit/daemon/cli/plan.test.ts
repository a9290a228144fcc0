import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { execFile } from "node:child_process";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { promisify } from "node:util";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { NoConvergenceError } from "../../../../lib/errors.js";
import { planCommand } from "../../../../daemon/cli/plan.js";
import { planOutlooks } from "../../../../daemon/cli/plan-outlooks.js";
import type { PlanOptions } from "../../../../daemon/cli/plan-options.js";
import { edited, examplePath, exampleText } from "../../../support/marked-config.js";

type Asked = Partial<PlanOptions>;

async function plan(
  asked: Asked,
): Promise<{ readonly exitCode: number; readonly lines: readonly string[]; readonly text: string }> {
  const lines: string[] = [];
  const exitCode = await planCommand(
    { config: examplePath, ...asked },
    { write: (line) => void lines.push(line) },
  );
  return { exitCode, lines, text: lines.join("\n") };
}

interface Json {
  readonly kind: string;
  readonly vessel: string;
  readonly amounts: { readonly sodiumBicarbonate_g: number; readonly citricAcid_g: number };
  readonly charge: object;
  readonly lasts?: { readonly use_gPerDay: object; readonly tanks: readonly object[] };
  readonly cost?: { readonly total: number };
}

async function json(asked: Asked): Promise<Json> {
  const { lines } = await plan({ ...asked, json: true });
  expect(lines).toHaveLength(1);
  return JSON.parse(lines[0] ?? "") as Json;
}

const lineWith = (lines: readonly string[], label: string): string =>
  lines.find((line) => line.trimStart().startsWith(label)) ?? "";

describe("the command that plans a charge", () => {
  let folder = "";
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), "fizzward-plan-"));
  });
  afterAll(async () => {
    await rm(folder, { recursive: true });
  });
  const configWith = async (edits: Parameters<typeof edited>[1]): Promise<string> => {
    const path = join(folder, "home.yaml");
    await writeFile(path, edited(exampleText, edits));
    return path;
  };

  it("prints what to weigh, the pressures and what to take care of", async () => {
    const { exitCode, lines, text } = await plan({ bicarbonate: "80", usePerDay: "2.5+-0.5" });
    expect(exitCode).toBe(0);
    expect(lineWith(lines, "sodium bicarbonate")).toContain("80.0 g");
    // 0.7623 g for a gram (IUPAC 2021) and 8 % more.
    expect(lineWith(lines, "citric acid")).toContain("65.9 g anhydrous, 8 % more");
    expect(lineWith(lines, "highest allowed")).toContain("16.2 bar");
    expect(lineWith(lines, "hottest day")).toMatch(
      /40 degC {2}[\d.]+ \([\d.]+ to [\d.]+\) bar .*kgf\/cm2 .*psi$/,
    );
    expect(lineWith(lines, "lasts")).toMatch(/^ {2}lasts +\d+ days \(\d+ to \d+\) at 2\.5 g a day/);
    // The deliverable amount over the summed flows: common practice, no source.
    const flat = text.replace(/\s+/g, " ");
    expect(flat).toMatch(/1 tank: 17 days \(\d+ to \d+\) at 1\.50 g a day; the working pressure suffices/);
    expect(flat).toMatch(/2 tanks: 10 days \(\d+ to \d+\) at 2\.50 g a day, emptied 1\.7 times as fast/);
    expect(flat).toContain("the use of further tank 3 is assumed, not measured");
    expect(text).toContain("Never heat a closed vessel");
    expect(text).toContain("own plate");
  });

  it("prints one pressure in three units that agree", async () => {
    const { lines } = await plan({ bicarbonate: "80" });
    const row = /degC +([\d.]+) \(.*bar +([\d.]+) \(.*kgf\/cm2 +([\d.]+) \(/.exec(
      lineWith(lines, "at room temperature"),
    );
    const [bar = 0, kgfPerCm2 = 0, psi = 0] = (row ?? []).slice(1).map(Number);
    // 1 kgf/cm2 = 0.980665 bar by definition; 7 kgf/cm2 = 99.56 psi.
    expect(Math.abs(bar / 0.980665 - kgfPerCm2)).toBeLessThan(0.11);
    expect(Math.abs((bar / 0.980665 / 7) * 99.56 - psi)).toBeLessThan(1.3);
    expect(bar).toBeGreaterThan(5);
  });

  it("refuses with exit code 1, the reason and the largest charge", async () => {
    const { exitCode, lines, text } = await plan({ bicarbonate: "120" });
    expect(exitCode).toBe(1);
    expect(text.replaceAll("\n", " ")).toContain("90 % of the pressure at which the relief device opens");
    const largest_g = Number(/([\d.]+) g/.exec(lineWith(lines, "sodium bicarbonate"))?.[1]);
    expect((await plan({ bicarbonate: String(largest_g) })).exitCode).toBe(0);
    expect((await plan({ bicarbonate: String(1.01 * largest_g) })).exitCode).toBe(1);
  });

  it.each([
    ["ratedPressureGauge_bar: 20", "rated pressure"],
    ["reliefOpeningGauge_bar: 18", "relief device opens"],
  ])("plans nothing for a vessel without %s", async (key, words) => {
    const config = await configWith([[`    ${key}\n`, ""]]);
    const { exitCode, text } = await plan({ config, bicarbonate: "10" });
    expect(exitCode).toBe(1);
    expect(text).toContain(words);
    expect(text).toContain("not stated");
  });

  it("takes days, the monohydrate, ice and temperatures", async () => {
    const byDays = await json({
      days: "8",
      usePerDay: "2",
      acid: "monohydrate",
      ice: "0.4",
      hottest: "35",
      room: "18",
    });
    expect(byDays).toMatchObject({
      kind: "plan",
      vessel: "cellar",
      amounts: { acidForm: "citric-acid-monohydrate", filling: { kind: "ice", mass_kg: 0.4 } },
      pressures: { room: { temperature_degC: 18 }, hottest: { temperature_degC: 35 } },
    });
    const { sodiumBicarbonate_g, citricAcid_g } = byDays.amounts;
    // 210.138 / (3 x 84.006) (IUPAC 2021).
    expect(citricAcid_g / sodiumBicarbonate_g).toBeCloseTo(1.08 * 0.83383, 4);
    expect(byDays.charge).toMatchObject({ water_kg: 0, ice_kg: 0.4 });
  });

  it("asks for a bar more than the working pressure at the regulator's inlet", async () => {
    const more = await configWith([["workingPressureGauge_bar: 3", "workingPressureGauge_bar: 2"]]);
    const delivered = async (config: string): Promise<number> =>
      Number(/(\d+) g/.exec(lineWith((await plan({ config, bicarbonate: "80" })).lines, "reaches"))?.[1]);
    expect(await delivered(more)).toBeGreaterThan(await delivered(examplePath));
  });

  it.each([
    {
      because: "one figure is split by the valve's shares",
      usePerDay: "2",
      tanks: [
        { tank: "loach", use_gPerDay: { value: 1.2 } },
        { tank: "shrimp", use_gPerDay: { value: 0.8 } },
      ],
    },
    {
      because: "each tank has its own, with a fifth where no error is given",
      usePerDay: "loach=1.5+-0.5, shrimp=1",
      tanks: [
        { tank: "loach", use_gPerDay: { value: 1.5, low: 1, high: 2 } },
        { tank: "shrimp", use_gPerDay: { value: 1, low: 0.8, high: 1.2 } },
      ],
    },
  ])("reads a use: $because", async ({ usePerDay, tanks }) => {
    expect((await json({ bicarbonate: "80", usePerDay })).lasts?.tanks).toMatchObject(tanks);
  });

  it("adds up what the powders cost", async () => {
    const { cost, amounts } = await json({
      bicarbonate: "80",
      priceBicarbonate: "4",
      priceAcid: "6",
      currency: "EUR",
    });
    expect(cost?.total).toBeCloseTo(0.32 + 0.006 * amounts.citricAcid_g, 9);
  });

  it("takes the prices of the config where none is typed, and compares with a bought cylinder", async () => {
    const { cost, amounts } = await json({ bicarbonate: "80" });
    // config/example.yaml: 4.20 and 6.50 a kilogram, 25 for 2 kg.
    expect(cost?.total).toBeCloseTo(0.08 * 4.2 + (amounts.citricAcid_g * 6.5) / 1000, 9);
    expect(cost).toMatchObject({ currency: "EUR", perGramFromCylinder: 25 / 2000 });
    const { lines } = await plan({ bicarbonate: "80" });
    expect(lineWith(lines, "costs")).toMatch(
      /0\.76 EUR, [\d.]+ EUR for 100 g delivered; from a bought .* 1\.25 EUR$/,
    );
  });

  it("needs both prices of a charge of acid, and says nothing of the cost without", async () => {
    const config = await configWith([["      citricAcid_perKg: 6.50\n", ""]]);
    expect(await json({ config, bicarbonate: "80" })).not.toHaveProperty("cost");
    expect((await plan({ config, bicarbonate: "80", priceBicarbonate: "4" })).text).toContain(
      "both --price-bicarbonate and --price-acid",
    );
  });

  it("plans water and ice together", async () => {
    const { lines, exitCode } = await plan({ bicarbonate: "80", water: "0.3", ice: "0.2" });
    expect(exitCode).toBe(0);
    expect(lineWith(lines, "water ")).toContain("0.30 kg");
    expect(lineWith(lines, "ice ")).toContain("0.20 kg");
    const { charge } = await json({ bicarbonate: "80", water: "0.3", ice: "0.2" });
    expect(charge).toMatchObject({ water_kg: expect.closeTo(0.3, 9) as number, ice_kg: 0.2 });
  });

  it.each([
    { piece: "20", exitCode: 0, words: "in pieces of 20 mm or less" },
    { piece: "20.5", exitCode: 1, words: "does not pass a neck of 25 mm freely; crush it to 20 mm or less" },
    { piece: "40", exitCode: 1, words: "pieces of 40 mm" },
  ])("holds ice of $piece mm against a neck of 25 mm", async ({ piece, exitCode, words }) => {
    const asked = await plan({ bicarbonate: "80", ice: "0.5", icePiece: piece });
    expect(asked.exitCode).toBe(exitCode);
    expect(asked.text.replace(/\n */g, " ")).toContain(words);
  });

  it("says that a neck which nobody measured says nothing", async () => {
    const config = await configWith([["    neckWidth_mm: 25\n", ""]]);
    const { text, exitCode } = await plan({ config, bicarbonate: "80", ice: "0.5", icePiece: "40" });
    expect(exitCode).toBe(0);
    expect(text.replace(/\n */g, " ")).toContain("Its width is not in the config");
  });

  it("weighs the acid excess that is asked for, and says when it is wasted", async () => {
    const { amounts } = await json({ bicarbonate: "80", acidExcess: "0.31" });
    // 1:1 by mass, 31 % more (IUPAC 2021: 192.123 / (3 x 84.006) = 0.7623).
    expect(amounts.citricAcid_g / 80).toBeCloseTo(1.31 * 0.76234, 4);
    expect((await plan({ bicarbonate: "80", acidExcess: "0.31" })).text).toContain("sourer liquor");
    expect((await plan({ bicarbonate: "80", acidExcess: "0.1" })).text).not.toContain("sourer liquor");
  });

  it("counts the liquor of the config's last charge that stays in", async () => {
    const hottest = async (asked: Asked): Promise<number> =>
      Number(/\(([\d.]+) to ([\d.]+)\) bar/.exec(lineWith((await plan(asked)).lines, "hottest day"))?.[2]);
    expect(await hottest({ bicarbonate: "75", residual: "0.2" })).toBeGreaterThan(
      (await hottest({ bicarbonate: "75" })) + 0.5,
    );
    const [chargeText = ""] = /^ {4}charge:\n(?: {6}.*\n)+/m.exec(exampleText) ?? [];
    const config = await configWith([[chargeText, ""]]);
    expect((await plan({ config, bicarbonate: "75", residual: "0.2" })).text).toContain(
      "needs the last charge",
    );
  });

  it("plans sugar and yeast with yield, plateau and verdict", async () => {
    const { exitCode, text, lines } = await plan({ sugar: "70", water: "1", room: "20", priceSugar: "2" });
    expect(exitCode).toBe(0);
    expect(text).toContain("May reach the working range at room temperature (weak evidence).");
    expect(lineWith(lines, "yeast ")).toContain("as its packet says");
    expect(lineWith(lines, "working range")).toContain("from 4.0 bar, by default what the regulator needs");
    // 4 x 44.009 / 342.297 (IUPAC 2021) = 0.5143.
    expect(lineWith(lines, "in the sugar")).toContain("36 g by stoichiometry");
    expect(lineWith(lines, "expected plateau")).toMatch(/20 degC +[\d.]+ \([\d.]+ to [\d.]+\) bar/);
    expect(lineWith(lines, "costs")).toMatch(/0\.14 EUR, at least [\d.]+ EUR for 100 g delivered/);
    expect(text.replace(/\n */g, " ")).toContain("That yeast stops is weak evidence and no safety device");
    expect(text).toContain("own plate");
    const higher = await plan({ sugar: "75", water: "1", workingFrom: "11" });
    expect(higher.text).toContain(
      "Not expected to reach the working range at room temperature (weak evidence).",
    );
    expect(higher.text.replaceAll("\n", " ")).toContain("is not a fault: do not add sugar");
  });

  it("refuses sugar by full conversion, with the most that fits", async () => {
    // Common practice puts 150 g into 1 L of water; that it stays at a low plateau is not counted on.
    const { exitCode, lines, text } = await plan({ sugar: "150", water: "1", workingFrom: "10.8" });
    expect(exitCode).toBe(1);
    expect(text).toContain("Every gram is counted as fermented out");
    expect(lineWith(lines, "verdict")).toContain(
      "not expected to reach the working range at room temperature (weak evidence)",
    );
    const most_g = Number(/([\d.]+) g/.exec(lineWith(lines, "table sugar"))?.[1]);
    expect((await plan({ sugar: String(most_g), water: "1" })).exitCode).toBe(0);
    expect((await plan({ sugar: String(most_g + 0.2), water: "1" })).exitCode).toBe(1);
    expect(text).toContain(`--sugar ${most_g.toFixed(1)}`);
    expect(await json({ sugar: "150", water: "1", workingFrom: "10.8" })).toMatchObject({
      kind: "sugar-refused",
      limit: "relief-opening-pressure",
      requested: { sucrose_g: 150, water_kg: 1 },
      largest: { sucrose_g: most_g, verdict: { kind: "not-expected-to-reach", evidence: "weak" } },
    });
  });

  it("compares sugar with acid in one table", async () => {
    const { lines, exitCode } = await plan({
      candidates: "70,70sugar/1,150sugar/1,80/66/0.3+0.2ice",
      workingFrom: "10.2",
    });
    expect(exitCode).toBe(0);
    expect(lineWith(lines, "70sugar/1 ")).toMatch(
      /70\.0 sugar .*within the limits, but not expected to reach the working range/,
    );
    expect(lineWith(lines, "150sugar/1 ")).toMatch(
      /refused, pressure at which the relief device opens; at most/,
    );
    expect(lineWith(lines, "80/66/0.3+0.2ice ")).toContain("0.30 + 0.20 ice");
    expect(await json({ candidates: "70sugar/1" })).toMatchObject({
      candidates: [{ candidate: { kind: "sugar-and-yeast" }, outcome: { kind: "sugar-plan" } }],
    });
  });

  it("compares recipes in one table and succeeds when one fits", async () => {
    const { exitCode, lines, text } = await plan({
      candidates: "70,80/80,80/70/0.6,80/66/0.5ice,140",
      usePerDay: "2",
    });
    expect(exitCode).toBe(0);
    expect(lineWith(lines, "70 ")).toMatch(/fits$/);
    expect(lineWith(lines, "80/80 ")).toMatch(/80\.0 +80\.0 +0\.50 .*fits$/);
    expect(lineWith(lines, "80/66/0.5ice ")).toContain("0.50 ice");
    expect(lineWith(lines, "140 ")).toMatch(
      /refused, pressure at which the relief device opens; at most [\d.]+ g$/,
    );
    expect(text).toContain("16.2 bar");
    expect((await plan({ candidates: "140,150" })).exitCode).toBe(1);
  });

  it("shows a recipe that is none in the table, with the reason", async () => {
    const { exitCode, lines } = await plan({ candidates: "70,80/0,60/46/5" });
    expect(exitCode).toBe(0);
    expect(lineWith(lines, "70 ")).toMatch(/fits$/);
    expect(lineWith(lines, "80/0 ")).toMatch(/refused: citric acid is 0 g; allowed is 6\.09\d* to/);
    expect(lineWith(lines, "60/46/5 ")).toMatch(/refused: water is 5 kg/);
  });

  it("says in the place of time and flow why they are not told", async () => {
    const lines: string[] = [];
    const exitCode = await planCommand(
      { config: examplePath, bicarbonate: "60" },
      {
        write: (line) => void lines.push(line),
        outlooks: () => ({
          readyTime: () => {
            throw new NoConvergenceError("temperature of the contents", -60, 48, 1);
          },
          surge: () => {
            throw new NoConvergenceError("outlet pressure", 0, 3, 100);
          },
        }),
      },
    );
    expect(exitCode).toBe(0);
    expect(lineWith(lines, "ready after")).toContain("not told: no solution for temperature of the contents");
    expect(lineWith(lines, "flow near the end")).toContain("not told: no solution for outlet pressure");
  });

  it("writes a comparison as one JSON object", async () => {
    expect(await json({ candidates: "70,140" })).toMatchObject({
      kind: "comparison",
      vessel: "cellar",
      candidates: [
        { candidate: { label: "70" }, outcome: { kind: "plan" } },
        { candidate: { label: "140" }, outcome: { kind: "refused", limit: "relief-opening-pressure" } },
      ],
    });
  });

  it.each<readonly [string, Asked, string]>([
    ["nothing to size by", {}, "give one of --days, --bicarbonate, --sugar and --candidates"],
    ["two sizes", { days: "3", bicarbonate: "80" }, "give one of"],
    ["ice beside no water", { bicarbonate: "80", water: "0", ice: "0.2" }, "leave out the one"],
    ["less than no ice", { bicarbonate: "80", water: "0.3", ice: "-0.2" }, "each above 0 kg"],
    ["ice alone below nothing", { bicarbonate: "80", ice: "-0.2" }, "ice is -0.2 kg"],
    ["pieces of no ice", { bicarbonate: "80", icePiece: "20" }, "--ice-piece goes with --ice"],
    ["sugar and bicarbonate", { sugar: "70", bicarbonate: "80" }, "give one of"],
    ["sugar on ice", { sugar: "70", ice: "0.5" }, "--ice says nothing beside --sugar"],
    ["acid for sugar", { sugar: "70", acidExcess: "0.1" }, "--acid-excess says nothing beside --sugar"],
    ["days of sugar", { sugar: "70", usePerDay: "2" }, "--use-per-day says nothing beside --sugar"],
    ["a working range for acid", { bicarbonate: "80", workingFrom: "9" }, "--working-from says nothing"],
    ["negative sugar", { sugar: "-3" }, "sugar is -3 g; allowed is 1 to 4000 g"],
    ["sugar without water", { sugar: "50", water: "0" }, "water is 0 kg"],
    ["sugar in a unit", { sugar: "150g" }, '--sugar is "150g"'],
    ["a recipe of sugar with acid", { candidates: "90sugar/60/1" }, "sugar/water, in g and kg"],
    ["a recipe with ice twice", { candidates: "80/66/0.2ice+0.2ice" }, "write water and ice as 0.3+0.2ice"],
    ["acid of no use", { bicarbonate: "80", acidExcess: "9" }, "acid beyond the exact proportion is 9"],
    ["acid in percent", { bicarbonate: "80", acidExcess: "8%" }, '--acid-excess is "8%"'],
    ["more old liquor than there was", { bicarbonate: "80", residual: "1.5" }, "residual liquor is 1.5 L"],
    ["less than no old liquor", { bicarbonate: "80", residual: "-0.1" }, "residual liquor is -0.1 L"],
    ["a word for a number", { bicarbonate: "eighty" }, '--bicarbonate is "eighty"'],
    ["a comma for a point", { bicarbonate: "80", water: "0,5" }, '--water is "0,5"'],
    ["a number in another base", { bicarbonate: "0x50" }, '--bicarbonate is "0x50"'],
    ["no end of powder", { bicarbonate: "Infinity" }, '--bicarbonate is "Infinity"'],
    ["kilograms for grams", { bicarbonate: "0.08" }, "sodium bicarbonate is 0.08 g; allowed is 1 to 4400 g"],
    ["grams for kilograms", { bicarbonate: "80", water: "500" }, "water is 500 kg; allowed is 0.01 to 2 kg"],
    ["no water", { bicarbonate: "80", water: "0" }, "water is 0 kg; allowed is 0.01 to 2 kg"],
    ["no acid", { candidates: "80/0" }, "citric acid is 0 g; allowed is 6.099 to 365.9 g"],
    ["a bound to four digits", { bicarbonate: "80", residual: "9" }, "allowed is 0 to 0.547"],
    [
      "a ratio, without a unit",
      { bicarbonate: "80", acidExcess: "-1" },
      "proportion is -1; allowed is -0.9 to 5",
    ],
    ["an empty number", { bicarbonate: "" }, '--bicarbonate is ""'],
    ["another acid", { bicarbonate: "80", acid: "vinegar" }, "anhydrous or monohydrate"],
    ["an unknown vessel", { bicarbonate: "80", vessel: "attic" }, 'no vessel "attic"; the config has cellar'],
    ["a name of the language itself", { bicarbonate: "80", vessel: "toString" }, "no vessel"],
    ["an unknown tank", { bicarbonate: "80", usePerDay: "pond=2" }, "loach, shrimp"],
    ["a tank twice", { bicarbonate: "80", usePerDay: "loach=2,loach=1" }, "once"],
    ["a use of nothing", { bicarbonate: "80", usePerDay: "0" }, "above 0 g"],
    ["a recipe with four parts", { candidates: "80/70/0.5/1" }, "bicarbonate/acid/water"],
    ["a negative mass", { bicarbonate: "-5" }, "sodium bicarbonate is -5 g; allowed is 1 to 4400 g"],
    ["a heat beyond the model", { bicarbonate: "80", hottest: "60" }, "hottest expected temperature is 60"],
  ])("complains of %s", async (_name, asked, words) => {
    const { exitCode, lines } = await plan(asked);
    expect(exitCode).toBe(1);
    expect(lines).toHaveLength(1);
    expect(lines[0]).toContain(words);
    const error = JSON.parse((await plan({ ...asked, json: true })).lines[0] ?? "") as object;
    expect(error).toMatchObject({ kind: "error", text: lines[0] });
  });

  it("names quantity and range of a bad number in JSON", async () => {
    expect(await json({ bicarbonate: "-5" })).toMatchObject({
      quantity: "sodium bicarbonate",
      value: -5,
      unit: "g",
      minimum: 1,
      maximum: 4400,
    });
  });

  it("says with which option the use is stated when days are asked for without", async () => {
    const { exitCode, text } = await plan({ days: "5" });
    expect(exitCode).toBe(1);
    expect(text).toContain("Say with --use-per-day what the tanks take");
    // Nothing is too much here, so there is nothing to weigh either.
    expect(text).not.toContain("sodium bicarbonate");
    expect(text).not.toMatch(/\d g anhydrous/);
    const said = text.replaceAll("\n", " ");
    // 165 L: a bubble a second for 50 to 100 L, 0.1 to 0.33 g an hour, 8 hours.
    expect(said).toContain("For your 165 L (loach, shrimp) that is 1.3 to 8.7 g a day");
    expect(said).toContain("common practice and no source");
    expect(said).toContain("Weigh the vessel a week apart");
  });

  it("plans from the coldest room to the hottest", async () => {
    for (const room of ["0", "3", "29.5", "33", "45"]) {
      const lines: string[] = [];
      const exitCode = await planCommand(
        { config: examplePath, bicarbonate: "60", room },
        {
          write: (line) => void lines.push(line),
          outlooks: (vessel) => planOutlooks({ room_degC: Number(room), vessel }),
        },
      );
      expect(exitCode, lines[0]).toBe(0);
      expect(lineWith(lines, "flow near the end")).toMatch(/up to \d+ % more bubbles|nobody will notice/);
      const ready = lineWith(lines, "ready after");
      if (Number(room) < 5) expect(ready).toContain("not told: how fast it goes in a room below 5 degC");
      else expect(ready).toMatch(/about \d+ hours \(\d+ to \d+\)/);
    }
  });

  it("ends quietly when its reader goes away", async () => {
    const main = fileURLToPath(new URL("../../../../dist/daemon/main.js", import.meta.url));
    const command = `"${process.execPath}" "${main}" plan --config "${examplePath}" --bicarbonate 60 | head -n 1`;
    const { stdout, stderr } = await promisify(execFile)("sh", ["-c", command]);
    expect(stdout).toBe("Charge for cellar\n");
    expect(stderr).toBe("");
  });

  it.each([
    {
      because: "a misspelled option",
      typed: ["--bicarbonat", "60"],
      says: "unknown option '--bicarbonat'\n(Did you mean --bicarbonate?)\n",
    },
    {
      because: "an option twice",
      typed: ["--bicarbonate", "60", "--bicarbonate", "70"],
      says: '--bicarbonate is "70": it was given before, as 60; give it once\n',
    },
  ])("says no more than what is wrong of $because", async ({ typed, says }) => {
    const main = fileURLToPath(new URL("../../../../dist/daemon/main.js", import.meta.url));
    const run = promisify(execFile)(process.execPath, [main, "plan", "--config", examplePath, ...typed]);
    await expect(run).rejects.toMatchObject({ code: 1, stdout: "", stderr: says });
  });

  it("does not charge a bought cylinder", async () => {
    const cylinder = "vessels:\n  cellar: { kind: liquid, volume_L: 2, workingPressureGauge_bar: 3 }\n";
    const config = join(folder, "cylinder.yaml");
    await writeFile(config, cylinder);
    expect((await plan({ config, bicarbonate: "80", vessel: "cellar" })).text).toContain(
      "never charged at home",
    );
    expect((await plan({ config, bicarbonate: "80" })).text).toContain("nothing to charge");
  });

  it("prints the faults of the config", async () => {
    const config = await configWith([["kind: generator", "kind: balloon"]]);
    const { exitCode, text } = await plan({ config, bicarbonate: "80" });
    expect(exitCode).toBe(1);
    expect(text).toContain("vessels.cellar.kind");
  });

  describe("on a vessel with doubtful plates", () => {
    const plates = async (rated: string, relief: string, asked: Asked) =>
      plan({
        ...asked,
        config: await configWith([
          ["ratedPressureGauge_bar: 20", `ratedPressureGauge_bar: ${rated}`],
          ["reliefOpeningGauge_bar: 18", `reliefOpeningGauge_bar: ${relief}`],
        ]),
      });

    it.each<readonly [string, Asked]>([
      ["a plan", { bicarbonate: "60" }],
      ["a refusal", { bicarbonate: "300" }],
      ["a table", { candidates: "60,70" }],
      ["sugar", { sugar: "60", water: "1" }],
    ])("says so first of all: %s", async (_name, asked) => {
      const late = await plates("20", "22", asked);
      expect(late.lines[0]).toMatch(
        /^! The relief device opens at 22 bar, above the rated pressure of 20 bar/,
      );
      expect(late.text.replace(/\n */g, " ")).toMatch(/licensed .*The lower of the two counts/);
      const psi = await plates("290", "261", asked);
      // NIST SP 811 (2008): 1 psi = 6.894757 kPa, so 19.99 bar.
      expect(psi.lines.slice(0, 3).join(" ").replace(/ +/g, " ")).toContain(
        "is your plate in psi? 290 psi is 19.9 bar",
      );
    });

    it("holds the plan to the lower of the two", async () => {
      const { lines, exitCode } = await plates("20", "22", { bicarbonate: "60" });
      expect(exitCode).toBe(0);
      expect(lineWith(lines, "highest allowed")).toContain("18.0 bar");
    });

    it("has it first in JSON too", async () => {
      const { lines } = await plates("20", "22", { bicarbonate: "300", json: true });
      expect(JSON.parse(lines[0] ?? "")).toMatchObject({
        kind: "refused",
        vesselUsed: { volume_L: 2, ratedPressureGauge_bar: 20, reliefOpeningGauge_bar: 22 },
        cautions: [{ kind: "relief-above-rating" }, { kind: "own-rating" }],
      });
    });
  });

  it.each<readonly [string, Asked]>([
    ["a plan", { bicarbonate: "60" }],
    ["a refusal", { bicarbonate: "300" }],
    ["a refusal for a missing option", { days: "9" }],
    ["a table", { candidates: "60,70" }],
    ["sugar", { sugar: "60", water: "1" }],
    ["sugar, refused", { sugar: "150", water: "1" }],
  ])("prints the plates that it took and who stands above it: %s", async (_name, asked) => {
    const { lines, text } = await plan(asked);
    // NIST SP 811 (2008): 20 bar = 20.394 kgf/cm2 = 290.07 psi; 18 bar = 18.35 kgf/cm2 = 261.06 psi.
    expect(lineWith(lines, "rated pressure")).toMatch(/20\.0 bar +20\.3 kgf\/cm2 +290 psi/);
    expect(lineWith(lines, "relief device opens")).toMatch(/18\.0 bar +18\.3 kgf\/cm2 +261 psi/);
    expect(lineWith(lines, "vessel ")).toContain("2 L");
    expect(text.replaceAll("\n", " ")).toMatch(
      /local codes, and people licensed for pressure equipment stand above/,
    );
  });

  it("says with which option to ask for the largest charge before anything is weighed", async () => {
    const { lines, text } = await plan({ bicarbonate: "120" });
    const [, most = ""] = /([\d.]+) g/.exec(lineWith(lines, "sodium bicarbonate")) ?? [];
    expect(text.replaceAll("\n", " ")).toContain(`--bicarbonate ${most} in place of what was asked`);
  });

  it("gives an order of work that defers to the vessel's instructions, and says what ice is for", async () => {
    const water = (await plan({ bicarbonate: "60" })).text.replace(/\n */g, " ");
    expect(water).toContain("for the vessel's own instructions to say");
    expect(water).toMatch(/Close at once: .*the gauge goes on rising slowly/);
    expect(water).toContain("(the reaction cools it)");
    expect(water).not.toContain("Ice is there");
    const ice = (await plan({ bicarbonate: "60", ice: "0.4" })).text.replace(/\n */g, " ");
    expect(ice).toContain("Ice is there to give time to close");
    expect(ice).toContain("a day until the gauge has come to rest is normal");
  });

  it.each([
    { usePerDay: "2.5", isAssumed: true },
    { usePerDay: "2.5+-0.4", isAssumed: false },
    { usePerDay: "loach=1.5+-0.2,shrimp=1", isAssumed: true },
  ])("says that a fifth is assumed for a use of $usePerDay: $isAssumed", async ({ usePerDay, isAssumed }) => {
    const { text } = await plan({ bicarbonate: "60", usePerDay });
    expect(text.includes("known to 20 % is an assumption")).toBe(isAssumed);
  });

  it("says which price is missing where the config has only the other", async () => {
    const config = await configWith([["      citricAcid_perKg: 6.50\n", ""]]);
    const { lines } = await plan({ config, bicarbonate: "60" });
    expect(lineWith(lines, "costs")).toContain("not told: the price of citric acid is missing");
  });

  it("tells time and cost in a table where they are known", async () => {
    const lines: string[] = [];
    const timed = (candidates: string): Promise<number> =>
      planCommand(
        { config: examplePath, candidates },
        {
          write: (line) => void lines.push(line),
          outlooks: (vessel) => planOutlooks({ room_degC: undefined, vessel }),
        },
      );
    await timed("60,60/50/0.4");
    // 60 g x 4.20 + 49.4 g x 6.50 a kilogram.
    expect(lineWith(lines, "recipe")).toMatch(/days +ready h +cost EUR +verdict$/);
    expect(lineWith(lines, "60 ")).toMatch(/ - +\d+ +0\.57 +fits$/);
    lines.length = 0;
    await timed(Array.from({ length: 21 }, (_, index) => String(50 + index)).join(","));
    expect(lineWith(lines, "recipe")).not.toContain("ready h");
  });

  it.each([
    ["80/66/1,5", "80/66/1.5"],
    ["70,80/66/0,5", "80/66/0.5"],
    ["80/66/0,5ice", "80/66/0.5ice"],
    ["80,5", "80.5"],
    ["80,5/66", "80.5/66"],
    ["80/66,5", "80/66.5"],
    ["70sugar/0,9", "70sugar/0.9"],
    ["80/66/1,25", "80/66/1.25"],
  ])("does not make two recipes of a decimal comma: %s", async (candidates, meant) => {
    const { exitCode, text } = await plan({ candidates });
    expect(exitCode).toBe(1);
    expect(text).toContain(`did you mean "${meant}"?`);
  });

  it.each(["70,80,85", "80/66/0.5,70", "70,140", "70sugar/1,140", "80/66/1.0,70", "75, 70"])(
    "takes a list as a list: %s",
    async (candidates) => {
      const { candidates: compared } = (await json({ candidates })) as unknown as { candidates: object[] };
      expect(compared).toHaveLength(candidates.split(",").length);
    },
  );

  it("says of both pressures that they are not stated", async () => {
    const config = await configWith([
      ["    ratedPressureGauge_bar: 20\n", ""],
      ["    reliefOpeningGauge_bar: 18\n", ""],
    ]);
    const { lines, text } = await plan({ config, bicarbonate: "60" });
    expect(text.replaceAll("\n", " ")).toContain(
      "opens of the vessel are not stated; read them off the plate and the device, never guess them",
    );
    expect(lineWith(lines, "rated pressure")).toContain("not stated");
  });

  it("plans from a file that holds nothing but the vessel", async () => {
    const config = join(folder, "planning.yaml");
    await writeFile(
      config,
      "vessels:\n  cellar:\n    kind: generator\n    volume_L: 2\n    ratedPressureGauge_bar: 20\n" +
        "    reliefOpeningGauge_bar: 18\n    workingPressureGauge_bar: 2\n",
    );
    const { exitCode, text } = await plan({ config, bicarbonate: "60" });
    expect(exitCode).toBe(0);
    expect(text).not.toContain("at fault");
    expect(text.replaceAll("\n", " ")).toContain("For each 100 L of tank");
  });

  it("plans beside faults in other parts of the file, and names them", async () => {
    const config = await configWith([["kh_dKH: 6", "kh_dKH: 600"]]);
    const { exitCode, text } = await plan({ config, bicarbonate: "60" });
    expect(exitCode).toBe(0);
    expect(text).toContain("Not needed for a plan, but at fault in the config:");
    expect(text).toContain("tanks.shrimp.kh_dKH is 600");
    expect(await json({ config, bicarbonate: "60" })).toMatchObject({
      kind: "plan",
      faultsElsewhere: [{ keyPath: "tanks.shrimp.kh_dKH" }],
    });
  });

  it.each<readonly [string, Asked, string]>([
    ["grams for kilograms", { bicarbonate: "80", water: "500" }, "did you mean 0.5?"],
    ["kilograms for grams", { bicarbonate: "0.08" }, "did you mean 80?"],
    ["a decimal comma", { bicarbonate: "80", water: "0,5" }, "did you mean 0.5?"],
    ["more old liquor than there was", { bicarbonate: "80", residual: "1.5" }, "left no more than that"],
    ["one price of two", { bicarbonate: "80", priceAcid: "4" }, "that of sodium bicarbonate is missing"],
  ])("helps with %s", async (_name, asked, words) => {
    const config =
      asked.priceAcid === undefined
        ? examplePath
        : await configWith([["      sodiumBicarbonate_perKg: 4.20\n", ""]]);
    expect((await plan({ config, ...asked })).text).toContain(words);
  });
});
