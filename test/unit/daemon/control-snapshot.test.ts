import { describe, expect, it } from "vitest";
import { emptySnapshot, readSnapshot, restoreSnapshot } from "../../../daemon/control-snapshot.js";

const site = { valveIds: ["outlet", "second"], now_epochMs: 1_780_000_000_000 };
const tripped = {
  trips: [
    {
      subject: { kind: "tank", id: "loach" },
      cause: "pH below the floor",
      reason: "pH 5.50, the floor is 5.8",
      at_epochMs: 1_779_999_000_000,
    },
  ],
  overrides: [],
  commissioned: { outlet: "[]" },
};

describe("what a restart goes on from", () => {
  it("is what was saved, through JSON and back", () => {
    const snapshot = readSnapshot(JSON.parse(JSON.stringify(tripped)));
    expect(restoreSnapshot(tripped, undefined, site)).toEqual(snapshot);
    expect(snapshot.trips).toEqual(tripped.trips);
    expect(snapshot.commissioned).toEqual({ outlet: "[]" });
  });

  it("keeps a trip for CO2 that rose too fast", () => {
    const trips = [{ ...tripped.trips[0], cause: "CO2 rises too fast", reason: "by 14 mg/L in 30 min" }];
    expect(restoreSnapshot({ ...tripped, trips }, undefined, site).trips).toEqual(trips);
  });

  it("keeps a running leak test and what an ended one found, and none where an earlier program wrote", () => {
    const test = { vesselId: "cellar", from_epochMs: 1, until_epochMs: 2, matters_gPerDay: 1 };
    const verdict = { kind: "cannot-be-told", why: "too-short", needed_h: 9, closed_h: 1 };
    const found = { ended_epochMs: 2, isEarly: true, verdict, sentences: ["It cannot be told."] };
    const leakTests = [
      { ...test, gaugeAccuracy_bar: 0.1 },
      { ...test, vesselId: "attic", found },
    ];
    expect(restoreSnapshot({ ...tripped, leakTests }, undefined, site).leakTests).toEqual(leakTests);
    expect(restoreSnapshot(tripped, undefined, site).leakTests).toEqual([]);
  });

  it("is nothing on the first start", () => {
    expect(restoreSnapshot(undefined, undefined, site)).toEqual(emptySnapshot);
  });

  it.each([
    {
      stored: undefined,
      damage: "site.db was damaged",
      because: "the file was set aside and the state with it",
    },
    { stored: { trips: "none" }, damage: undefined, because: "the state cannot be read" },
    { stored: { ...tripped, trips: [{}] }, damage: undefined, because: "one trip cannot be read" },
  ])("is a trip of every valve when $because", ({ stored, damage }) => {
    const snapshot = restoreSnapshot(stored, damage, site);
    expect(snapshot.trips.map((trip) => trip.subject.id)).toEqual(site.valveIds);
    expect(snapshot.commissioned).toEqual({});
  });

  it("is the saved state and a trip of every valve where what was saved last is not known", () => {
    const snapshot = restoreSnapshot(tripped, "the log is damaged", { ...site, lostTheLatest: true });
    expect(snapshot.trips.map(({ subject, cause }) => `${subject.id}: ${cause}`)).toEqual([
      "loach: pH below the floor",
      "outlet: what was known before is lost",
      "second: what was known before is lost",
    ]);
    expect(snapshot.commissioned).toEqual(tripped.commissioned);
    expect(
      restoreSnapshot(undefined, "the log is damaged", { ...site, lostTheLatest: true }).trips,
    ).toHaveLength(2);
  });

  it("is the saved state where a damaged store could still give it", () => {
    expect(restoreSnapshot(tripped, "site.db was damaged", site).trips).toEqual(tripped.trips);
  });
});
