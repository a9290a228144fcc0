import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { weekdays } from "../../../../lib/schedule/civil-time.js";
import { dosingWindows } from "../../../../lib/schedule/dosing-windows.js";
import type { FallOffer } from "../../../../lib/tank/evening-fall.js";
import { closingCo2_mgPerL, leadAfterPause_h } from "../../../../lib/tank/lead-after-pause.js";
import { nextUsedLead } from "../../../../lib/tank/learnt-lead.js";
import { median } from "../../../../lib/tank/relaxation-fit.js";
import type { UsedLead } from "../../../../lib/tank/tank-learning-state.js";
import { ruleWithLead, shortPauses_min } from "../../../../lib/tank/window-leads.js";
import { lightsOff_min, runLearningDays } from "../../../support/learning-days.js";

const tank = {
  k_perH: 0.25,
  settledCo2_mgPerL: 2,
  plateau_mgPerL: 30,
  closingCo2_mgPerL: 22,
  target_mgPerL: 15,
};

/** The balance dC/dt = dose - k (C - rest) in steps of a second, from the closing on. */
function co2AtTheLights_mgPerL(pause_h: number, lead_h: number): number {
  const { k_perH, settledCo2_mgPerL, plateau_mgPerL } = tank;
  let co2_mgPerL = tank.closingCo2_mgPerL;
  for (let second = 0; second < pause_h * 3600; second += 1) {
    const rest_mgPerL = second < (pause_h - lead_h) * 3600 ? settledCo2_mgPerL : plateau_mgPerL;
    co2_mgPerL += (k_perH * (rest_mgPerL - co2_mgPerL)) / 3600;
  }
  return co2_mgPerL;
}

describe("the lead after a pause", () => {
  it.each([3, 4, 6, 16, 100])("brings the tank to the target after %s h", (pause_h) => {
    const lead_h = leadAfterPause_h(tank, pause_h);
    expect(lead_h).toBeGreaterThan(0);
    expect(co2AtTheLights_mgPerL(pause_h, lead_h)).toBeCloseTo(tank.target_mgPerL, 1);
  });

  it("is none where enough is left, and grows with the pause", () => {
    expect(leadAfterPause_h(tank, 1)).toBe(0);
    expect(leadAfterPause_h(tank, 4)).toBeLessThan(0.8 * leadAfterPause_h(tank, 16));
  });

  it("has no end where the flow does not reach the target, but for what is left of it", () => {
    expect(leadAfterPause_h({ ...tank, plateau_mgPerL: 12 }, 16)).toBe(Infinity);
    expect(leadAfterPause_h({ ...tank, plateau_mgPerL: 12 }, 0.5)).toBe(0);
    expect(() => leadAfterPause_h(tank, NaN)).toThrow(OutOfValidRangeError);
  });

  it("takes the CO2 at the closing from half an hour after it", () => {
    const startCo2_mgPerL = co2AtTheLights_mgPerL(0.5, 0);
    expect(closingCo2_mgPerL({ startCo2_mgPerL }, tank)).toBeCloseTo(tank.closingCo2_mgPerL, 2);
  });
});

/** Lights 08:00 to 12:00 and 16:00 to 20:00. */
const rule = {
  photoperiods: [
    { lightsOn: "08:00", lightsOff: "12:00", days: weekdays },
    { lightsOn: "16:00", lightsOff: "20:00", days: weekdays },
  ],
  lead_min: 60,
  earlyClose_min: 0,
  datesOff: [],
};
const limits = { atLeast_min: 30, atMost_min: 150 };
const day_ms = 24 * 3_600_000;

function learntFor(days: number, afterNight_min: number, at = tank): UsedLead {
  const lead = {
    kind: "reached",
    lead_min: afterNight_min,
    leadLow80_min: 60,
    leadHigh80_min: 200,
    target_mgPerL: 15,
    pausing: at,
  } as const;
  let used: UsedLead | undefined;
  for (let day = 0; day < days; day += 1) {
    used = nextUsedLead(used, 60, limits, { lead, nights: 3 }, day * day_ms, shortPauses_min(rule));
  }
  return used!;
}

function opensOf(used: UsedLead | undefined): readonly string[] {
  return dosingWindows(ruleWithLead(rule, used), "UTC", Date.UTC(2026, 4, 4), Date.UTC(2026, 4, 5)).map(
    ({ opens_epochMs }) => new Date(opens_epochMs).toISOString().slice(11, 16),
  );
}

