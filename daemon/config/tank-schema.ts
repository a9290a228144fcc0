import { z } from "zod";
import { degassingMethods } from "../../lib/journal/journal-entry.js";
import { weekdays } from "../../lib/schedule/civil-time.js";
import { defaultCo2Limits } from "../../lib/tank/co2-bands.js";
import { dropCheckerDefaults } from "../../lib/tank/drop-checker.js";
import { choiceValue, dateValue, numberValue, referenceValue, timeOfDayValue } from "./config-values.js";

export const tankDefaults = {
  lead_min: 60,
  earlyClose_min: 30,
  limits: { ...defaultCo2Limits, pHFloor: 5.8, temperatureHigh_degC: 32 },
} as const;

/** Animals that bear less CO2, in the trade's words. */
export const tenderAnimals = ["shrimp", "fry"] as const;
export type TenderAnimal = (typeof tenderAnimals)[number];

const photoperiod = z.strictObject(
  {
    lightsOn: timeOfDayValue("When the lights go on."),
    lightsOff: timeOfDayValue("When they go off; a time before lightsOn is one of the next day."),
    days: z
      .array(choiceValue(weekdays, "A day of the week."), { error: `a list of ${weekdays.join(", ")}` })
      .min(1, { error: `a list of at least one of ${weekdays.join(", ")}` })
      .describe("The days on which these lights go on. Default: every day.")
      .default([...weekdays]),
  },
  { error: "the keys lightsOn, lightsOff and days" },
);

const spanOfDates = z.strictObject(
  { from: dateValue("First day off."), to: dateValue("Last day off.") },
  { error: "the keys from and to" },
);

const co2Limit = (about: string) => numberValue({ from: 1, to: 100, unit: "mg/L", about });

const limits = z.strictObject(
  {
    co2TargetLow_mgPerL: co2Limit(
      "Lower end of the CO2 that is wanted while the lights are on. Default 15.",
    ).default(tankDefaults.limits.co2TargetLow_mgPerL),
    co2TargetHigh_mgPerL: co2Limit(
      "Upper end of it: above this estimate the daemon warns, and watches the rate of rise. Default 30.",
    ).default(tankDefaults.limits.co2TargetHigh_mgPerL),
    co2Alarm_mgPerL: co2Limit("Above this estimate it alarms. Default 40.").default(
      tankDefaults.limits.co2Alarm_mgPerL,
    ),
    co2Close_mgPerL: numberValue({
      from: 5,
      to: 100,
      unit: "mg/L",
      about: "The valve closes when the upper end of the estimate's 80 % interval passes this. Default 60.",
    }).default(tankDefaults.limits.co2Close_mgPerL),
    co2Rise_mgPerLPer30Min: numberValue({
      from: 2,
      to: 60,
      unit: "mg/L in 30 minutes",
      about: "Above the target, the valve closes when CO2 surely rises faster than this. Default 10.",
    }).default(tankDefaults.limits.co2Rise_mgPerLPer30Min),
    pHFloor: numberValue({
      from: 4.5,
      to: 8,
      unit: "",
      about: "The valve closes when the pH falls to this. Default 5.8.",
    }).default(tankDefaults.limits.pHFloor),
    temperatureHigh_degC: numberValue({
      from: 20,
      to: 40,
      unit: "degC",
      about: "The valve closes when the water gets this warm: warm water holds less oxygen. Default 32.",
    }).default(tankDefaults.limits.temperatureHigh_degC),
  },
  {
    error:
      "the keys co2TargetLow_mgPerL, co2TargetHigh_mgPerL, co2Alarm_mgPerL, co2Close_mgPerL, co2Rise_mgPerLPer30Min, pHFloor, temperatureHigh_degC",
  },
);

const degassedPh = z.strictObject(
  {
    pH: numberValue({
      from: 4,
      to: 10,
      unit: "",
      about: "What the tank's probe showed in the degassed sample.",
    }),
    how: choiceValue(degassingMethods, "How the sample lost its CO2."),
    roomCo2_ppm: numberValue({
      from: 300,
      to: 10_000,
      unit: "ppm",
      about: "CO2 of the air that it was degassed with, where a monitor told.",
    }).exactOptional(),
    temperature_degC: numberValue({
      from: 0,
      to: 40,
      unit: "degrees Celsius",
      about: "Of the sample; left out, that of the tank.",
    }).exactOptional(),
  },
  { error: "the keys pH and how, and if known roomCo2_ppm and temperature_degC" },
);

const leadLimit = (about: string) => numberValue({ from: 0, to: 240, unit: "minutes", about });

