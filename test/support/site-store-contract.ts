import { afterEach, beforeEach, describe, expect, it } from "vitest";
import type {
  NewJournalRow,
  OutboxMessage,
  SiteEvent,
  SiteStore,
  StoredReading,
} from "../../daemon/ports/site-store.js";

/** A store under test; `restart` stops it and starts another one on the same disk. */
export interface StoreUnderTest {
  readonly store: SiteStore;
  restart(): Promise<StoreUnderTest>;
  dispose(): Promise<void>;
}

const noon_epochMs = Date.UTC(2026, 2, 1, 12);

const eventAt = (at_epochMs: number, what: string): SiteEvent => ({
  at_epochMs,
  area: "valve",
  subject: "cellar-outlet",
  what,
  reason: "window begins",
  details: { nested: { share_ratio: 0.6 }, list: [1, "two", null] },
});

const phAt = (at_epochMs: number, value: number): StoredReading => ({
  sensorId: "loach-ph",
  quantity: "pH",
  value,
  at_epochMs,
});

const khRow = (at_epochMs: number, kh_dKH: number, subject = "loach"): NewJournalRow => ({
  at_epochMs,
  enteredAt_epochMs: at_epochMs + 60_000,
  source: "local",
  kind: "kh test",
  subject,
  factJson: JSON.stringify({ kh_dKH }),
  note: 'a note with "quotes" and ümläuts',
});

const withdrawal = (withdraws: number): NewJournalRow => ({
  ...khRow(noon_epochMs, 0),
  kind: "withdrawal",
  factJson: "{}",
  withdraws,
});

