import { describe, expect, it } from "vitest";
import { columnsOfFact, entryFromRow } from "../../../../daemon/journal/stored-fact.js";
import { factInWords } from "../../../../daemon/journal/journal-words.js";
import type { JournalFact } from "../../../../lib/journal/journal-entry.js";

const facts: readonly { fact: JournalFact; words: string }[] = [
  {
    fact: { kind: "kh test", tankId: "loach", kh_dKH: 4.5, khUncertainty_dKH: 0.5 },
    words: "KH test: 4.5 dKH give or take 0.5",
  },
  {
    fact: {
      kind: "degassed pH",
      tankId: "loach",
      pH: 7.6,
      how: "aerated a day",
      roomCo2_ppm: 600,
      temperature_degC: 24,
    },
    words: "degassed pH: 7.6, aerated a day, room at 600 ppm CO2 at 24 degC",
  },
  { fact: { kind: "drop checker", tankId: "loach", colour: "green" }, words: "drop checker: green" },
  {
    fact: {
      kind: "calibration",
      sensorId: "loach-ph",
      buffers: [
        { buffer: "7.00", shown: 7.08, temperature_degC: 24 },
        { buffer: "4.01", shown: 4.11, temperature_degC: 24 },
      ],
    },
    words: "calibration: buffer 7.00 showed 7.08 at 24 degC; buffer 4.01 showed 4.11 at 24 degC",
  },
  { fact: { kind: "water change", tankId: "loach", changed_L: 30 }, words: "water change: 30 L" },
  {
    fact: { kind: "bubble count", valveId: "outlet", bubbles_perMin: 60 },
    words: "bubble count: 60 a minute",
  },
  {
    fact: {
      kind: "gauge reading",
      vesselId: "cellar",
      pressureGauge_bar: 12 * 0.980665,
      asRead: { value: 12, unit: "kgf/cm2" },
      temperature_degC: 21,
    },
    words: "gauge: 12 kgf/cm2 (11.77 bar) at 21 degC",
  },
  { fact: { kind: "weighing", vesselId: "cellar", vesselMass_g: 3450 }, words: "weighing: 3450 g" },
  {
    fact: {
      kind: "charge closed",
      vesselId: "cellar",
      acid: { kind: "citric-acid-monohydrate", mass_g: 72 },
      sodiumBicarbonate_g: 80,
      water_kg: 0.5,
      closedWith: "ice",
      residualLiquor_L: 0.1,
      sealedAt_degC: 18,
    },
    words:
      "charge closed: 80 g sodium bicarbonate, 72 g citric acid monohydrate, 0.5 kg ice, 0.1 L of the last liquor left in at 18 degC",
  },
  {
    fact: {
      kind: "regulator set",
      vesselId: "cellar",
      outletGauge_bar: 3,
      asRead: { value: 3, unit: "bar" },
    },
    words: "regulator set: 3 bar",
  },
];

describe("a fact", () => {
  it.each(facts)(
    "of the kind $fact.kind comes back from the disk as it went there, and can be said",
    (row) => {
      const stored = {
        entryId: 1,
        at_epochMs: 1000,
        enteredAt_epochMs: 2000,
        source: "local",
        note: "",
        withdrawn: false,
        ...columnsOfFact(row.fact),
      } as const;
      expect(entryFromRow(stored)?.fact).toEqual(row.fact);
      expect(factInWords(row.fact)).toBe(row.words);
      expect(entryFromRow({ ...stored, kind: "another" })).toBeUndefined();
    },
  );
});
