import { describe, expect, it } from "vitest";
import {
  causesNotKnownGone,
  interlock,
  standingCauses,
  tanksTooWarm,
  type InterlockRuleId,
  type InterlockView,
} from "../../../../lib/control/interlock.js";
import { holdKinds } from "../../../../lib/control/hold.js";
import type { Trip } from "../../../../lib/control/trip.js";
import { letThrough, tankView, valveRules } from "../../../support/control-views.js";

const trip = (kind: "tank" | "valve", id: string): Trip => ({
  subject: { kind, id },
  cause: "pH below the floor",
  reason: "pH 5.90, the floor is 6",
  at_epochMs: 0,
});
const guard = (state: InterlockView["guards"][number]["state"]): Partial<InterlockView> => ({
  guards: [{ sensorId: "loach-ph", state }],
});
const warm = (temperature_degC: number | undefined): Partial<InterlockView> => ({
  tanks: [{ ...tankView, temperature_degC }],
});

describe("interlock", () => {
  it.each<{ rule: InterlockRuleId; change: Partial<InterlockView>; because: string }>([
    { rule: "tripped", change: { trips: [trip("valve", "outlet")] }, because: "pH below the floor: pH 5.90" },
    { rule: "tripped", change: { trips: [trip("tank", "loach")] }, because: "pH below the floor: pH 5.90" },
    {
      rule: "clock not plausible",
      change: { clock: { kind: "implausible", reason: "unsettled" } },
      because: "unsettled",
    },
    { rule: "broker lost", change: { brokerConnected: false }, because: "no connection to the broker" },
    {
      rule: "dead-man not armed",
      change: { deadManArmed: false },
      because: "closing command of every relay",
    },
    {
      rule: "store failing",
      change: { store: { kind: "failing", reason: "disk full" } },
      because: "disk full",
    },
    { rule: "relay not commissioned", change: { commissioned: false }, because: "run `commission`" },
    { rule: "end of charge", change: { endOfCharge: "below 2.6 bar" }, because: "below 2.6 bar" },
    {
      rule: "guard sensor silent",
      change: guard({ kind: "stale", age_s: 121.4, lastRejection: undefined }),
      because: "loach-ph has given no believable value for 121 s",
    },
    {
      rule: "guard sensor silent",
      change: guard({ kind: "stale", age_s: 130, lastRejection: "stuck, 6.8 pH" }),
      because: "(last rejected: stuck, 6.8 pH)",
    },
    {
      rule: "guard sensor silent",
      change: guard({ kind: "never", lastRejection: undefined }),
      because: "no believable value yet",
    },
    {
      rule: "relay not obeying",
      change: { relayFault: "relay outlet does not confirm on" },
      because: "does not confirm on",
    },
    {
      rule: "temperature above the limit",
      change: warm(30.1),
      because: "loach is at 30.1 degC, the limit is 30 degC",
    },
    {
      rule: "temperature above the limit",
      change: { ...warm(29.6), tanksHeldByTemperature: ["loach"] },
      because: "loach is at 29.6 degC",
    },
    {
      rule: "temperature above the limit",
      change: { ...warm(undefined), tanksHeldByTemperature: ["loach"] },
      because: "when its thermometer fell silent",
    },
    {
      rule: "tank not judged",
      change: { tanks: [{ ...tankView, fault: "a broken value" }] },
      because: "nothing can be said of loach: a broken value",
    },
    {
      rule: "leak test",
      change: { leakTest: "vessel cellar is held closed until 2026-05-05 11:00" },
      because: "held closed until 2026-05-05 11:00",
    },
    {
      rule: "CO2 in the room",
      change: { rooms: [{ sensorId: "cellar-air", co2InAir_ppm: 5000 }] },
      because: "cellar-air shows 5000 ppm CO2 in the air",
    },
    ...holdKinds.map((kind) => ({
      rule: kind,
      change: {
        holds: [{ kind, subject: { kind: "vessel", id: "cellar" }, since_epochMs: 0, note: "O-ring" }],
      } as const,
      because: `${kind} on vessel cellar (O-ring)`,
    })),
  ])("blocks by '$rule': $because", ({ rule, change, because }) => {
    const blocks = interlock({ ...letThrough, ...change });
    expect(blocks.map((block) => block.rule)).toEqual([rule]);
    expect(blocks[0]!.reason).toContain(because);
  });

  it.each<{ because: string; change: Partial<InterlockView> }>([
    { because: "all is well", change: {} },
    { because: "another valve tripped", change: { trips: [trip("valve", "other")] } },
    { because: "a tank of another valve tripped", change: { trips: [trip("tank", "other")] } },
    {
      because: "a tank that has the valve's name is not the valve",
      change: { trips: [trip("tank", "outlet")] },
    },
    { because: "the clock is plausible", change: { clock: { kind: "plausible" } } },
    { because: "the store works", change: { store: { kind: "ok" } } },
    {
      because: "the config accepts a relay that was not tried",
      change: { commissioned: false, rules: { ...valveRules, acceptedWithoutAutoOff: true } },
    },
    { because: "the guard is as old as it may be", change: guard({ kind: "fresh", age_s: 120 }) },
    { because: "the config names no guard", change: { guards: [] } },
    { because: "the tank is as warm as it may be", change: warm(30) },
    { because: "nobody measures the temperature", change: warm(undefined) },
    {
      because: "it has cooled by half a kelvin",
      change: { ...warm(29.5), tanksHeldByTemperature: ["loach"] },
    },
    {
      because: "the room's air is just below the limit",
      change: { rooms: [{ sensorId: "cellar-air", co2InAir_ppm: 4999 }] },
    },
    { because: "another tank was held", change: { ...warm(29.8), tanksHeldByTemperature: ["shrimp"] } },
  ])("lets gas through: $because", ({ change }) => {
    expect(interlock({ ...letThrough, ...change })).toEqual([]);
  });

  it("names everything that forbids gas, the most general first", () => {
    const blocks = interlock({
      ...letThrough,
      trips: [trip("tank", "loach")],
      brokerConnected: false,
      deadManArmed: false,
      ...guard({ kind: "never", lastRejection: undefined }),
    });
    expect(blocks.map((block) => block.rule)).toEqual([
      "tripped",
      "broker lost",
      "dead-man not armed",
      "guard sensor silent",
    ]);
  });
});

