import type {
  SensorPicture,
  SitePicture,
  TankHistory,
  TankPicture,
  ValvePicture,
  VesselPicture,
} from "../../daemon/page/page-contract.js";
import { defaultCo2Limits } from "../../lib/tank/co2-bands.js";
import { dropCheckerSwatch, swatchCaution } from "../../lib/tank/drop-checker-colour.js";

/** A site as the page is told of it, invented: noon on a Monday, gas on, one vessel, one tank; each test changes what it is about. */
export const noon_epochMs = Date.parse("2026-03-02T12:00:00+01:00");
const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
const madeUpRunOut = {
  median_epochMs: noon_epochMs + 15 * day_ms,
  low80_epochMs: noon_epochMs + 13 * day_ms,
  high80_epochMs: noon_epochMs + 18 * day_ms,
};

export function madeUpReading(sensorId: string, value: number, age_ms = 20_000): SensorPicture {
  return { sensorId, value, at_epochMs: noon_epochMs - age_ms, isFresh: age_ms < 120_000 };
}

export function madeUpTank(change: Partial<TankPicture> = {}): TankPicture {
  return {
    tankId: "loach",
    hardness: { kh_dKH: 4, from: "config", khUncertainty_dKH: undefined, testedAt_epochMs: undefined },
    baseline: undefined,
    pH: 6.82,
    pHForFloor: 6.82,
    fault: undefined,
    temperature_degC: 24.9,
    temperatureIsAssumed: false,
    roomCo2_ppm: undefined,
    co2: { co2_mgPerL: 18.2, co2Low80_mgPerL: 15.1, co2High80_mgPerL: 22.4 },
    co2At_epochMs: noon_epochMs - 20_000,
    methods: [],
    agreement: undefined,
    remarks: [],
    band: "in target",
    lastBand: "in target",
    bandReasons: [],
    widthReason: undefined,
    rise: undefined,
    jump: undefined,
    risesTooFast: undefined,
    cautions: [],
    dropChecker: {
      expected: { pH: 6.8, colour: "green", swatch: dropCheckerSwatch(6.8), swatchCaution },
      isSettled: true,
      referenceKh_dKH: 4,
      referenceIsAssumed: false,
      timeConstant_h: 1.5,
      seen: undefined,
    },
    probe: undefined,
    volume_L: 60,
    limits: { ...defaultCo2Limits, pHFloor: 5.8, temperatureHigh_degC: 32 },
    pHReading: madeUpReading("loach-ph", 6.82),
    temperatureReading: madeUpReading("loach-temperature", 24.9),
    learnt: undefined,
    direction: "steady",
    gasDay: undefined,
    lights: [{ opens_epochMs: noon_epochMs - 2 * hour_ms, closes_epochMs: noon_epochMs + 7.5 * hour_ms }],
    ...change,
  };
}

/** Nothing is known of it now: its probe has been silent for twenty minutes. */
export function silentTank(change: Partial<TankPicture> = {}): TankPicture {
  return madeUpTank({
    co2: undefined,
    pH: undefined,
    band: "not known",
    direction: undefined,
    pHReading: madeUpReading("loach-ph", 6.82, 20 * 60_000),
    ...change,
  });
}

export function madeUpValve(change: Partial<ValvePicture> = {}): ValvePicture {
  const wish = { action: "open", reason: "dosing window" } as const;
  return {
    valveId: "cellar-outlet",
    decision: { ...wish, gist: wish.reason, wish, blocks: [] },
    reported: "open",
    window: { kind: "open", closes_epochMs: noon_epochMs + 6.5 * hour_ms },
    override: undefined,
    holds: [],
    vesselId: "cellar",
    tankIds: ["loach"],
    windows: [{ opens_epochMs: noon_epochMs - 4 * hour_ms, closes_epochMs: noon_epochMs + 6.5 * hour_ms }],
    ...change,
  };
}

export function madeUpVessel(change: Partial<VesselPicture> = {}): VesselPicture {
  return {
    vesselId: "cellar",
    kind: "generator",
    volume_L: 2,
    workingPressureGauge_bar: 2.5,
    ratedPressureGauge_bar: 25,
    reliefOpeningGauge_bar: 22,
    pressureGauge_bar: madeUpReading("cellar-gauge", 12.41),
    temperature_degC: madeUpReading("cellar-temperature", 20.4),
    vesselMass_g: undefined,
    outletPressureGauge_bar: undefined,
    supply: madeUpSupply(),
    runOut: madeUpRunOut,
    restsAt: undefined,
    left: {
      remaining_ratio: 0.72,
      remainingLow80_ratio: 0.69,
      remainingHigh80_ratio: 0.76,
      dosable_ratio: 0.48,
    },
    expectedGauge_bar: 12.38,
    readByEye: undefined,
    end: undefined,
    leakTest: undefined,
    endedCharge: undefined,
    ...change,
  };
}

