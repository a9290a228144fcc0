import { describe, expect, it } from "vitest";
import {
  roomAirCauses,
  roomAirHeld_ppm,
  roomAirLeave_ppm,
  roomAirShortTime_ppm,
  roomsTooRich,
} from "../../../../lib/control/room-air.js";
import type { Trip, TripCause } from "../../../../lib/control/trip.js";

const subject = { kind: "valve", id: "outlet" } as const;
const room = (co2InAir_ppm: number | undefined) => ({ sensorId: "cellar-air", co2InAir_ppm });
const tripped = (cause: TripCause, id = "outlet"): Trip => ({
  subject: { kind: "valve", id },
  cause,
  reason: "seen",
  at_epochMs: 0,
});
const low = "CO2 in the room from 15000 ppm";
const high = "CO2 in the room from 30000 ppm";

describe("the limits of CO2 in the air of a room", () => {
  it.each([
    {
      step: roomAirHeld_ppm,
      published_ppm: 5000,
      source: "Directive 2006/15/EC, 8 hours; 29 CFR 1910.1000 table Z-1 (from memory)",
    },
    { step: roomAirShortTime_ppm, published_ppm: 15_000, source: "HSE EH40/2005, 15 minutes (from memory)" },
    { step: roomAirLeave_ppm, published_ppm: 30_000, source: "NIOSH pocket guide, 15 minutes (from memory)" },
  ])("is the published $published_ppm ppm of $source", ({ step, published_ppm }) => {
    expect(step).toBe(published_ppm);
  });

  it("lies below the concentration that is immediately dangerous to life, 40000 ppm (NIOSH)", () => {
    expect(roomAirLeave_ppm).toBeLessThan(40_000);
  });
});

describe("a room whose air holds the valve", () => {
  it.each([
    { ppm: 4999, held: false, isHeld: false, because: "it is below the limit" },
    { ppm: 5000, held: false, isHeld: true, because: "a sensor that ends at 5000 ppm says so" },
    { ppm: 4501, held: true, isHeld: true, because: "it has not fallen far enough" },
    { ppm: 4500, held: true, isHeld: false, because: "it has" },
    { ppm: undefined, held: true, isHeld: true, because: "its sensor fell silent meanwhile" },
    { ppm: undefined, held: false, isHeld: false, because: "a silent sensor that is no guard holds nothing" },
  ])("$ppm ppm, held before: $held; held: $isHeld, as $because", ({ ppm, held, isHeld }) => {
    expect(roomsTooRich([room(ppm)], held ? ["cellar-air"] : [])).toHaveLength(isHeld ? 1 : 0);
  });
});

describe("what the air of a room trips", () => {
  it.each<{ ppm: number | undefined; trips: readonly Trip[]; causes: readonly TripCause[]; because: string }>(
    [
      { ppm: 14_999, trips: [], causes: [], because: "holding gas off is enough" },
      { ppm: 15_000, trips: [], causes: [low], because: "the short-time limit is reached" },
      { ppm: 29_999, trips: [], causes: [low], because: "people need not run yet" },
      { ppm: 30_000, trips: [], causes: [high], because: "everybody must leave; one alarm is enough" },
      {
        ppm: 20_000,
        trips: [tripped(high)],
        causes: [high],
        because: "the higher one stands while it clears",
      },
      { ppm: 6000, trips: [tripped(low)], causes: [low], because: "the cause is not gone" },
      { ppm: 4501, trips: [tripped(high)], causes: [high], because: "the cause is not gone" },
      { ppm: 4500, trips: [tripped(low), tripped(high)], causes: [], because: "the air is good again" },
      { ppm: undefined, trips: [tripped(low)], causes: [low], because: "nobody knows that it is gone" },
      { ppm: undefined, trips: [], causes: [], because: "silence alone trips nothing" },
      { ppm: 6000, trips: [tripped(low, "other")], causes: [], because: "another valve has tripped" },
    ],
  )("$ppm ppm: $causes, as $because", ({ ppm, trips, causes }) => {
    expect(roomAirCauses([room(ppm)], trips, subject).map(({ cause }) => cause)).toEqual(causes);
  });

  it("names the sensor and what it shows", () => {
    expect(roomAirCauses([room(31_234.6)], [], subject)).toEqual([
      { subject, cause: high, reason: "cellar-air shows 31235 ppm" },
    ]);
  });
});
