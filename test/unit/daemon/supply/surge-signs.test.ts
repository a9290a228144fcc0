import { describe, expect, it } from "vitest";
import { JournalMemory } from "../../../../daemon/journal/journal-memory.js";
import { surgeSigns } from "../../../../daemon/supply/surge-signs.js";
import type { JournalFact } from "../../../../lib/journal/journal-entry.js";
import type { DoseSeen } from "../../../../lib/supply-watch/surge-verdict.js";
import { modelOf } from "../../../support/control-bench.js";
import { supplyYaml } from "../../../support/supply-bench.js";

const model = modelOf(supplyYaml());
const closedAt_epochMs = Date.parse("2026-03-01T19:00:00+01:00");
const morning = (day: number): number => closedAt_epochMs + day * 86_400_000 - 9 * 3_600_000;

function dose(day: number, dose_mgPerLPerH: number): DoseSeen {
  return {
    tankId: "loach",
    at_epochMs: morning(day),
    dose_mgPerLPerH,
    doseLow80_mgPerLPerH: 0.95 * dose_mgPerLPerH,
    doseHigh80_mgPerLPerH: 1.05 * dose_mgPerLPerH,
  };
}

/** Twelve mornings alike, then four that show a quarter more. */
const doses = [
  ...Array.from({ length: 12 }, (_, day) => dose(day + 1, 4)),
  ...[13, 14, 15, 16].map((day) => dose(day, 5)),
];

function signsWith(fact: JournalFact | undefined, day: number) {
  const journal = new JournalMemory();
  if (fact !== undefined) {
    const at_epochMs = morning(day) - 3_600_000;
    journal.add({
      entryId: 1,
      at_epochMs,
      enteredAt_epochMs: at_epochMs,
      source: "local",
      note: "",
      fact,
      withdrawn: false,
    });
  }
  const seen = { now_epochMs: morning(16) + 3_600_000, model, sensors: [], memories: new Map() };
  return surgeSigns("cellar", { closedAt_epochMs, doses }, seen, journal);
}

describe("a tank's rise as a sign of a surge", () => {
  it("shows a dose that is a quarter above the first ones of the charge", () => {
    expect(signsWith(undefined, 13)).toMatchObject([
      { kind: "tank's rise", flow_ratio: { value: expect.closeTo(1.25, 2) as number } },
    ]);
  });

  it.each<{ fact: JournalFact; because: string }>([
    {
      fact: {
        kind: "calibration",
        sensorId: "loach-ph",
        buffers: [{ buffer: "7.00", shown: 7.1, temperature_degC: 25 }],
      },
      because: "the probe read a tenth too high before it was calibrated",
    },
    {
      fact: { kind: "kh test", tankId: "loach", kh_dKH: 5 },
      because: "the KH was tested at 5 in place of 4",
    },
    {
      fact: { kind: "degassed pH", tankId: "loach", pH: 8, how: "aerated a day" },
      because: "the pH without dosed CO2 was read anew",
    },
  ])("compares no dose with those on another scale: $because", ({ fact }) => {
    expect(signsWith(fact, 13)).toMatchObject([{ flow_ratio: { value: expect.closeTo(1, 2) as number } }]);
  });
});
