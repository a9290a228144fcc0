import { describe, expect, it } from "vitest";
import { pressureBreach } from "../../../../lib/charge-plan/charge-limits.js";

const pressures = { ratedPressureGauge_bar: 20, reliefOpeningGauge_bar: 18 };

describe("a pressure above what is allowed", () => {
  it.each([
    { upper_bar: 22.44, says: "may reach 22.4 bar on the hottest day (40 degC); allowed is 16.2 bar" },
    { upper_bar: 16.2312, says: "may reach 16.23 bar on the hottest day (40 degC); allowed is 16.20 bar" },
    { upper_bar: 16.2023, says: "may reach 16.202 bar on the hottest day (40 degC); allowed is 16.200 bar" },
    { upper_bar: Infinity, says: "so much CO2 does not stay a gas on the hottest day (40 degC)" },
  ])("is told with the decimals that show it: $upper_bar bar", ({ upper_bar, says }) => {
    expect(pressureBreach(upper_bar, pressures, 40)?.reason).toContain(says);
  });

  it("is none where it is exactly what is allowed", () => {
    expect(pressureBreach(16.2, pressures, 40)).toBeUndefined();
  });
});
