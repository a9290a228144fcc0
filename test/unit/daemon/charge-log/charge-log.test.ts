import { describe, expect, it } from "vitest";
import { createChargeLog, type ChargeLog } from "../../../../daemon/charge-log/charge-log.js";
import { chargesFrom } from "../../../../daemon/charge-log/kept-charges.js";
import type { SiteEvent } from "../../../../daemon/ports/site-store.js";
import { chargeInUse } from "../../../../daemon/supply/charge-in-use.js";
import type { VesselSupply } from "../../../../daemon/supply/vessel-supply.js";
import { JournalMemory } from "../../../../daemon/journal/journal-memory.js";
import type { JournalFact } from "../../../../lib/journal/journal-entry.js";
import { modelOf } from "../../../support/control-bench.js";
import { supplyYaml } from "../../../support/supply-bench.js";

const hour_ms = 3_600_000;
const start_epochMs = Date.parse("2026-02-02T12:00:00+01:00");

/** A log beside a vessel whose estimates are told by hand. */
class LogBench {
  readonly model = modelOf(supplyYaml());
  readonly journal = new JournalMemory();
  readonly events: SiteEvent[] = [];
  saved: unknown;
  now_epochMs = start_epochMs;
  log: ChargeLog = this.#begun(undefined);

  #begun(restored: unknown): ChargeLog {
    return createChargeLog(
      {
        store: {
          saveSnapshot: (_name, state) => {
            this.saved = JSON.parse(JSON.stringify(state));
            return Promise.resolve(true);
          },
        },
        journal: this.journal,
        record: (event) => this.events.push(event),
      },
      restored,
    );
  }

  restart(): void {
    this.log.save();
    this.log = this.#begun(this.saved);
  }

  get kept() {
    this.log.save();
    return chargesFrom(this.saved);
  }

  enter(fact: JournalFact, entryId: number): void {
    const at_epochMs = this.now_epochMs;
    const entry = { entryId, at_epochMs, enteredAt_epochMs: at_epochMs, source: "local", note: "" } as const;
    this.journal.add({ ...entry, fact, withdrawn: false });
  }

  /** Minutes go by with the valve open or closed, and then an estimate is told. */
  pass(minutes: number, reported: "open" | "closed", told: { phase: string; removed_g: number }): void {
    const charge = chargeInUse(this.model, "cellar", this.journal)!;
    for (let minute = 0; minute < minutes; minute += 1) {
      this.now_epochMs += 60_000;
      const amount = { value_g: 40, low80_g: 38, high80_g: 42, low95_g: 36, high95_g: 44 };
      const supply = {
        vesselId: "cellar",
        charge,
        failure: undefined,
        told: {
          removed_g: { value: told.removed_g, deviation: 0.5 },
          estimate: {
            at_epochMs: this.now_epochMs,
            phase: told.phase,
            leak_gPerDay: { value: 0, deviation: 0.05 },
            remaining: amount,
            deliverable: amount,
            runOut: { median_epochMs: 0, low80_epochMs: 0, high80_epochMs: 0 },
          },
        },
      } as unknown as VesselSupply;
      this.log.follow({
        now_epochMs: this.now_epochMs,
        now_monotonicMs: this.now_epochMs - start_epochMs,
        model: this.model,
        supplies: [supply],
        valves: [{ valveId: "outlet", reported }],
      });
    }
  }
}

const refill: JournalFact = {
  kind: "charge closed",
  vesselId: "cellar",
  acid: { kind: "citric-acid-anhydrous", mass_g: 101 },
  sodiumBicarbonate_g: 121,
  water_kg: 0.5,
  closedWith: "ice",
  sealedAt_degC: 18,
  plannedBicarbonate_g: 120,
  plannedAcid_g: 100,
};

