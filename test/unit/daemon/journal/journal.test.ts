import { describe, expect, it } from "vitest";
import type { JournalKeeping } from "../../../../daemon/ports/site-store.js";
import { journalBench } from "../../../support/journal-bench.js";

const now_epochMs = Date.parse("2026-05-01T18:00:00+02:00");
const kh = (kh_dKH: number, more: Readonly<Record<string, unknown>> = {}) => ({
  kind: "kh test",
  tank: "loach",
  kh_dKH,
  ...more,
});

describe("an entry that is kept", () => {
  it("is on disk when it is answered, and is there after a restart with all its fields", async () => {
    const bench = await journalBench();
    const outcome = await bench.enter(kh(4.5, { at: "2026-05-01T09:30", note: "new bottle" }));
    expect(outcome).toMatchObject({ kind: "kept", known: false, remarks: [], entry: { entryId: 1 } });
    expect(bench.disk.journal).toHaveLength(1);
    const again = await journalBench(bench.disk);
    expect(again.journal.latest("kh test", "loach")).toEqual({
      entryId: 1,
      at_epochMs: Date.parse("2026-05-01T07:30:00Z"),
      enteredAt_epochMs: now_epochMs,
      source: "local",
      note: "new bottle",
      fact: { kind: "kh test", tankId: "loach", kh_dKH: 4.5 },
      withdrawn: false,
    });
  });

  it("takes the present where no time is said", async () => {
    const bench = await journalBench();
    await bench.enter(kh(4.5));
    expect(bench.journal.latest("kh test", "loach")?.at_epochMs).toBe(now_epochMs);
  });

  it("is about the only one of its kind where no name is said", async () => {
    const bench = await journalBench();
    await bench.enter({ kind: "kh test", kh_dKH: 4 });
    await bench.enter({ kind: "gauge reading", pressure: 12, unit: "kgf/cm2" });
    await bench.enter({ kind: "bubble count", bubbles_perMin: 60 });
    await bench.enter({
      kind: "calibration",
      buffers: [{ buffer: "7.00", shown: 7.1, temperature_degC: 24 }],
    });
    expect(bench.journal.list({ newest: 9 }).map(({ fact }) => fact)).toMatchObject([
      { tankId: "loach" },
      // 1 kgf/cm2 is 0.980665 bar by definition.
      { vesselId: "cellar", pressureGauge_bar: 12 * 0.980665, asRead: { value: 12, unit: "kgf/cm2" } },
      { valveId: "outlet" },
      { sensorId: "loach-ph" },
    ]);
  });

  it("of a charge speaks the keys of the config and keeps the form of the acid", async () => {
    const bench = await journalBench();
    const charge = {
      kind: "charge closed",
      sodiumBicarbonate_g: 80,
      citricAcidMonohydrate_g: 72,
      water_kg: 0.5,
      closedWith: "ice",
      residualLiquor_L: 0.1,
      sealedAt_degC: 18,
    };
    expect(await bench.enter(charge)).toMatchObject({ kind: "kept" });
    expect(bench.journal.latest("charge closed", "cellar")?.fact).toEqual({
      kind: "charge closed",
      vesselId: "cellar",
      acid: { kind: "citric-acid-monohydrate", mass_g: 72 },
      sodiumBicarbonate_g: 80,
      water_kg: 0.5,
      closedWith: "ice",
      residualLiquor_L: 0.1,
      sealedAt_degC: 18,
    });
    expect(await bench.enter({ ...charge, citricAcidAnhydrous_g: 66 })).toMatchObject({ kind: "refused" });
  });

  it("that came later but was seen earlier is not the latest", async () => {
    const bench = await journalBench();
    await bench.enter(kh(4.5));
    await bench.enter(kh(6, { at: "2026-04-01T12:00" }));
    expect(bench.journal.latest("kh test", "loach")?.fact.kh_dKH).toBe(4.5);
    const march_epochMs = Date.parse("2026-03-01T00:00:00Z");
    const values = bench.journal.entriesOf("kh test", "loach", march_epochMs).map(({ fact }) => fact.kh_dKH);
    expect(values).toEqual([6, 4.5]);
    const april_epochMs = Date.parse("2026-04-15T00:00:00Z");
    expect(bench.journal.entriesOf("kh test", "loach", april_epochMs)).toHaveLength(1);
  });
});