describe("the leads of a day with a siesta", () => {
  const afterNight_min = Math.round((60 * leadAfterPause_h(tank, 12)) / 5) * 5;
  const afterSiesta_min = Math.round((60 * leadAfterPause_h(tank, 4)) / 5) * 5;

  it("opens the second window later than the learnt lead of the night, so that it begins at the target too", () => {
    expect(afterNight_min - afterSiesta_min).toBeGreaterThan(20);
    const used = learntFor(20, afterNight_min);
    expect(used.lead_min).toBe(afterNight_min);
    expect(used.afterPauses).toEqual([{ pause_min: 240, lead_min: afterSiesta_min }]);
    expect(co2AtTheLights_mgPerL(4, afterNight_min / 60)).toBeGreaterThan(tank.target_mgPerL + 2);
    expect(Math.abs(co2AtTheLights_mgPerL(4, afterSiesta_min / 60) - tank.target_mgPerL)).toBeLessThan(0.5);
    const shown = (at_min: number): string => new Date(at_min * 60_000).toISOString().slice(11, 16);
    expect(opensOf(used)).toEqual([shown(480 - afterNight_min), shown(960 - afterSiesta_min)]);
  });

  it("moves both by 10 minutes a day at most", () => {
    expect(learntFor(1, afterNight_min)).toMatchObject({
      lead_min: 70,
      afterPauses: [{ pause_min: 240, lead_min: 60 + Math.min(10, afterSiesta_min - 60) }],
    });
  });

  it("keeps the config's lead after a pause of which nothing is known", () => {
    const { lead_min, configured_min, moved_epochMs } = learntFor(20, afterNight_min);
    expect(opensOf({ lead_min, configured_min, moved_epochMs })[1]).toBe("15:00");
    expect(opensOf(undefined)).toEqual(["07:00", "15:00"]);
  });

  it("leaves the keeper's limits in neither direction", () => {
    expect(learntFor(20, 200).lead_min).toBe(150);
    const full = { ...tank, closingCo2_mgPerL: 60 };
    expect(learntFor(20, afterNight_min, full).afterPauses).toEqual([{ pause_min: 240, lead_min: 30 }]);
  });

  it("is the learnt lead of the night where the pause is long enough", () => {
    const quick = { ...tank, k_perH: 1.2, plateau_mgPerL: 18 };
    const whole_min = Math.round((60 * leadAfterPause_h(quick, 12)) / 5) * 5;
    const used = learntFor(20, whole_min, quick);
    expect(used.afterPauses).toEqual([{ pause_min: 240, lead_min: used.lead_min }]);
  });
});

it("learns from nights and mornings what a shorter pause leaves, and foresees when each evening is below the band", () => {
  const foreseen: FallOffer[] = [];
  const evenings: number[][] = [];
  const { lead } = runLearningDays(4, {
    each: ({ estimate }) => evenings.at(-1)?.push(estimate!.co2_mgPerL),
    after: (state, minute) => {
      if (minute % 1440 === lightsOff_min - 60) {
        foreseen.push(state.outlook!.fall!);
        evenings.push([]);
      }
      return state;
    },
  }).outlook!;
  expect(foreseen[0]).toMatchObject({ kind: "not known" });
  // The tank of finer physics, seen through its probe: the middle of half an hour is below 15 mg/L, from lights off on.
  const happened_h = evenings.map(
    (co2_mgPerL) => (co2_mgPerL.findIndex((_value, k) => median(co2_mgPerL.slice(k, k + 30)) < 15) - 45) / 60,
  );
  foreseen.slice(1).forEach((fall, k) => {
    if (fall.kind !== "falls") throw new Error(fall.kind);
    const happened = happened_h[k + 1]!;
    expect(Math.abs(fall.after_h - happened), `evening ${k + 1}`).toBeLessThan(0.75);
    expect(happened).toBeGreaterThan(fall.afterLow80_h);
    expect(happened).toBeLessThan(fall.afterHigh80_h!);
  });
  expect(lead.kind).toBe("reached");
  if (lead.kind !== "reached") return;
  // k 0.22 per hour, 5 mg/L an hour, lights until half an hour after the gas: the closing lies between target and plateau.
  expect(lead.pausing!.k_perH).toBeGreaterThan(0.18);
  expect(lead.pausing!.closingCo2_mgPerL).toBeGreaterThan(lead.pausing!.target_mgPerL);
  expect(lead.pausing!.closingCo2_mgPerL).toBeLessThan(lead.pausing!.plateau_mgPerL);
  const afterNight_min = 60 * leadAfterPause_h(lead.pausing!, 15);
  expect(Math.abs(afterNight_min - lead.lead_min)).toBeLessThan(20);
  expect(60 * leadAfterPause_h(lead.pausing!, 3)).toBeLessThan(lead.lead_min - 20);
});