function madeUpSupply(): VesselPicture["supply"] {
  const amount = (value_g: number, sigma_g: number) => ({
    value_g,
    low80_g: value_g - 1.28 * sigma_g,
    high80_g: value_g + 1.28 * sigma_g,
    low95_g: value_g - 1.96 * sigma_g,
    high95_g: value_g + 1.96 * sigma_g,
  });
  return {
    vesselId: "cellar",
    charge: undefined,
    failure: undefined,
    told: {
      estimate: {
        at_epochMs: noon_epochMs - 60_000,
        charge_g: 52,
        remaining: amount(37.6, 1.4),
        deliverable: amount(25, 1.1),
        leak_gPerDay: { value: 0, deviation: 0.1 },
        flow_gPerH: { value: 0.16, deviation: 0.01 },
        contents_degC: { value: 20.4, deviation: 0.5 },
        runOut: madeUpRunOut,
        dosingLeft_days: 15,
        phase: "dosing",
        warnings: [],
      },
      source: "sensor",
      removed_g: { value: 14, deviation: 1 },
      pressureRead_epochMs: noon_epochMs - 60_000,
      use: { total_gPerDay: 1.6, byTank: [{ tankId: "loach", co2_gPerDay: 1.6 }] },
      surge: undefined,
      limits: { isLow: false, isVeryLow: false },
      pressurising: undefined,
      refill: undefined,
    },
  };
}

type Alarm = SitePicture["alarms"][number];

export function madeUpAlarm(change: Partial<Alarm> = {}): Alarm {
  return {
    id: "guard-silent/loach-ph",
    state: "unacknowledged",
    priority: "high",
    subjects: ["sensor/loach-ph"],
    cause: "loach-ph has given no believable value for 20 min",
    consequence: "gas stays off while nobody knows the pH, and the plants go without.",
    whatToDo: "Look whether the probe is in the water and its sender has power.",
    allowableResponse_min: 120,
    actBy: new Date(noon_epochMs + 102 * 60_000).toISOString(),
    since: new Date(noon_epochMs - 20 * 60_000).toISOString(),
    raised: new Date(noon_epochMs - 18 * 60_000).toISOString(),
    shelvedUntil: null,
    suppressedBy: null,
    ...change,
  };
}

export function madeUpSite(change: Partial<SitePicture> = {}): SitePicture {
  return {
    site: { siteId: "brook-lane", timeZone: "Europe/Berlin", version: "0.1.0" },
    now_epochMs: noon_epochMs,
    passed_epochMs: noon_epochMs,
    clock: { kind: "plausible" },
    vessels: [madeUpVessel()],
    valves: [madeUpValve()],
    tanks: [madeUpTank()],
    alarms: [],
    trips: [],
    holds: [],
    upkeep: [],
    next: [
      { kind: "valve closes", subjectId: "cellar-outlet", at_epochMs: noon_epochMs + 6.5 * hour_ms },
      { kind: "refill", subjectId: "cellar", at_epochMs: noon_epochMs + 12 * day_ms + 5.5 * hour_ms },
    ],
    ...change,
  };
}

/** The same with all that is awkward at once: long names, three tanks, a trip, alarms, a vessel that is read by eye. */
export function awkwardSite(): SitePicture {
  const long = "the-big-display-tank-in-the-living-room-by-the-window";
  const blocks = [
    { rule: "tripped", reason: "tank shrimp tripped: CO2 above the close limit" },
    { rule: "guard sensor silent", reason: "loach-ph has given no believable value for 20 min" },
  ] as const;
  const wish = { action: "open", reason: "dosing window" } as const;
  return madeUpSite({
    tanks: [
      silentTank(),
      madeUpTank({
        tankId: long,
        co2: { co2_mgPerL: 63, co2Low80_mgPerL: 44, co2High80_mgPerL: 88 },
        band: "close",
        direction: "rising",
        bandReasons: ["CO2 is 63 mg/L, above the close limit of 60 mg/L by its upper end."],
        cautions: [
          {
            kind: "oxygen low before dawn",
            text: "CO2 is above the target while oxygen is at its lowest, before the lights come on. Move the surface or run an air stone now, and look at the fish.",
          },
        ],
      }),
      madeUpTank({
        tankId: "shrimp",
        co2: { co2_mgPerL: 4.8, co2Low80_mgPerL: 3.8, co2High80_mgPerL: 6.1 },
        band: "below target",
        direction: "falling",
        dropChecker: undefined,
        limits: {
          ...defaultCo2Limits,
          co2Alarm_mgPerL: 35,
          co2Close_mgPerL: 45,
          pHFloor: 6,
          temperatureHigh_degC: 32,
        },
      }),
    ],
    valves: [
      madeUpValve({
        tankIds: ["loach", long, "shrimp"],
        reported: "closed",
        decision: {
          action: "closed",
          reason: `${blocks[0].rule}: ${blocks[0].reason}`,
          gist: "tripped",
          wish,
          blocks,
        },
      }),
      madeUpValve({
        valveId: "attic-outlet",
        vesselId: "attic",
        reported: "unknown",
        override: {
          valveId: "attic-outlet",
          action: "closed",
          until_epochMs: noon_epochMs + hour_ms,
          source: "remote",
        },
      }),
    ],
    vessels: [
      madeUpVessel({ pressureGauge_bar: madeUpReading("cellar-gauge", 3.1, 20 * 60_000) }),
      madeUpVessel({
        vesselId: "attic",
        pressureGauge_bar: undefined,
        temperature_degC: undefined,
        supply: undefined,
        runOut: undefined,
        left: undefined,
        expectedGauge_bar: undefined,
      }),
      madeUpVessel({
        vesselId: "cylinder",
        kind: "liquid",
        supply: undefined,
        runOut: undefined,
        left: undefined,
        expectedGauge_bar: 57,
        pressureGauge_bar: madeUpReading("cylinder-gauge", 57),
      }),
    ],
    trips: [
      {
        subject: { kind: "tank", id: "shrimp" },
        cause: "CO2 above the close limit",
        reason: "the upper end of its CO2 was 48 mg/L, above the close limit of 45 mg/L",
        at_epochMs: noon_epochMs - 3 * hour_ms,
        whatToDo: "Gas stays off. Look at the fish and aerate.",
        stands: true,
      },
    ],
    alarms: [
      madeUpAlarm({ id: "trip/shrimp", priority: "critical", cause: "gas is shut for safety at shrimp" }),
      madeUpAlarm(),
      madeUpAlarm({
        id: "supply-low/cellar",
        priority: "medium",
        state: "acknowledged",
        cause: "cellar runs low",
      }),
      madeUpAlarm({
        id: "dose/shrimp",
        priority: "low",
        state: "suppressed by design",
        suppressedBy: "trip/shrimp",
        cause: "shrimp gets no gas",
      }),
    ],
  });
}