describe("the same entry again", () => {
  it("is one of its own when something else was typed in between: the last word counts", async () => {
    const bench = await journalBench();
    const gauge = (pressureGauge_bar: number) =>
      bench.enter({ kind: "gauge reading", vessel: "cellar", pressure: pressureGauge_bar, unit: "bar" });
    await gauge(12);
    await bench.clock.advance(5000);
    await gauge(15);
    await bench.clock.advance(5000);
    expect(await gauge(12)).toMatchObject({ kind: "kept", known: false });
    expect(bench.journal.latest("gauge reading", "cellar")?.fact.pressureGauge_bar).toBe(12);
    await bench.clock.advance(5000);
    expect(await gauge(12)).toMatchObject({ kind: "kept", known: true });
  });

  it.each([
    { wait_s: 30, more: {}, known: true, because: "a delivery was repeated" },
    { wait_s: 61, more: {}, known: false, because: "a second water change" },
    { wait_s: 5, more: { note: "the other half" }, known: false, because: "the note makes it another one" },
    { wait_s: 5, more: { changed_L: 31 }, known: false, because: "another amount" },
  ])("after $wait_s s is known or not: $because", async ({ wait_s, more, known }) => {
    const bench = await journalBench();
    const change = { kind: "water change", tank: "loach", changed_L: 30 };
    await bench.enter(change);
    await bench.clock.advance(wait_s * 1000);
    expect(await bench.enter({ ...change, ...more })).toMatchObject({
      kind: "kept",
      known,
      entry: { entryId: known ? 1 : 2 },
    });
    expect(bench.disk.journal).toHaveLength(known ? 1 : 2);
  });

  it("while the first is on its way to the disk is written once, and both are answered", async () => {
    let confirm: (keeping: JournalKeeping) => void = () => undefined;
    let writes = 0;
    const bench = await journalBench(undefined, {
      keepJournalRow: () => {
        writes += 1;
        return new Promise((resolve) => (confirm = resolve));
      },
      recentJournal: () => Promise.resolve([]),
    });
    const both = [bench.enter(kh(4)), bench.enter(kh(4))];
    await bench.clock.advance(10);
    confirm({ kind: "kept", entryId: 9 });
    expect(await Promise.all(both)).toMatchObject([
      { kind: "kept", known: false, entry: { entryId: 9 } },
      { kind: "kept", known: true, entry: { entryId: 9 } },
    ]);
    expect(writes).toBe(1);
  });
});

