import { describe, expect, it } from "vitest";
import { learntEssence, learntFields } from "../../../../daemon/tank/learnt-document.js";
import { learntLines } from "../../../../daemon/tank/learnt-text.js";
import type { LearntTankStatus } from "../../../../daemon/tank/learnt-tank-status.js";
import { learntTank } from "../../../../lib/tank/learnt-tank.js";
import { emptyTankLearning } from "../../../../lib/tank/tank-learning-state.js";
import { learningStart_epochMs, learningTank, runLearningDays } from "../../../support/learning-days.js";

const local = (at_epochMs: number): string => new Date(at_epochMs).toISOString().slice(11, 16);
const now_epochMs = learningStart_epochMs + 4 * 86_400_000;

function statusOf(state = runLearningDays(4)): LearntTankStatus {
  return {
    ...learntTank(state, learningTank.kh_dKH, now_epochMs),
    tankId: "loach",
    usedLead_min: 70,
    configuredLead_min: 60,
    useLearntLead: { atLeast_min: 45, atMost_min: 120 },
  };
}

const known = statusOf();
const unknown = statusOf(emptyTankLearning);

describe("what a tank has taught, as a document", () => {
  it("gives each figure with its interval, the lead with what is in use, and the closing with its evidence", () => {
    expect(learntFields(known)).toMatchObject({
      gasExchange_perH: { value: 0.21 },
      airPump: "off",
      nights: 3,
      dose_mgPerLPerH: { value: expect.any(Number) as number },
      lead: {
        used_min: 70,
        configured_min: 60,
        within: { atLeast_min: 45, atMost_min: 120 },
        target_mgPerL: 15,
        lightsOn: "after the longest dark of the day",
      },
      gasStopped: { last: { kind: "gas stopped", evidence: { watched_h: expect.any(Number) as number } } },
      hoursToAlarmLimit: null,
    });
  });

  it("is plain data in which nothing is lost, and null where nothing is known", () => {
    const overdose = {
      at_epochMs: now_epochMs,
      limit_mgPerL: 40,
      asItIs: { hours_h: 1.5, hoursLow80_h: 0.9, hoursHigh80_h: Infinity },
      aerated: { hours_h: 0.3, hoursLow80_h: 0.2, hoursHigh80_h: 0.5 },
    };
    const fields = learntFields({ ...known, overdose });
    expect(JSON.parse(JSON.stringify(fields))).toEqual(fields);
    expect(fields).toMatchObject({
      hoursToAlarmLimit: {
        asItIs: { value_h: 1.5, low80_h: 0.9, high80_h: null },
        withAirPump: { high80_h: 0.5 },
      },
    });
    expect(learntFields(unknown)).toMatchObject({ gasExchange_perH: null, lead: { learnt_min: null } });
    expect(learntFields(undefined)).toBeNull();
    expect(learntLines({ ...known, overdose }, local)[0]).toMatch(
      /^ {2}below the alarm limit of 40 mg\/L 0\.9 h or more after the gas stops, with an air pump 0\.2 to 0\.5 h;/,
    );
  });

  it("is told at once when a verdict or a lead changes", () => {
    const essence = JSON.stringify(learntEssence(known));
    expect(JSON.stringify(learntEssence({ ...known, usedLead_min: 80 }))).not.toBe(essence);
    const verdict = { ...known.verdict!, at_epochMs: now_epochMs };
    expect(JSON.stringify(learntEssence({ ...known, verdict }))).not.toBe(essence);
    expect(JSON.stringify(learntEssence({ ...known }))).toBe(essence);
  });
});

