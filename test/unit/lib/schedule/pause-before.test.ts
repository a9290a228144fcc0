import { describe, expect, it } from "vitest";
import { weekdays, type Weekday } from "../../../../lib/schedule/civil-time.js";
import { pausesBefore } from "../../../../lib/schedule/pause-before.js";

const light = (lightsOn: string, lightsOff: string, days: readonly Weekday[] = weekdays) => ({
  lightsOn,
  lightsOff,
  days,
});

describe("the pause before each window of a week", () => {
  it.each([
    { photoperiods: [light("10:00", "18:00")], monday: [[960, true]], because: "one window a day" },
    {
      photoperiods: [light("08:00", "12:00"), light("16:00", "20:00")],
      monday: [
        [720, true],
        [240, false],
      ],
      because: "after the siesta the tank is not as empty as after the night",
    },
    {
      photoperiods: [light("20:00", "02:00"), light("06:00", "10:00")],
      monday: [
        [600, true],
        [240, false],
      ],
      because: "a window over midnight ends on the next day",
    },
    {
      photoperiods: [light("00:00", "04:00"), light("08:00", "12:00"), light("16:00", "20:00")],
      monday: [
        [240, true],
        [240, true],
        [240, true],
      ],
      because: "of equal pauses each is the night",
    },
    {
      photoperiods: [light("08:00", "13:00"), light("12:00", "20:00")],
      monday: [
        [720, true],
        [0, false],
      ],
      because: "gas still flows",
    },
    { photoperiods: [light("10:00", "18:00", ["mon"])], monday: [[9600, true]], because: "a week goes by" },
  ])("$because", ({ photoperiods, monday }) => {
    const pauses = pausesBefore({ photoperiods, earlyClose_min: 0 }).filter(({ day }) => day === "mon");
    expect(pauses.map(({ pause_min, isAfterTheNight }) => [pause_min, isAfterTheNight])).toEqual(monday);
  });

  it("counts from the end of the gas, not of the lights", () => {
    const [pause] = pausesBefore({ photoperiods: [light("10:00", "18:00")], earlyClose_min: 30 });
    expect(pause?.pause_min).toBe(990);
  });

  it("knows a short pause even where it is the only window of its day", () => {
    const photoperiods = [light("20:00", "02:00", ["mon"]), light("06:00", "12:00", ["tue"])];
    const pauses = pausesBefore({ photoperiods, earlyClose_min: 0 });
    expect(pauses.map(({ isAfterTheNight }) => isAfterTheNight)).toEqual([true, false]);
  });
});