describe("an entry that is not kept", () => {
  it.each([
    { entry: { kind: "kh test" }, reason: "not understood", because: "the value is missing" },
    { entry: kh(4, { colour: "green" }), reason: "not understood", because: "a key too many" },
    { entry: { kind: "dream" }, reason: "not understood", because: "no such kind" },
    { entry: kh(4, { note: "\u001b[2J" }), reason: "one line", because: "it would clear a terminal" },
    {
      entry: kh(4, { note: "x".repeat(501) }),
      reason: "not understood",
      because: "it is no note but a book",
    },
    { entry: kh(400), reason: "the KH is 400 dKH; allowed is 0.1 to 40 dKH", because: "out of range" },
    { entry: kh(4, { tank: "loch" }), reason: "the config has loach", because: "no such tank" },
    {
      entry: kh(4, { at: "2026-03-29T02:30" }),
      reason: "does not exist",
      because: "the clocks went forward",
    },
    {
      entry: kh(4, { at: "2025-10-26T02:30" }),
      reason: "write 2025-10-26T02:30+02:00 or 2025-10-26T02:30+01:00",
      because: "the clocks went back",
    },
    { entry: kh(4, { at: "2026-05-01T19:00" }), reason: "60 min ahead", because: "the future" },
    { entry: kh(4, { at: "2026-05-01T22:00" }), reason: "4 hours ahead", because: "later today" },
    { entry: kh(4, { at: "2026-05-30T18:00" }), reason: "29 days ahead", because: "later in the month" },
    {
      entry: kh(35),
      reason: "the KH is 35 dKH; usual is up to 30 dKH (common practice, no source)",
      because: "unusually hard",
    },
    {
      entry: kh(35, { sure: "yes" }),
      reason: 'sure must be true or false, not \\"yes\\"',
      because: "a word",
    },
    { entry: kh(4, { at: "last week" }), reason: "is not understood", because: "no time" },
  ])("says why: $because", async ({ entry, reason }) => {
    const bench = await journalBench();
    const outcome = await bench.enter(entry);
    expect(outcome.kind).toBe("refused");
    expect(JSON.stringify(outcome)).toContain(reason);
    expect(bench.disk.journal).toEqual([]);
    expect(bench.journal.list({ newest: 9 })).toEqual([]);
  });

  it("takes an unusual value from whoever stands by it, and a colour however it is written", async () => {
    const bench = await journalBench();
    expect(await bench.enter(kh(35, { sure: true }))).toMatchObject({
      kind: "kept",
      entry: { fact: { kh_dKH: 35 } },
    });
    for (const [written, colour] of [
      ["Green", "green"],
      [" YELLOW green ", "yellow-green"],
      ["Blue_Green", "blue-green"],
    ]) {
      expect(await bench.enter({ kind: "drop checker", colour: written })).toMatchObject({
        kind: "kept",
        entry: { fact: { colour } },
      });
    }
  });

  it("says quantity, value, unit and range to a program", async () => {
    const bench = await journalBench();
    expect(await bench.enter(kh(400))).toMatchObject({
      refusal: {
        kind: "out of range",
        quantity: "kh_dKH",
        value: 400,
        unit: "dKH",
        minimum: 0.1,
        maximum: 40,
      },
    });
  });

  it.each([
    { clockVerdict: undefined, reason: "no control pass" },
    { clockVerdict: { kind: "implausible", reason: "unsettled" } as const, reason: "clock is not believed" },
  ])("since the time of it would be wrong: $reason", async ({ clockVerdict, reason }) => {
    const bench = await journalBench();
    bench.clockVerdict = clockVerdict;
    const outcome = await bench.enter(kh(4, { at: "2026-05-01T10:00+02:00" }));
    expect(outcome).toMatchObject({ kind: "refused" });
    expect(JSON.stringify(outcome)).toContain(reason);
  });

  it("since the store fails says so, and is nowhere; once the store works it can be entered", async () => {
    const bench = await journalBench();
    bench.store.fail("the disk is full; free space on its file system", 0);
    expect(await bench.enter(kh(4))).toEqual({
      kind: "not kept",
      reason: "not kept: the disk is full; free space on its file system; then enter it again",
    });
    expect(bench.journal.latest("kh test", "loach")).toBeUndefined();
    expect(bench.logger.lines.map(({ message }) => message)).toContain("journal entry not kept");
    bench.store.recover();
    expect(bench.disk.journal).toEqual([]);
    expect(await bench.enter(kh(4))).toMatchObject({ kind: "kept", known: false });
  });

  it("in 15 s by a disk that hangs is answered so, and counts once the disk has it after all", async () => {
    let confirm: (keeping: JournalKeeping) => void = () => undefined;
    const bench = await journalBench(undefined, {
      keepJournalRow: () => new Promise((resolve) => (confirm = resolve)),
      recentJournal: () => Promise.resolve([]),
    });
    const outcome = bench.enter(kh(4));
    await bench.clock.advance(15_000);
    expect(await outcome).toMatchObject({ kind: "not answered" });
    // A repetition does not go to the disk a second time.
    const again = bench.enter(kh(4));
    expect(await again).toMatchObject({ kind: "not answered" });
    expect(bench.journal.latest("kh test", "loach")).toBeUndefined();
    confirm({ kind: "kept", entryId: 3 });
    await bench.clock.advance(10);
    expect(bench.journal.latest("kh test", "loach")?.entryId).toBe(3);
    expect(await bench.enter(kh(4))).toMatchObject({ kind: "kept", known: true });
  });
});