describe("what a tank has taught, for a person", () => {
  it("says exchange, dose and plateau with their nights, and the lead beside the one in use", () => {
    const text = learntLines(known, local).join("\n");
    expect(text).toMatch(/last closing: gas stopped; at most \d+ % of the flow can go on, shown \d\d:\d\d/);
    expect(text).toMatch(
      /gas exchange 0\.21 per hour \(80 %: 0\.\d+ to 0\.\d+\) from 3 nights, gas brings \d/,
    );
    expect(text).toMatch(
      /learnt lead \d+ min .* for 15 mg\/L when the lights go on after the night; in use are 70 min, lead_min is 60/,
    );
    const offered = learntLines({ ...known, useLearntLead: undefined, usedLead_min: 60 }, local).join("\n");
    expect(offered).toMatch(/when the lights go on after the night; lead_min is 60$/);
  });

  it("says what the plants take in light, and the CO2 by balance while the probe is silent", () => {
    const uptake = {
      kind: "estimate",
      uptake_mgPerLPerH: 0.8,
      uptakeLow80_mgPerLPerH: 0.4,
      uptakeHigh80_mgPerLPerH: 1.2,
    } as const;
    const inSilence = {
      kind: "by balance",
      silentSince_epochMs: now_epochMs - 12 * 60_000,
      co2_mgPerL: 18.2,
      co2Low80_mgPerL: 14.4,
      co2High80_mgPerL: 23,
    } as const;
    const silent = { ...known, uptake: { at_epochMs: now_epochMs, kh_dKH: 5, uptake }, inSilence };
    const lines = learntLines(silent, local, now_epochMs);
    expect(lines[0]).toBe(
      "  CO2 about 18 mg/L (80 %: 14 to 23) by balance, since the probe is silent for 12 min; reckoned, not measured: no gas is opened on it",
    );
    expect(lines).toContain("  plants take about 0.8 mg/L an hour in light (80 %: 0.4 to 1.2)");
    const fields = learntFields(silent);
    expect(JSON.parse(JSON.stringify(fields))).toEqual(fields);
    expect(fields).toMatchObject({
      co2ByBalance_mgPerL: { value: 18, low80: 14, high80: 23, reason: null },
      lightUptake_mgPerLPerH: { value: 0.8, low80: 0.4, high80: 1.2 },
    });
    const because = "the probe is silent for more than 6 h";
    const untold = { ...known, inSilence: { ...inSilence, kind: "cannot be told", because } as const };
    expect(learntLines(untold, local, now_epochMs)[0]).toContain(`cannot be told by balance either`);
    expect(learntFields(untold)).toMatchObject({ co2ByBalance_mgPerL: { value: null, reason: because } });
    expect(learntFields(known)).toMatchObject({ co2ByBalance_mgPerL: null });
  });

  it("says the lead in use after a shorter pause", () => {
    const paused = { ...known, leadsAfterPauses: [{ pause_min: 240, lead_min: 45 }] };
    expect(learntLines(paused, local).join("\n")).toMatch(/lead_min is 60, 45 min after a pause of 4 h$/);
    expect(learntFields(paused)).toMatchObject({
      lead: { used_min: 70, afterShorterPause: [{ pause_min: 240, used_min: 45 }] },
    });
  });

  it("says what flow it would take where no lead is long enough", () => {
    const flowNeeded = { flow_ratio: 1.8, flowLow80_ratio: 1.6, flowHigh80_ratio: 2.1 };
    const lead = { kind: "out of reach", target_mgPerL: 30, flowNeeded } as const;
    expect(learntLines({ ...known, lead }, local).at(-1)).toBe(
      "  no lead reaches 30 mg/L with this flow: it would take 1.8 times as much (80 %: 1.6 to 2.1); turn the needle valve by small steps and watch the fish",
    );
  });

  it("says by which lead gas opens before the first nights are learnt", () => {
    expect(learntLines({ ...unknown, usedLead_min: 60 }, local)).toEqual([
      "  lead not learnt yet: gas opens 60 min before the lights, as the config says; it takes some nights",
    ]);
    expect(learntLines(unknown, local)[0]).toContain(
      "gas opens 70 min before the lights, as was learnt before",
    );
    expect(learntLines(undefined, local)).toEqual([]);
  });
});
