import { z } from "zod";
import { weekdays } from "../../lib/schedule/civil-time.js";
import { choiceValue, dateValue, numberValue, referenceValue, timeOfDayValue } from "./config-values.js";

export const tankDefaults = {
  lead_min: 60,
  earlyClose_min: 30,
  limits: { co2Close_mgPerL: 60, pHFloor: 5.8, temperatureHigh_degC: 32 },
} as const;

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

const limits = z.strictObject(
  {
    co2Close_mgPerL: numberValue({
      from: 5,
      to: 100,
      unit: "mg/L",
      about: "The valve closes when the estimated CO2 in the tank reaches this. Default 60.",
    }).default(tankDefaults.limits.co2Close_mgPerL),
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
  { error: "the keys co2Close_mgPerL, pHFloor, temperatureHigh_degC" },
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
