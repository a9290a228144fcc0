import { describe, expect, it } from "vitest";
import type { FallOffer } from "../../../../lib/tank/evening-fall.js";
import { gasDay, type GasDayRequest } from "../../../../lib/tank/gas-day.js";
import type { LeadOffer } from "../../../../lib/tank/learnt-outlook.js";

const at = (time: string, day = 2): number => Date.parse(`2026-03-0${day}T${time}:00Z`);
const span = (opens: string, closes: string, day = 2) => ({
  opens_epochMs: at(opens, day),
  closes_epochMs: at(closes, day),
});
const lead: LeadOffer = {
  kind: "reached",
  lead_min: 140,
  leadLow80_min: 110,
  leadHigh80_min: 190,
  target_mgPerL: 15,
};
const fall: FallOffer = {
  kind: "falls",
  after_h: 2,
  afterLow80_h: 1.5,
  afterHigh80_h: 3,
  lowEdge_mgPerL: 15,
};
const request: GasDayRequest = {
  now_epochMs: at("06:00"),
  windows: [span("07:40", "19:00", 1), span("07:40", "19:00"), span("07:40", "19:00", 3)],
  lights: [span("10:00", "20:00", 1), span("10:00", "20:00"), span("10:00", "20:00", 3)],
  lead,
  fall,
};

describe("the day of gas ahead", () => {
  it("opens in time for the band to stand at lights on", () => {
    expect(gasDay(request).morning).toEqual({
      kind: "known",
      opens_epochMs: at("07:40"),
      lightsOn_epochMs: at("10:00"),
      reached_epochMs: at("10:00"),
      reachedLow80_epochMs: at("09:30"),
      reachedHigh80_epochMs: at("10:50"),
      lowEdge_mgPerL: 15,
      wantedOpening_epochMs: at("07:40"),
      isInTime: true,
    });
  });

  it("has lost its gas so long after the dark began, not after the gas ended", () => {
    expect(gasDay(request).evening).toMatchObject({
      kind: "known",
      closes_epochMs: at("19:00"),
      dark_epochMs: at("20:00"),
      below_epochMs: at("22:00"),
      belowLow80_epochMs: at("21:30"),
      belowHigh80_epochMs: at("23:00"),
      isBelowBeforeDark: false,
    });
  });

  it.each([
    {
      because: "the lead of the config is shorter than what the tank needs",
      change: { lead: { ...lead, lead_min: 200 } },
      morning: { isInTime: false, wantedOpening_epochMs: at("06:40"), reached_epochMs: at("11:00") },
    },
    {
      because: "the lights are on already, so it is the next morning's turn",
      change: { now_epochMs: at("11:00") },
      morning: { opens_epochMs: at("07:40", 3), lightsOn_epochMs: at("10:00", 3) },
    },
    {
      because: "gas is on already and the lights are not",
      change: { now_epochMs: at("09:00") },
      morning: { opens_epochMs: at("07:40"), isInTime: true },
    },
    {
      because: "the second light of the day comes after a short pause",
      change: {
        now_epochMs: at("13:00"),
        windows: [span("07:40", "12:00"), span("15:30", "19:00"), span("07:40", "12:00", 3)],
        lights: [span("10:00", "13:00"), span("16:00", "20:00"), span("10:00", "13:00", 3)],
      },
      morning: { lightsOn_epochMs: at("10:00", 3) },
    },
    {
      because: "the flow does not suffice",
      change: {
        lead: {
          kind: "out of reach",
          target_mgPerL: 15,
          flowNeeded: { flow_ratio: 2, flowLow80_ratio: 1.5, flowHigh80_ratio: 3 },
        },
      },
      morning: { kind: "not known", opens_epochMs: at("07:40") },
    },
    {
      because: "nothing was learnt",
      change: { lead: { kind: "not known", because: "no morning has been watched" } },
      morning: { kind: "not known", because: "no morning has been watched" },
    },
    {
      because: "no day with light and gas is near",
      change: { windows: [] },
      morning: { kind: "not known", opens_epochMs: undefined },
    },
  ] satisfies readonly { because: string; change: Partial<GasDayRequest>; morning: object }[])(
    "tells of the morning what can be told: $because",
    ({ change, morning }) => {
      expect(gasDay({ ...request, ...change }).morning).toMatchObject(morning);
    },
  );

  it.each([
    {
      because: "it rests above the edge",
      change: { fall: { kind: "stays", settledCo2_mgPerL: 17, lowEdge_mgPerL: 15 } },
    },
    { because: "nothing was learnt", change: { fall: { kind: "not known", because: "no night yet" } } },
    {
      because: "gas opens again first",
      change: { fall: { ...fall, after_h: 20, afterHigh80_h: undefined } },
    },
    { because: "no gas is planned", change: { windows: [] } },
  ] satisfies readonly { because: string; change: Partial<GasDayRequest> }[])(
    "does not say when the gas has left where $because",
    ({ change }) => {
      expect(gasDay({ ...request, ...change }).evening.kind).toBe("not known");
    },
  );

  it("speaks of tonight until it is below the band, and of the next evening from then on", () => {
    const closesAt = (now_epochMs: number) => gasDay({ ...request, now_epochMs }).evening.closes_epochMs;
    expect(closesAt(at("18:00"))).toBe(at("19:00"));
    expect(closesAt(at("21:30"))).toBe(at("19:00"));
    expect(closesAt(at("22:30"))).toBe(at("19:00", 3));
  });

  it("says that it has left before the dark where the day ends below the band", () => {
    const early: FallOffer = { ...fall, after_h: 0, afterLow80_h: 0 };
    expect(gasDay({ ...request, fall: early }).evening).toMatchObject({
      isBelowBeforeDark: true,
      below_epochMs: at("20:00"),
    });
  });
});