/** A day of quarter hours: CO2 that comes up with the gas and goes in the dark. */
export function madeUpTankHistory(): TankHistory {
  const at_epochMs = Array.from({ length: 97 }, (_, k) => noon_epochMs - day_ms + (k * hour_ms) / 4);
  const co2_mgPerL = at_epochMs.map((_at, k) => 14 + 10 * Math.cos((2 * Math.PI * (k - 10)) / 96));
  const series = (values: readonly number[], spread: number) => ({
    at_epochMs,
    mean: values,
    minimum: values.map((value) => value - spread),
    maximum: values.map((value) => value + spread),
  });
  return {
    from_epochMs: noon_epochMs - day_ms,
    until_epochMs: noon_epochMs,
    pH: series(
      co2_mgPerL.map((value) => 8.1 - Math.log10(value)),
      0.02,
    ),
    temperature_degC: series(
      co2_mgPerL.map((value) => 24 + value / 20),
      0.1,
    ),
    co2: {
      at_epochMs,
      co2_mgPerL,
      co2Low80_mgPerL: co2_mgPerL.map((value) => 0.8 * value),
      co2High80_mgPerL: co2_mgPerL.map((value) => 1.25 * value),
    },
    nights: [
      fittedNight(),
      {
        from_epochMs: noon_epochMs - 5 * hour_ms,
        until_epochMs: noon_epochMs - 4 * hour_ms,
        fit: {
          kind: "bounded",
          kAtLeast_perH: 0,
          kAtMost_perH: 0.31,
          temperature_degC: 24.6,
          night_h: 5,
          because: "the night was too short",
        },
        curve: [],
        measured: [],
      },
    ],
    open: [],
    lights: [
      { opens_epochMs: noon_epochMs - day_ms, closes_epochMs: noon_epochMs - 16.5 * hour_ms },
      { opens_epochMs: noon_epochMs - 2 * hour_ms, closes_epochMs: noon_epochMs },
    ],
    events: [],
  };
}

/** A night from 16 to 6 hours before noon, with what was measured in it. */
function fittedNight(): TankHistory["nights"][number] {
  const from_epochMs = noon_epochMs - 16 * hour_ms;
  const point = (into_h: number, off_mgPerL = 0) => ({
    at_epochMs: from_epochMs + into_h * hour_ms,
    co2_mgPerL: 3 + 21 * Math.exp(-0.25 * (into_h - 0.5)) + off_mgPerL,
  });
  return {
    from_epochMs,
    until_epochMs: from_epochMs + 10 * hour_ms,
    fit: {
      kind: "fitted",
      k_perH: 0.25,
      kLow80_perH: 0.22,
      kHigh80_perH: 0.28,
      kLow90_perH: 0.21,
      kHigh90_perH: 0.29,
      kSigma_ln: 0.09,
      settledCo2_mgPerL: 3,
      settledSigma_ln: 0.1,
      correlation: 0.5,
      startCo2_mgPerL: 24,
      temperature_degC: 24.6,
      night_h: 10,
      misfit_ratio: 1,
    },
    curve: Array.from({ length: 24 }, (_, k) => point(0.5 + (9.5 * k) / 23)),
    measured: Array.from({ length: 40 }, (_, k) => point(k / 4, 0.4 * Math.sin(7 * k))),
  };
}
