import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { degassingMethods, dropCheckerColours } from "../../lib/journal/journal-entry.js";
import { recordedTasks } from "../../lib/upkeep/recorded-task.js";
import { pressureUnits } from "../../lib/quantities/units.js";
import { journalBench } from "../support/journal-bench.js";

const seed = 20_260_501;
/** Numbers as people and programs get them wrong: slipped points, signs, the largest and the least. */
const number = fc.oneof(
  fc.double({ min: -10, max: 500, noNaN: true }),
  fc.double({ noNaN: true, noDefaultInfinity: true }),
  fc.constantFrom(0, -0, 0.1, 40, 1e308, 5e-324, Number.MAX_SAFE_INTEGER),
);
const unheardOf = fc.constantFrom("loch", "constructor", "__proto__", "");
const named = (id: string): fc.Arbitrary<string> =>
  fc.oneof({ arbitrary: fc.constant(id), weight: 4 }, unheardOf);
const time = fc.oneof(
  fc
    .date({ min: new Date("2025-03-01"), max: new Date("2026-06-01"), noInvalidDate: true })
    .map((date) => date.toISOString().slice(0, 19)),
  fc.string({ maxLength: 30 }),
);
/** What each kind has to say, and what it is about. */
const kinds: readonly (readonly [kind: string, subject: string, ...keys: readonly string[]])[] = [
  ["kh test", "tank", "kh_dKH"],
  ["degassed pH", "tank", "pH", "how"],
  ["drop checker", "tank", "colour"],
  ["calibration", "sensor", "buffers"],
  ["water change", "tank", "changed_L"],
  ["bubble count", "valve", "bubbles_perMin"],
  ["gauge reading", "vessel", "pressure", "unit"],
  ["weighing", "vessel", "vesselMass_g"],
  [
    "charge closed",
    "vessel",
    "sodiumBicarbonate_g",
    "citricAcidAnhydrous_g",
    "water_kg",
    "closedWith",
    "sealedAt_degC",
  ],
  ["regulator set", "vessel", "pressure", "unit"],
  ["upkeep done", "subject", "task"],
];
const values: Readonly<Record<string, fc.Arbitrary<unknown>>> = {
  tank: named("loach"),
  vessel: named("cellar"),
  valve: named("outlet"),
  sensor: named("loach-ph"),
  at: time,
  note: fc.string({ maxLength: 20, unit: "grapheme" }),
  how: fc.constantFrom(...degassingMethods),
  colour: fc.constantFrom(...dropCheckerColours),
  unit: fc.constantFrom(...pressureUnits),
  task: fc.constantFrom(...recordedTasks),
  subject: fc.constantFrom("cellar", "outlet", "loach", "gone"),
  closedWith: fc.constantFrom("water", "ice"),
  buffers: fc.array(
    fc.record({ buffer: fc.constantFrom("4.01", "7.00"), shown: number, temperature_degC: number }),
    { maxLength: 3 },
  ),
};
/** An entry of the right form with any values, now and then with a name, a time or a note. */
const wellFormed = fc.constantFrom(...kinds).chain(([kind, subject, ...keys]) => {
  const model: Record<string, fc.Arbitrary<unknown>> = { kind: fc.constant(kind) };
  for (const key of [subject, ...keys, "at", "note"]) model[key] = values[key] ?? number;
  return fc.record(model, { requiredKeys: ["kind", ...keys] });
});

describe("an entry of any content", () => {
  it("is kept or refused with a reason, never half, and the journal on disk is that in memory", async () => {
    let kept = 0;
    await fc.assert(
      fc.asyncProperty(fc.array(fc.oneof(wellFormed, fc.jsonValue()), { maxLength: 6 }), async (entries) => {
        const bench = await journalBench();
        for (const entry of entries) {
          const before = bench.disk.journal.length;
          const outcome = await bench.journal.enter(entry, "remote");
          if (outcome.kind === "kept") {
            kept += 1;
            expect(bench.disk.journal.length - before).toBe(outcome.known ? 0 : 1);
          } else {
            expect(outcome.reason.length).toBeGreaterThan(10);
            expect(bench.disk.journal.length).toBe(before);
          }
        }
        const again = await journalBench(bench.disk);
        expect(again.logger.lines).toEqual([]);
        expect(again.journal.list({ newest: 99 })).toEqual(bench.journal.list({ newest: 99 }));
      }),
      { seed, numRuns: 600 },
    );
    expect(kept).toBeGreaterThan(100);
  });
});
