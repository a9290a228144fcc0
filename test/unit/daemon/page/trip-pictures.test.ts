import { describe, expect, it } from "vitest";
import { tripPictures } from "../../../../daemon/page/trip-pictures.js";
import type { Trip, TripCause } from "../../../../lib/control/trip.js";

const trip = (cause: TripCause, id = "outlet"): Trip => ({
  subject: { kind: "valve", id },
  cause,
  reason: "as it was read",
  at_epochMs: 0,
});
const room = trip("CO2 in the room from 15000 ppm");
const stuck = trip("gas did not stop");
const vessel = trip("pressure above the rating");

describe("the safety closings on the page", () => {
  it("send people out of a room full of CO2, and nobody to the animals in it", () => {
    const [told] = tripPictures([room], [room]);
    expect(told!.whatToDo).toContain("leave the room");
    expect(told!.whatToDo).not.toContain("fish");
  });

  it("keep people away from a vessel above its rating, and ask for a hand at it where gas did not stop", () => {
    const [above, flows] = tripPictures([stuck, vessel], []);
    expect(above!.whatToDo).toMatch(/^Keep away from the vessel/);
    expect(flows!.whatToDo).toContain("shut the vessel by hand");
  });

  it("stand in the order of the danger: people before animals, what stands before what is over", () => {
    const other = trip("CO2 in the room from 30000 ppm", "other");
    const told = tripPictures([stuck, vessel, room, other], [stuck, room, other]);
    expect(told.map(({ cause, stands }) => [cause, stands])).toEqual([
      ["CO2 in the room from 30000 ppm", true],
      ["CO2 in the room from 15000 ppm", true],
      ["gas did not stop", true],
      ["pressure above the rating", false],
    ]);
  });
});
