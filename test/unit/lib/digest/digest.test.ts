import { describe, expect, it } from "vitest";
import { timeAbove_ms, watchedTime_ms, withBandTime } from "../../../../lib/digest/band-time.js";
import { composeDigest, type DigestFacts } from "../../../../lib/digest/digest.js";

const hour_ms = 3_600_000;
const to_epochMs = Date.parse("2026-05-04T07:30:00+02:00");
const facts: DigestFacts = {
  rhythm: "daily",
  day: "2026-05-04",
  from_epochMs: to_epochMs - 24 * hour_ms,
  to_epochMs,
  timeZone: "Europe/Berlin",
  tanks: [
    {
      tankId: "loach",
      bandTime: {
        "in target": 8 * hour_ms,
        "below target": 12 * hour_ms,
        caution: 1.5 * hour_ms,
        alarm: 0.5 * hour_ms,
      },
    },
  ],
  vessels: [
    {
      vesselId: "cellar",
      supply: {
        remaining_g: 61.2,
        low80_g: 55.4,
        high80_g: 66.8,
        deliverable_g: 48,
        isSpent: false,
        runOut: {
          median_epochMs: to_epochMs + 16 * 24 * hour_ms,
          low80_epochMs: to_epochMs + 13 * 24 * hour_ms,
          high80_epochMs: to_epochMs + 20 * 24 * hour_ms,
        },
        use_gPerDay: 2.51,
        leak_gPerDay: 0.12,
      },
    },
    { vesselId: "spare", supply: undefined },
  ],
  due: ["tank loach  KH test: due now"],
  alarms: [
    { alarmId: "upkeep/a", priority: "low", count: 1, last_epochMs: to_epochMs - hour_ms, cause: "a is due" },
    {
      alarmId: "relay/outlet",
      priority: "critical",
      count: 2,
      last_epochMs: to_epochMs - 2 * hour_ms,
      cause: "relay outlet does not confirm off",
    },
  ],
  pictures: [{ vesselId: "cellar", alt: "Pressure of cellar.", svg: "<svg/>" }],
};

describe("a digest", () => {
  it("tells hours by band, what is left and until when, what is due, and alarms with the most urgent first", () => {
    const { heading, text, pictures } = composeDigest(facts);
    expect(heading).toBe("daily digest of 2026-05-04");
    expect(text.split("\n")).toEqual([
      "From 2026-05-03 07:30 to 2026-05-04 07:30.",
      "",
      "tank loach: CO2 in target 8.0 h, below target 12.0 h, caution 1.5 h, alarm 0.5 h, not watched 2.0 h",
      "  above the target for 2.0 h, of it 0.5 h in alarm or close: watch the fish",
      "",
      "vessel cellar: CO2 left 61 g (80 %: 55 to 67 g), 48 g can be dosed; runs out on 2026-05-20 (80 %: 2026-05-17 to 2026-05-24); use 2.5 g a day, leak 0.12 g a day",
      "vessel spare: what is left is not known",
      "",
      "Upkeep that is due:",
      "  tank loach  KH test: due now",
      "",
      "Alarms that were raised:",
      "  relay/outlet  critical, 2 times, last on 2026-05-04 05:30: relay outlet does not confirm off",
      "  upkeep/a  low, on 2026-05-04 06:30: a is due",
      "",
      "Pressure of cellar.",
    ]);
    expect(pictures).toBe(facts.pictures);
  });

  it("says that there was nothing, that the charge is spent, and that the store did not answer", () => {
    const [vessel] = facts.vessels;
    const spent = { ...vessel!, supply: { ...vessel!.supply!, isSpent: true, runOut: undefined } };
    const { text } = composeDigest({ ...facts, vessels: [spent], due: [], alarms: [], pictures: [] });
    expect(text).toContain("the charge is spent");
    expect(text).toContain("No upkeep is due.");
    expect(text).toContain("No alarm was raised.");
    const vague = { ...vessel!, supply: { ...vessel!.supply!, runOut: undefined } };
    expect(composeDigest({ ...facts, vessels: [vague] }).text).toContain(
      "48 g can be dosed; the day on which it runs out is not known yet",
    );
    const tight = { ...vessel!, supply: { ...vessel!.supply!, leak_gPerDay: 2.4e-21 } };
    expect(composeDigest({ ...facts, vessels: [tight] }).text).toContain("use 2.5 g a day, leak none seen");
    expect(composeDigest({ ...facts, alarms: undefined }).text).toContain("could not be read from the store");
  });

  it("only counts what is beyond twenty alarms", () => {
    const [one] = facts.alarms!;
    const alarms = Array.from({ length: 25 }, (_, index) => ({ ...one!, alarmId: `sensor/${index}` }));
    const { text } = composeDigest({ ...facts, alarms });
    expect(text).toContain("and 5 more");
    expect(text.match(/sensor\//g)).toHaveLength(20);
  });
});

describe("time in bands", () => {
  it("adds up to what was watched, and counts alarm and close within the time above the target", () => {
    let time = withBandTime({}, "caution", 1000);
    time = withBandTime(time, "alarm", 200);
    time = withBandTime(time, "close", 30);
    time = withBandTime(time, "caution", 4);
    time = withBandTime(time, "not known", -5);
    expect(time).toEqual({ caution: 1004, alarm: 200, close: 30 });
    expect(watchedTime_ms(time)).toBe(1234);
    expect(timeAbove_ms(time)).toEqual({ target_ms: 1234, alarm_ms: 230 });
  });
});
