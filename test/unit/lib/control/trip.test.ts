import { describe, expect, it } from "vitest";
import { rearm, rehomedTrips, sameSubject, withTrip, type Trip } from "../../../../lib/control/trip.js";

const tankTrip: Trip = {
  subject: { kind: "tank", id: "loach" },
  cause: "pH below the floor",
  reason: "pH 5.90, the floor is 6",
  at_epochMs: 1000,
};
const co2Trip: Trip = { ...tankTrip, cause: "CO2 above the close limit", reason: "up to 70 mg/L" };
const valveTrip: Trip = {
  subject: { kind: "valve", id: "outlet" },
  cause: "open for too long",
  reason: "open for more than 720 min",
  at_epochMs: 2000,
};

describe("withTrip", () => {
  it.each<{ known: readonly Trip[]; trip: Trip; length: number; because: string }>([
    { known: [], trip: tankTrip, length: 1, because: "it is the first" },
    { known: [tankTrip], trip: co2Trip, length: 2, because: "the cause is another" },
    { known: [tankTrip], trip: valveTrip, length: 2, because: "the subject is another" },
    {
      known: [tankTrip],
      trip: { ...tankTrip, subject: { kind: "valve", id: "loach" } },
      length: 2,
      because: "a valve may have a tank's name",
    },
    {
      known: [tankTrip],
      trip: { ...tankTrip, at_epochMs: 9000, reason: "pH 5.10" },
      length: 1,
      because: "it has tripped already",
    },
  ])("leaves $length trips: $because", ({ known, trip, length }) => {
    expect(withTrip(known, trip)).toHaveLength(length);
  });

  it("keeps the first instant and reason when the cause comes again", () => {
    const known = [tankTrip];
    expect(withTrip(known, { ...tankTrip, at_epochMs: 9000, reason: "pH 5.10" })).toBe(known);
  });
});

describe("rearm", () => {
  it("releases every trip of the subject and no other", () => {
    expect(rearm([tankTrip, valveTrip, co2Trip], tankTrip.subject, [])).toEqual({
      kind: "re-armed",
      trips: [valveTrip],
      released: [tankTrip, co2Trip],
    });
    expect(rearm([tankTrip, valveTrip], valveTrip.subject, [tankTrip])).toEqual({
      kind: "re-armed",
      trips: [tankTrip],
      released: [valveTrip],
    });
  });

  it.each([
    {
      trips: [tankTrip],
      standing: [{ ...tankTrip, reason: "pH 5.80" }],
      subject: tankTrip.subject,
      because: "the cause is not known to be gone: pH 5.80",
    },
    {
      trips: [tankTrip, co2Trip],
      standing: [co2Trip],
      subject: tankTrip.subject,
      because: "the cause is not known to be gone: up to 70 mg/L",
    },
    {
      trips: [valveTrip],
      standing: [valveTrip],
      subject: valveTrip.subject,
      because: "the cause is not known to be gone: open for more than 720 min",
    },
    { trips: [tankTrip], standing: [], subject: valveTrip.subject, because: "valve outlet has not tripped" },
    { trips: [], standing: [], subject: tankTrip.subject, because: "tank loach has not tripped" },
    {
      trips: [tankTrip],
      standing: [],
      subject: { kind: "valve", id: "loach" } as const,
      because: "valve loach has not tripped",
    },
  ])("is refused: $because", ({ trips, standing, subject, because }) => {
    expect(rearm(trips, subject, standing)).toEqual({ kind: "refused", reason: because });
  });

  it("does not mind a standing cause of which nothing has tripped", () => {
    expect(rearm([tankTrip], tankTrip.subject, [co2Trip]).kind).toBe("re-armed");
  });
});

it("tells a tank from a valve of the same name", () => {
  expect(sameSubject({ kind: "tank", id: "loach" }, { kind: "tank", id: "loach" })).toBe(true);
  expect(sameSubject({ kind: "tank", id: "loach" }, { kind: "valve", id: "loach" })).toBe(false);
  expect(sameSubject({ kind: "tank", id: "loach" }, { kind: "tank", id: "shrimp" })).toBe(false);
});

describe("a trip whose tank is no longer in the config", () => {
  const tripped: Trip = {
    subject: { kind: "tank", id: "loach" },
    cause: "pH below the floor",
    reason: "pH 5.50",
    at_epochMs: 1,
  };

  it("passes to the valves that fed it", () => {
    const kept = rehomedTrips(
      [tripped],
      ({ id }) => id !== "loach",
      () => ["outlet", "second"],
    );
    expect(kept.map(({ subject }) => subject)).toEqual([
      { kind: "valve", id: "outlet" },
      { kind: "valve", id: "second" },
    ]);
    expect(kept[0]!.cause).toBe("pH below the floor");
  });

  it("stays with a tank that is still there, and a valve's trip with its valve", () => {
    const ofValve: Trip = {
      ...tripped,
      subject: { kind: "valve", id: "outlet" },
      cause: "open for too long",
    };
    expect(
      rehomedTrips(
        [tripped, ofValve],
        () => true,
        () => [],
      ),
    ).toEqual([tripped, ofValve]);
  });
});
