import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { chargesSnapshotName, storedCharges } from "../../../../daemon/charge-log/kept-charges.js";
import { chargesCommand } from "../../../../daemon/cli/charges.js";
import type { FollowedCharge } from "../../../../lib/charge-log/followed-charge.js";
import { storeBench, type StoreBench } from "../../../support/sqlite-store-bench.js";
import { supplyYaml } from "../../../support/supply-bench.js";

const day_ms = 86_400_000;
let bench: StoreBench;
let config: string;

beforeEach(() => {
  bench = storeBench();
  config = join(bench.folder, "site.yaml");
  writeFileSync(
    config,
    supplyYaml().replace(
      "kind: generator,",
      "kind: generator, prices: { currency: EUR, sodiumBicarbonate_perKg: 3, citricAcid_perKg: 8 },",
    ),
  );
});
afterEach(() => bench.clear());

function spent(index: number, change: Partial<FollowedCharge> = {}): FollowedCharge {
  const closed_epochMs = Date.UTC(2026, 0, 1 + 21 * index, 18);
  return {
    vesselId: "cellar",
    acid: { kind: "citric-acid-anhydrous", mass_g: 100 },
    sodiumBicarbonate_g: 120,
    water_kg: 0.5,
    vesselVolume_L: 2,
    closedWith: index % 2 === 0 ? "water" : "ice",
    closed_epochMs,
    workingPressureGauge_bar: 1.5,
    planned: { sodiumBicarbonate_g: 118, citricAcid_g: 98 },
    foreseen_g: { value: 50, low: 45, high: 55 },
    sawSettling: true,
    ready_epochMs: closed_epochMs + 6 * 3_600_000,
    delivered_g: { value: 47 + index, low: 45 + index, high: 49 + index },
    leak_gPerDay: { value: 0.02, low: 0, high: 0.05 },
    left_g: { value: 13, low: 11, high: 15 },
    openByValve_h: { outlet: 150 },
    dosing_days: 18,
    spentSince_epochMs: closed_epochMs + 19 * day_ms,
    seen_epochMs: closed_epochMs + 20.5 * day_ms,
    ...change,
  };
}

async function told(charges: readonly FollowedCharge[], json = false, vessel?: string) {
  const store = bench.make();
  await store.start();
  await store.saveSnapshot(chargesSnapshotName, storedCharges(charges));
  const lines: string[] = [];
  // The store is open, as the running daemon has it.
  const code = await chargesCommand(
    { config, database: bench.file, json, ...(vessel === undefined ? {} : { vessel }) },
    { now_epochMs: () => Date.UTC(2026, 5, 1), write: (line) => lines.push(line) },
  );
  await store.stop();
  return { code, lines, text: lines.join("\n") };
}

describe("charges command", () => {
  it("tells weighed, planned, foreseen, delivered, yield, leak, ready time, days and cost of each charge", async () => {
    const { code, text } = await told([spent(0)]);
    expect(code).toBe(0);
    expect(text).toContain("weighed 120 g bicarbonate and 100 g citric acid, planned 118 and 98 g");
    expect(text).toContain("foreseen to deliver 50 g (45 to 55); delivered to loach 47.0 g");
    expect(text).toMatch(/cellar 2026-01-01\s+2026-01-01\s+water\s+47\.0 \(45\.0-49\.0\)\s+75 \(\d\d-\d\d\)/);
    // 0.36 and 0.80 EUR over 18 days.
    expect(text).toContain("0.064 EUR");
    expect(text).toMatch(/6\.0 of \d+\.\d/);
  });

  it("says in one line that there is nothing to compare while the first charge runs", async () => {
    const { ready_epochMs, ...running } = spent(0, {
      spentSince_epochMs: Date.UTC(2026, 11, 1),
      sawSettling: false,
    });
    expect(ready_epochMs).toBeDefined();
    const { lines } = await told([running]);
    expect(lines.at(-1)).toBe(
      "Nothing can be compared yet: no charge has ended that was followed well enough.",
    );
    expect(lines.join("\n")).not.toContain("cannot be told yet");
  });

  it("puts neither method above the other on two charges, and says so", async () => {
    const { text } = await told([spent(0), spent(1)]);
    expect(text).toContain("ice or water: cannot be told yet");
    expect(text).not.toMatch(/served (better|best):/);
  });

  it("names the better method where the charges tell it, on yields as they scatter", async () => {
    const yields = [40, 52, 41, 51, 40.5, 52.5, 41.5, 51.5];
    const charges = yields.map((value, k) =>
      spent(k, { delivered_g: { value, low: value - 1, high: value + 1 } }),
    );
    const { text } = await told(charges);
    expect(text).toMatch(/The yield by closing method: ice .*\n.*ice served better/);
  });

  it("gives one JSON object", async () => {
    const { text } = await told([spent(0), spent(1, { spentSince_epochMs: Date.UTC(2026, 11, 1) })], true);
    const value = JSON.parse(text) as {
      readonly charges: readonly Readonly<Record<string, unknown>>[];
      readonly comparisons: readonly Readonly<Record<string, unknown>>[];
    };
    expect(value.charges[0]).toMatchObject({
      chargeId: "cellar 2026-01-01",
      ended: "spent",
      endedAt: "2026-01-20T19:00:00+01:00",
      dosing_days: 18,
      foreseen_g: { value: 50 },
    });
    expect(value.charges[1]).toMatchObject({ ended: "running", endedAt: null });
    expect(value.comparisons.map(({ measure, by }) => `${String(measure)} ${String(by)}`)).toEqual([
      "yield closedWith",
      "yield recipe",
      "costPerGram closedWith",
      "costPerGram recipe",
      "readyTime closedWith",
      "readyTime recipe",
    ]);
  });

  it("says what is missing", async () => {
    expect((await told([])).text).toContain("No charge has been followed yet");
    const other = await told([], false, "attic");
    expect(other).toMatchObject({ code: 1, text: 'there is no vessel "attic"; the config has cellar' });
    const lines: string[] = [];
    const code = await chargesCommand(
      { config, database: join(bench.folder, "none.db"), json: true },
      { now_epochMs: () => 0, write: (line) => lines.push(line) },
    );
    expect(code).toBe(1);
    expect(lines[0]).toContain("none.db");
  });
});