describe("a withdrawal", () => {
  it("makes the one before count again, stays visible, and outlives a restart", async () => {
    const bench = await journalBench();
    await bench.enter(kh(4, { at: "2026-04-30T18:00" }));
    await bench.enter(kh(40, { sure: true }));
    expect(await bench.journal.withdraw(2, "local")).toMatchObject({
      kind: "kept",
      entry: { withdrawn: true },
    });
    for (const { journal } of [bench, await journalBench(bench.disk)]) {
      expect(journal.latest("kh test", "loach")?.fact.kh_dKH).toBe(4);
      expect(journal.entriesOf("kh test", "loach", 0)).toHaveLength(1);
      expect(journal.list({ newest: 9 }).map(({ withdrawn }) => withdrawn)).toEqual([false, true]);
    }
  });

  it("is refused a second time, and for an entry that is none", async () => {
    const bench = await journalBench();
    await bench.enter(kh(4));
    await bench.journal.withdraw(1, "local");
    expect(await bench.journal.withdraw(1, "local")).toMatchObject({
      reason: "entry 1 is withdrawn already",
    });
    expect(await bench.journal.withdraw(7, "local")).toMatchObject({
      reason: "there is no entry 7 in the journal",
    });
  });

  it("lets the same be entered again at once", async () => {
    const bench = await journalBench();
    await bench.enter(kh(4));
    await bench.journal.withdraw(1, "local");
    expect(await bench.enter(kh(4))).toMatchObject({ kind: "kept", known: false });
  });

  it("that the store does not keep leaves the entry as it was", async () => {
    const bench = await journalBench();
    await bench.enter(kh(4));
    bench.store.fail("the disk is full", 0);
    expect(await bench.journal.withdraw(1, "local")).toMatchObject({ kind: "not kept" });
    expect(bench.journal.latest("kh test", "loach")?.entryId).toBe(1);
  });
});

describe("the journal on disk", () => {
  it("of a later program is passed over where it is not understood, and said once", async () => {
    const bench = await journalBench();
    await bench.enter(kh(4));
    const row = bench.disk.journal[0]!;
    bench.disk.journal.push(
      { ...row, entryId: 2, kind: "plant trim", factJson: '{"kind":"plant trim"}' },
      { ...row, entryId: 3, factJson: "{" },
      {
        ...row,
        entryId: 4,
        factJson: JSON.stringify({ ...(JSON.parse(row.factJson) as object), kh_dKH: 5, kit: "x" }),
      },
    );
    const again = await journalBench(bench.disk);
    expect(again.journal.list({ newest: 9 }).map(({ entryId }) => entryId)).toEqual([1, 4]);
    expect(again.journal.latest("kh test", "loach")?.fact).toEqual({
      kind: "kh test",
      tankId: "loach",
      kh_dKH: 5,
    });
    expect(again.logger.lines).toMatchObject([{ level: "warn", fields: { count: 2, entryId: 2 } }]);
  });

  it("is listed by subject, beginning and number, in the order of time", async () => {
    const bench = await journalBench();
    for (const day of [3, 1, 2]) await bench.enter(kh(day, { at: `2026-04-0${day}T12:00` }));
    await bench.enter({ kind: "weighing", vessel: "cellar", vesselMass_g: 3450 });
    const ids = (query: Parameters<typeof bench.journal.list>[0]): readonly number[] =>
      bench.journal.list(query).map(({ entryId }) => entryId);
    expect(ids({ newest: 9 })).toEqual([2, 3, 1, 4]);
    expect(ids({ newest: 2 })).toEqual([1, 4]);
    expect(ids({ newest: 9, subject: "loach" })).toEqual([2, 3, 1]);
    expect(ids({ newest: 9, since_epochMs: Date.parse("2026-04-02T10:00:00Z") })).toEqual([3, 1, 4]);
  });

  it("is followed in memory for 500 entries of a kind and more, of which the newest stay", async () => {
    const bench = await journalBench();
    for (let n = 0; n < 1100; n += 1) {
      await bench.enter({ kind: "bubble count", bubbles_perMin: n % 1000 });
      await bench.clock.advance(61_000);
    }
    const held = bench.journal.entriesOf("bubble count", "outlet", 0);
    expect(held.length).toBeGreaterThanOrEqual(500);
    expect(held.length).toBeLessThanOrEqual(1000);
    expect(held.at(-1)?.entryId).toBe(1100);
    const again = await journalBench(bench.disk);
    expect(again.journal.entriesOf("bubble count", "outlet", 0)).toHaveLength(500);
  });
});