/** What the daemon relies on, whichever store it is given. */
export const describeSiteStore = (name: string, open: () => Promise<StoreUnderTest>): void => {
  describe(`${name} keeps the contract of the site store`, () => {
    let under: StoreUnderTest;
    beforeEach(async () => {
      under = await open();
    });
    afterEach(() => under.dispose());

    const ours = async (from_epochMs = 0, limit = 100): Promise<readonly SiteEvent[]> =>
      (await under.store.events({ from_epochMs, to_epochMs: noon_epochMs * 2, limit })).filter(
        ({ area }) => area === "valve",
      );

    it("keeps messages until they are settled, in their order, with the state that belongs to them", async () => {
      const message = (messageKey: string, createdAt_epochMs: number): OutboxMessage => ({
        messageKey,
        channel: "phone",
        createdAt_epochMs,
        contentJson: '{"notices":[]}',
      });
      const first = message("b", noon_epochMs);
      const second = message("a", noon_epochMs + 1);
      const { store } = under;
      expect(
        await store.keepOutbox({
          added: [first, second],
          settled: [],
          snapshot: { name: "alerts", state: { told: 2 } },
        }),
      ).toBe(true);
      expect(await store.waitingMessages()).toEqual([first, second]);
      const settled = [{ messageKey: "b", outcome: "delivered", at_epochMs: noon_epochMs + 2 }] as const;
      await store.keepOutbox({ added: [], settled });
      // A write whose answer was lost is repeated: what is settled does not wait again.
      await store.keepOutbox({ added: [first], settled: [] });
      under = await under.restart();
      expect(await under.store.waitingMessages()).toEqual([second]);
      expect(await under.store.loadSnapshot("alerts")).toEqual({ told: 2 });
    });

    it("gives back an event with all its fields, also after a restart", async () => {
      const event = eventAt(noon_epochMs, "opened");
      expect(await under.store.recordEvent(event)).toBe(true);
      expect(await ours()).toEqual([event]);
      under = await under.restart();
      expect(await ours()).toEqual([event]);
    });

    it("gives the newest events up to the limit, oldest first", async () => {
      for (const [n, what] of ["first", "second", "third", "fourth"].entries()) {
        await under.store.recordEvent(eventAt(noon_epochMs + n, what));
      }
      expect((await ours(0, 2)).map(({ what }) => what)).toEqual(["third", "fourth"]);
    });

    it("takes the beginning of a span in and leaves its end out", async () => {
      for (const n of [0, 1, 2]) await under.store.recordEvent(eventAt(noon_epochMs + n, `at ${n}`));
      const found = await under.store.events({
        from_epochMs: noon_epochMs,
        to_epochMs: noon_epochMs + 2,
        limit: 10,
      });
      expect(found.map(({ what }) => what)).toEqual(["at 0", "at 1"]);
    });

    it("keeps events of the same millisecond in the order in which they came", async () => {
      const whats = Array.from({ length: 30 }, (_, n) => `step ${n}`);
      await Promise.all(whats.map((what) => under.store.recordEvent(eventAt(noon_epochMs, what))));
      under = await under.restart();
      expect((await ours()).map(({ what }) => what)).toEqual(whats);
    });

    it("goes on from the last saved state, each name for itself", async () => {
      expect(await under.store.loadSnapshot("trips")).toBeUndefined();
      await under.store.saveSnapshot("trips", { latched: ["loach"] });
      await under.store.saveSnapshot("charge", { closedAt_epochMs: noon_epochMs });
      expect(await under.store.saveSnapshot("trips", { latched: [] })).toBe(true);
      expect(await under.store.loadSnapshot("trips")).toEqual({ latched: [] });
      under = await under.restart();
      expect(await under.store.loadSnapshot("trips")).toEqual({ latched: [] });
      expect(await under.store.loadSnapshot("charge")).toEqual({ closedAt_epochMs: noon_epochMs });
    });

    it("says false to a state that is not plain data and keeps the one before", async () => {
      await under.store.saveSnapshot("trips", { latched: ["loach"] });
      const circular: Record<string, unknown> = {};
      circular["itself"] = circular;
      expect(await under.store.saveSnapshot("trips", circular)).toBe(false);
      under = await under.restart();
      expect(await under.store.loadSnapshot("trips")).toEqual({ latched: ["loach"] });
    });

    it("shows a reading at once and keeps it over an orderly restart", async () => {
      under.store.appendReading(phAt(noon_epochMs, 6.8));
      under.store.appendReading(phAt(noon_epochMs + 10_000, 6.7));
      const query = { sensorId: "loach-ph", from_epochMs: noon_epochMs, to_epochMs: noon_epochMs + 60_000 };
      const expected = [6.8, 6.7].map((value, n) => ({
        sensorId: "loach-ph",
        quantity: "pH",
        from_epochMs: noon_epochMs + 10_000 * n,
        minimum: value,
        mean: value,
        maximum: value,
        count: 1,
      }));
      expect(await under.store.readings(query)).toEqual(expected);
      under = await under.restart();
      expect(await under.store.readings(query)).toEqual(expected);
      expect(await under.store.readings({ ...query, sensorId: "unheard-of" })).toEqual([]);
    });

    it("rolls a long span up to a number of rows that a chart can show, with nothing lost", async () => {
      for (let n = 0; n < 9000; n++) under.store.appendReading(phAt(noon_epochMs + n * 10_000, n % 7));
      under = await under.restart();
      const rows = await under.store.readings({
        sensorId: "loach-ph",
        from_epochMs: noon_epochMs,
        to_epochMs: noon_epochMs + 9000 * 10_000,
      });
      expect(rows.length).toBe(1500);
      expect(rows.reduce((sum, { count }) => sum + count, 0)).toBe(9000);
      // 0 1 2 3 4 5 are the first six values, ten seconds apart.
      expect(rows[0]).toMatchObject({
        from_epochMs: noon_epochMs,
        minimum: 0,
        mean: 2.5,
        maximum: 5,
        count: 6,
      });
    });

    it("leaves out a value that is no number instead of failing over it", async () => {
      under.store.appendReading(phAt(noon_epochMs, Number.NaN));
      under.store.appendReading(phAt(noon_epochMs, Number.POSITIVE_INFINITY));
      under.store.appendReading(phAt(Number.NaN, 7));
      under.store.appendReading(phAt(noon_epochMs + 1, 6.9));
      under = await under.restart();
      const rows = await under.store.readings({
        sensorId: "loach-ph",
        from_epochMs: 0,
        to_epochMs: noon_epochMs * 2,
      });
      expect(rows.map(({ mean }) => mean)).toEqual([6.9]);
      expect(under.store.health()).toEqual({ kind: "ok" });
    });

    it("knows at start the latest instant that it holds", async () => {
      expect(under.store.latestKnown_epochMs()).toBeUndefined();
      await under.store.recordEvent(eventAt(noon_epochMs, "opened"));
      under.store.appendReading(phAt(noon_epochMs + 5000, 6.8));
      under = await under.restart();
      expect(under.store.latestKnown_epochMs()).toBe(noon_epochMs + 5000);
    });

    it("gives back a journal entry with all its fields under the id that it was answered with, also after a restart", async () => {
      const kept = await under.store.keepJournalRow(khRow(noon_epochMs, 4.5));
      expect(kept).toEqual({ kind: "kept", entryId: 1 });
      const expected = [{ ...khRow(noon_epochMs, 4.5), entryId: 1, withdrawn: false }];
      expect(await under.store.recentJournal({ perSubject: 5 })).toEqual(expected);
      under = await under.restart();
      expect(await under.store.recentJournal({ perSubject: 5 })).toEqual(expected);
      expect(await under.store.keepJournalRow(khRow(noon_epochMs, 4))).toEqual({ kind: "kept", entryId: 2 });
      expect(under.store.latestKnown_epochMs()).toBe(noon_epochMs + 60_000);
    });

    it("gives the newest journal entries of each kind and subject by the time at which they were seen", async () => {
      for (const [n, minute] of [5, 1, 3, 2, 4].entries()) {
        await under.store.keepJournalRow(khRow(noon_epochMs + minute, n));
      }
      await under.store.keepJournalRow(khRow(noon_epochMs, 7, "shrimp"));
      const found = await under.store.recentJournal({ perSubject: 2 });
      expect(found.map(({ subject, at_epochMs }) => [subject, at_epochMs - noon_epochMs])).toEqual([
        ["shrimp", 0],
        ["loach", 4],
        ["loach", 5],
      ]);
    });

    it("marks a journal entry as withdrawn, once, and lets an older one move up", async () => {
      for (const n of [1, 2, 3]) await under.store.keepJournalRow(khRow(noon_epochMs + n, n));
      expect(await under.store.keepJournalRow(withdrawal(3))).toMatchObject({ kind: "kept" });
      expect(await under.store.keepJournalRow(withdrawal(3))).toMatchObject({ kind: "not kept" });
      under = await under.restart();
      const found = await under.store.recentJournal({ perSubject: 2 });
      expect(found.find(({ withdrawn }) => withdrawn)?.withdrawnAt_epochMs).toBe(
        withdrawal(1).enteredAt_epochMs,
      );
      expect(found.map(({ entryId, withdrawn }) => [entryId, withdrawn])).toEqual([
        [1, false],
        [2, false],
        [3, true],
      ]);
      expect(under.store.health()).toEqual({ kind: "ok" });
    });

    it("keeps no journal entry after its end", async () => {
      await under.store.stop();
      expect(await under.store.keepJournalRow(khRow(noon_epochMs, 4))).toMatchObject({ kind: "not kept" });
    });

    it("says false to an event after its end, and does not throw", async () => {
      await under.store.stop();
      expect(await under.store.recordEvent(eventAt(noon_epochMs, "closed"))).toBe(false);
      expect(() => under.store.appendReading(phAt(noon_epochMs, 7))).not.toThrow();
    });
  });
};