describe("tanksTooWarm", () => {
  it("lets a tank go whose thermometer was taken out of the config", () => {
    const tank = { ...tankView, temperature_degC: undefined };
    expect(tanksTooWarm([tank], ["loach"])).toEqual([tank]);
    expect(tanksTooWarm([{ ...tank, hasTemperatureSensor: false }], ["loach"])).toEqual([]);
  });
});

describe("standingCauses", () => {
  const { vessel, rooms, trips: none } = letThrough;
  const wished = {
    rules: valveRules,
    tanks: [tankView],
    openFor_s: 0,
    isWishedOpen: true,
    vessel,
    rooms,
    trips: none,
  };

  it.each([
    {
      because: "CO2 is above its limit",
      tank: { co2High80_mgPerL: 60.1 },
      subject: { kind: "tank", id: "loach" },
      cause: "CO2 above the close limit",
      reason: "up to 60 mg/L, the limit is 60 mg/L",
    },
    {
      because: "CO2 rises too fast",
      tank: { co2RisesTooFast: { rate_mgPerLPer30Min: 14.2 } },
      subject: { kind: "tank", id: "loach" },
      cause: "CO2 rises too fast",
      reason: "by 14 mg/L in 30 min, the limit is 10 mg/L",
    },
    {
      because: "CO2 went up within minutes by more than in half an hour",
      tank: { co2RisesTooFast: { risen_mgPerL: 17.8, within_min: 10 } },
      subject: { kind: "tank", id: "loach" },
      cause: "CO2 rises too fast",
      reason: "by 18 mg/L within 10 min, the limit is 10 mg/L in 30 min",
    },
    {
      because: "pH is below its floor",
      tank: { pH: 5.99 },
      subject: { kind: "tank", id: "loach" },
      cause: "pH below the floor",
      reason: "pH 5.99, the floor is 6",
    },
  ])("trips a tank when $because", ({ tank, subject, cause, reason }) => {
    const causes = standingCauses({ ...wished, tanks: [{ ...tankView, ...tank }] });
    expect(causes).toEqual([{ subject, cause, reason }]);
  });

  it.each([
    { because: "CO2 is at its limit", tank: { co2High80_mgPerL: 60 } },
    { because: "CO2 is not known", tank: { co2High80_mgPerL: undefined } },
    { because: "pH is at its floor", tank: { pH: 6 } },
    { because: "pH is not known", tank: { pH: undefined } },
  ])("does not trip when $because", ({ tank }) => {
    expect(standingCauses({ ...wished, tanks: [{ ...tankView, ...tank }] })).toEqual([]);
  });

  it.each([
    {
      openFor_s: 720 * 60,
      isWishedOpen: true,
      trips: false,
      because: "it has been open for as long as it may",
    },
    { openFor_s: 720 * 60 + 0.05, isWishedOpen: true, trips: true, because: "it is wished open for longer" },
    {
      openFor_s: 720 * 60 + 0.05,
      isWishedOpen: false,
      trips: false,
      because: "the window closes it in this tick",
    },
  ])("trips the valve itself: $trips, as $because", ({ openFor_s, isWishedOpen, trips }) => {
    const causes = standingCauses({ ...wished, openFor_s, isWishedOpen });
    expect(causes.map(({ subject, cause }) => ({ subject, cause }))).toEqual(
      trips ? [{ subject: { kind: "valve", id: "outlet" }, cause: "open for too long" }] : [],
    );
  });

  it("trips the valve for its vessel's pressure and for the air of a room", () => {
    const causes = standingCauses({
      ...wished,
      vessel: {
        vesselId: "cellar",
        pressureGauge_bar: 17.9,
        accuracy_bar: 0.2,
        ratedPressureGauge_bar: 20,
        reliefOpeningGauge_bar: 18,
      },
      rooms: [{ sensorId: "cellar-air", co2InAir_ppm: 16_000 }],
    });
    expect(causes.map(({ subject, cause }) => `${subject.kind} ${subject.id}: ${cause}`)).toEqual([
      "valve outlet: pressure above the rating",
      "valve outlet: CO2 in the room from 15000 ppm",
    ]);
  });

  it("finds the causes of every tank of the valve", () => {
    const tanks = [
      { ...tankView, pH: 5 },
      { ...tankView, tankId: "shrimp", co2High80_mgPerL: 99 },
    ];
    const causes = standingCauses({ ...wished, tanks });
    expect(causes.map(({ subject, cause }) => `${subject.id}: ${cause}`)).toEqual([
      "loach: pH below the floor",
      "shrimp: CO2 above the close limit",
    ]);
  });
});

describe("causesNotKnownGone", () => {
  it.each([
    {
      pH: undefined,
      hasPHSensor: true,
      of: trip("tank", "loach"),
      count: 1,
      because: "the probe that showed it is silent",
    },
    { pH: 6.8, hasPHSensor: true, of: trip("tank", "loach"), count: 0, because: "the probe speaks" },
    {
      pH: undefined,
      hasPHSensor: false,
      of: trip("tank", "loach"),
      count: 0,
      because: "the config names no probe any more",
    },
    {
      pH: undefined,
      hasPHSensor: true,
      of: trip("tank", "other"),
      count: 0,
      because: "it is another tank's trip",
    },
    {
      pH: undefined,
      hasPHSensor: true,
      of: trip("valve", "loach"),
      count: 0,
      because: "a valve's trip needs no probe",
    },
  ])("gives $count: $because", ({ pH, hasPHSensor, of, count }) => {
    expect(causesNotKnownGone([{ ...tankView, pH, hasPHSensor }], [of])).toHaveLength(count);
  });
});