const useLearntLead = z.strictObject(
  {
    atLeast_min: leadLimit("The lead is never shorter than this."),
    atMost_min: leadLimit("The lead is never longer than this."),
  },
  { error: "the keys atLeast_min and atMost_min" },
);

const dropChecker = z.strictObject(
  {
    referenceKh_dKH: numberValue({
      from: 0.5,
      to: 20,
      unit: "dKH",
      about: `Carbonate hardness of its liquid. Default ${dropCheckerDefaults.referenceKh_dKH}, which is then told to be assumed.`,
    }).exactOptional(),
    fillDepth_mm: numberValue({
      from: 3,
      to: 10,
      unit: "millimetres",
      about: "Depth of its liquid, by which the daemon reckons how late its colour follows the tank.",
    }).exactOptional(),
    timeConstant_h: numberValue({
      from: 0.5,
      to: 6,
      unit: "hours",
      about:
        "In place of fillDepth_mm: after this time its colour has gone two thirds of the way. Default 1.5.",
    }).exactOptional(),
  },
  { error: "the keys referenceKh_dKH, and fillDepth_mm or timeConstant_h" },
);

export const tankSchema = z.strictObject(
  {
    volume_L: numberValue({
      from: 1,
      to: 20000,
      unit: "litres",
      about: "Water in the tank, less stones and sand.",
    }),
    kh_dKH: numberValue({
      from: 0.1,
      to: 40,
      unit: "dKH",
      about: "Carbonate hardness of the water to begin with; a KH test in the journal takes its place.",
    }),
    phSensor: referenceValue("sensor", "The pH sensor in this tank.").exactOptional(),
    temperatureSensor: referenceValue("sensor", "The thermometer in this tank.").exactOptional(),
    roomCo2Sensor: referenceValue(
      "sensor",
      "The sensor of CO2 in the air of the tank's room: what a degassed sample comes to rest with.",
    ).exactOptional(),
    degassedPh: degassedPh
      .describe("The pH without dosed CO2, to begin with; a degassed pH in the journal takes its place.")
      .exactOptional(),
    conductivity_uSPerCm: numberValue({
      from: 0,
      to: 35_000,
      unit: "uS/cm",
      about: "Of the water at 25 degC, as a meter shows it: its salts bear on the CO2.",
    }).exactOptional(),
    salinity_gPerKg: numberValue({
      from: 0,
      to: 20,
      unit: "g/kg",
      about: "In place of the conductivity, of brackish water.",
    }).exactOptional(),
    phosphate_mgPerL: numberValue({
      from: 0,
      to: 200,
      unit: "mg/L",
      about: "As PO4, where a buffer that lowers the pH is used: the pH drop misleads in such water.",
    }).exactOptional(),
    dropChecker: dropChecker
      .describe("The drop checker in this tank, for its expected colour.")
      .exactOptional(),
    animals: z
      .array(choiceValue(tenderAnimals, "Animals that need more care."), {
        error: `a list of ${tenderAnimals.join(", ")}`,
      })
      .describe("Animals in this tank that need more care with CO2. Default: none.")
      .default([]),
    photoperiods: z
      .array(photoperiod, { error: "a list of 1 to 24 spans of light" })
      .min(1, { error: "a list of 1 to 24 spans of light" })
      .max(24, { error: "a list of 1 to 24 spans of light" })
      .describe("When the lights are on."),
    lead_min: numberValue({
      from: 0,
      to: 240,
      unit: "minutes",
      about: "Gas opens this long before the lights go on. Default 60.",
    }).default(tankDefaults.lead_min),
    useLearntLead: useLearntLead
      .describe(
        "Lets the daemon lengthen or shorten the lead by what it learns of the tank: 10 minutes a day at most, within these limits. Default: the learnt lead is only shown.",
      )
      .exactOptional(),
    earlyClose_min: numberValue({
      from: 0,
      to: 240,
      unit: "minutes",
      about: "Gas closes this long before the lights go off. Default 30.",
    }).default(tankDefaults.earlyClose_min),
    datesOff: z
      .array(
        z.union([dateValue("A day without gas."), spanOfDates], {
          error: "a date written 2026-12-24, or the keys from and to with such dates",
        }),
        { error: "a list of dates, or of spans with from and to" },
      )
      .max(200, { error: "at most 200 dates" })
      .describe("Days, or spans of days with both ends included, on which no gas is given. Default: none.")
      .default([]),
    limits: limits.describe("Limits beyond which the tank closes its valve.").prefault({}),
  },
  { error: "the keys of a tank: volume_L, kh_dKH, photoperiods and so on" },
);
