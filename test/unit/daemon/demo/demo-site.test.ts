import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { parseConfig } from "../../../../daemon/config/load-config.js";
import type { SiteConfig } from "../../../../daemon/config/config-schema.js";
import { simulatedSiteFor } from "../../../../daemon/demo/site-physics.js";
import { createSimulatedSite } from "../../../../lib/simulation/simulated-site.js";
import type { SimulatedSiteState } from "../../../../lib/simulation/simulated-site.js";
import { createRandomSource } from "../../../../lib/simulation/random-source.js";

const file = new URL("../../../../config/demo-site.yaml", import.meta.url);
const parsed = parseConfig(readFileSync(file, "utf8"), file.pathname);

function demoConfig(): SiteConfig {
  if (parsed.kind !== "valid") throw new Error(JSON.stringify(parsed.faults, undefined, 1));
  return parsed.config;
}

/** Lights 10:00 to 19:30 in winter time, gas from 8:00 to 18:30, as the demo's file says; one row an hour. */
function days(count: number): readonly SimulatedSiteState[] {
  const startAt_epochMs = Date.UTC(2026, 2, 2, 0);
  const site = createSimulatedSite(simulatedSiteFor(demoConfig(), startAt_epochMs), createRandomSource(1));
  let state = site.initial;
  const hourly: SimulatedSiteState[] = [];
  for (let hour = 0; hour < count * 24; hour += 1) {
    for (let half = 0; half < 2; half += 1) {
      const localHour = (hour % 24) + half / 2 + 1;
      const lit = localHour >= 10 && localHour < 19.5;
      state = site.advance(state, {
        duration_s: 1800,
        valveOpen: { "cellar-outlet": localHour >= 8 && localHour < 18.5 },
        lightsOn: { loach: lit, shrimp: lit },
        aerating: {},
        faults: [],
      });
    }
    hourly.push(state);
  }
  return hourly;
}

describe("the demo's site", () => {
  it("is a valid configuration without a warning, every sensor speaking in a form of its own", () => {
    const { sensors } = demoConfig();
    expect(parsed.warnings).toEqual([]);
    const forms = Object.values(sensors).map((sensor) =>
      [sensor.measures, "unit" in sensor ? sensor.unit : "", sensor.value?.[0] ?? "bare"].join(" "),
    );
    expect(new Set(forms).size).toBe(forms.length);
  });

  // Common practice, no source: 20 to 30 mg/L in the light, 0.2 to 0.5 g/h for a tank of this size.
  it("lives as such a home does: CO2 of 20 to 30 mg/L by day, falling at night, gas for about a week", () => {
    const hourly = days(8);
    const ratedGauge_bar = 20;
    const first_bar = hourly[0]!.vessels["cellar"]!.pressureGauge_bar;
    expect(first_bar).toBeGreaterThan(12);
    expect(first_bar).toBeLessThan(0.9 * ratedGauge_bar);
    for (const tankId of ["loach", "shrimp"]) {
      const day = hourly.slice(24, 48).map((state) => state.tanks[tankId]!.co2_mgPerL);
      expect(Math.max(...day)).toBeGreaterThan(20);
      expect(Math.max(...day)).toBeLessThan(33);
      expect(Math.min(...day)).toBeLessThan(10);
      // 14:00 local time is in the middle of the photoperiod.
      expect(day[13]!).toBeGreaterThan(18);
    }
    const atHour = (hour: number) => hourly[hour]!.vessels["cellar"]!.pressureGauge_bar;
    for (const day of [0, 1, 2, 3]) expect(atHour(day * 24 + 1) - atHour(day * 24 + 25)).toBeGreaterThan(0.8);
    const given_g = (hourly[23]!.delivered["cellar-outlet"]!.co2_mol * 44.009) / 10.5;
    expect(given_g).toBeGreaterThan(0.4);
    expect(given_g).toBeLessThan(1);
    const usable_h = hourly.findIndex((state) => state.vessels["cellar"]!.pressureGauge_bar < 2.7);
    expect(usable_h).toBeGreaterThan(3.5 * 24);
    expect(usable_h).toBeLessThan(8 * 24);
  });
});
