import { describe, expect, it } from "vitest";
import { defaultCo2Limits } from "../../../../lib/tank/co2-bands.js";
import { tankCautions, type TankCautionKind, type TankMoment } from "../../../../lib/tank/tank-cautions.js";

const noon: TankMoment = {
  co2_mgPerL: 24,
  limits: defaultCo2Limits,
  lightsAreOn: true,
  untilLightsOn_h: undefined,
  sinceLightsOff_h: undefined,
  temperature_degC: 25,
  keepsShrimp: false,
  keepsFry: false,
};
const night: TankMoment = { ...noon, lightsAreOn: false, untilLightsOn_h: 6, sinceLightsOff_h: 6 };

describe("the cautions of a tank", () => {
  it.each<[Partial<TankMoment>, TankMoment, readonly TankCautionKind[], string]>([
    [{}, noon, [], "an ordinary day"],
    [{}, night, [], "an ordinary night"],
    [{ co2_mgPerL: 35 }, noon, [], "a little much by day is the band's to tell"],
    [{ keepsShrimp: true }, noon, ["shrimp or fry"], "shrimp with the usual alarm limit"],
    [
      { keepsFry: true, limits: { ...defaultCo2Limits, co2TargetHigh_mgPerL: 22, co2Alarm_mgPerL: 28 } },
      noon,
      [],
      "fry with a gentler alarm set already",
    ],
    [{ co2_mgPerL: 35 }, night, ["lights off and CO2 high"], "the middle of the night"],
    [
      { co2_mgPerL: 35, sinceLightsOff_h: 1 },
      night,
      [],
      "soon after the lights went off it may still be high",
    ],
    [
      { co2_mgPerL: 35, untilLightsOn_h: 2, sinceLightsOff_h: 10 },
      night,
      ["oxygen low before dawn", "lights off and CO2 high"],
      "two hours before the lights",
    ],
    [{ co2_mgPerL: 24, untilLightsOn_h: 2 }, night, [], "before dawn with CO2 as it should be"],
    [{ co2_mgPerL: 35, temperature_degC: 29 }, noon, ["warm water holds less oxygen"], "a hot day"],
    [{ co2_mgPerL: undefined, temperature_degC: 31 }, night, [], "nothing known of the CO2"],
    [{ co2_mgPerL: 35, temperature_degC: undefined }, noon, [], "no thermometer"],
  ])("with %j of %o are %j (%s)", (change, moment, kinds) => {
    expect(tankCautions({ ...moment, ...change }).map(({ kind }) => kind)).toEqual(kinds);
  });

  it("for shrimp offer a lower alarm and say that no published limit was found", () => {
    const [caution] = tankCautions({ ...noon, keepsShrimp: true });
    expect(caution?.suggestedAlarm_mgPerL).toBe(30);
    expect(caution?.text).toContain("no published CO2 limit");
  });

  it.each([
    [{ keepsShrimp: true, keepsFry: true }, "Shrimp and fry"],
    [{ keepsShrimp: true }, "Shrimp in"],
    [{ keepsFry: true }, "Fry in"],
  ])("name who lives there: %j", (who, words) => {
    expect(tankCautions({ ...noon, ...who })[0]?.text.startsWith(words)).toBe(true);
  });
});