describe("the log of charges", () => {
  it("follows a charge over a restart, and tells of its end when another is closed", () => {
    const bench = new LogBench();
    bench.pass(60, "open", { phase: "dosing", removed_g: 2 });
    bench.restart();
    bench.pass(60, "open", { phase: "dosing", removed_g: 4 });
    bench.pass(60, "closed", { phase: "dosing", removed_g: 4 });
    expect(bench.log.ended()).toEqual([]);
    bench.now_epochMs += 24 * hour_ms;
    bench.enter(refill, 1);
    bench.pass(1, "closed", { phase: "settling", removed_g: 0 });
    const [ended] = bench.log.ended();
    expect(ended?.report).toMatchObject({
      chargeId: "cellar 2026-02-01",
      ended: { kind: "refilled early" },
      dosing_days: 1,
      closedWith: "water",
    });
    expect(ended?.report.delivered_g.value).toBeCloseTo(4, 9);
    // The first minute of a run has no minute before it.
    expect(bench.kept[0]?.openByValve_h["outlet"]).toBeCloseTo(118 / 60, 9);
    expect(bench.events.map(({ area, subject, what }) => `${area} ${subject} ${what}`)).toEqual([
      "charge cellar was refilled early",
    ]);
    expect(bench.kept.at(-1)).toMatchObject({
      closedWith: "ice",
      sodiumBicarbonate_g: 121,
      planned: { sodiumBicarbonate_g: 120, citricAcid_g: 100 },
      dosing_days: 0,
    });
    bench.restart();
    bench.pass(1, "closed", { phase: "settling", removed_g: 0 });
    expect(bench.log.ended()[0]?.report.chargeId).toBe("cellar 2026-02-01");
  });

  it("tells that a charge is spent after a day below the working pressure, once", () => {
    const bench = new LogBench();
    bench.pass(30, "open", { phase: "dosing", removed_g: 40 });
    bench.pass(25 * 60, "closed", { phase: "spent", removed_g: 41 });
    expect(bench.events.map(({ what }) => what)).toEqual(["was spent"]);
    expect(bench.log.ended()[0]?.report.ended.kind).toBe("spent");
    bench.enter(refill, 1);
    bench.pass(2, "closed", { phase: "settling", removed_g: 0 });
    expect(bench.events.map(({ what }) => what)).toEqual(["was spent"]);
  });

  it("takes a closing that is corrected within hours as the same charge with other weights", () => {
    const bench = new LogBench();
    bench.enter(refill, 1);
    bench.pass(5, "closed", { phase: "settling", removed_g: 0 });
    bench.now_epochMs += hour_ms;
    bench.enter({ ...refill, sodiumBicarbonate_g: 112 }, 2);
    bench.pass(5, "closed", { phase: "settling", removed_g: 0 });
    expect(bench.kept.map(({ sodiumBicarbonate_g }) => sodiumBicarbonate_g)).toEqual([112]);
    expect(bench.events).toEqual([]);
  });

  it("goes on with the charge before where the closing of the next one is withdrawn", () => {
    const bench = new LogBench();
    bench.pass(60, "open", { phase: "dosing", removed_g: 2 });
    bench.now_epochMs += 24 * hour_ms;
    bench.enter(refill, 1);
    bench.pass(1, "closed", { phase: "settling", removed_g: 0 });
    expect(bench.log.ended()).toHaveLength(1);
    bench.journal.withdraw(bench.journal.find(1)!, bench.now_epochMs);
    bench.pass(60, "open", { phase: "dosing", removed_g: 3 });
    expect(bench.log.ended()).toEqual([]);
    expect(bench.kept).toHaveLength(1);
    expect(bench.kept[0]).toMatchObject({ closedWith: "water", dosing_days: 2 });
    expect(bench.kept[0]?.replaced_epochMs).toBeUndefined();
    expect(bench.events.map(({ what }) => what)).toEqual(["was refilled early", "goes on"]);
    expect(bench.kept[0]?.delivered_g.value).toBeCloseTo(3, 9);
  });

  it("leaves out what it cannot read, and keeps the rest", () => {
    const bench = new LogBench();
    bench.pass(5, "closed", { phase: "dosing", removed_g: 0 });
    const [charge] = bench.kept;
    expect(chargesFrom({ version: 1, charges: [{ vesselId: 7 }, charge] })).toEqual([charge]);
    expect(chargesFrom("nothing")).toEqual([]);
  });
});
