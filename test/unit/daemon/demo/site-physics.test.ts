import { describe, expect, it } from "vitest";
import type { SiteDescription, VesselDescription } from "../../../../daemon/demo/site-description.js";
import { simulatedSiteFor } from "../../../../daemon/demo/site-physics.js";

const vesselOf = (charge: NonNullable<VesselDescription["charge"]>) => {
  const site: SiteDescription = {
    sensors: {},
    vessels: { cellar: { kind: "generator", volume_L: 2, workingPressureGauge_bar: 2, charge } },
    tanks: {},
    valves: {},
  };
  return simulatedSiteFor(site, Date.UTC(2026, 2, 2, 8)).vessels["cellar"]?.initial;
};

describe("the simulated vessel", () => {
  it("is the same whichever form its acid was weighed in", () => {
    const rest = { sodiumBicarbonate_g: 80, water_kg: 0.5, sealedAt_degC: 20 };
    // 210.138 / 192.123 (IUPAC 2021).
    const hydrated = vesselOf({ ...rest, citricAcidMonohydrate_g: 66 * (210.138 / 192.123) });
    const anhydrous = vesselOf({ ...rest, citricAcidAnhydrous_g: 66 });
    expect(anhydrous).toBeDefined();
    for (const [key, value] of Object.entries(anhydrous ?? {})) {
      if (typeof value !== "number") continue;
      expect(Object.entries(hydrated ?? {}).find(([name]) => name === key)?.[1]).toBeCloseTo(value, 4);
    }
  });
});
