import { z } from "zod";
import { weekdays } from "../../lib/schedule/civil-time.js";
import { choiceValue, dateValue, flagValue, numberValue, timeOfDayValue } from "./config-values.js";

export const refillDefaults = {
  from: "08:00",
  until: "22:00",
  handling_min: 45,
  closedWith: "water",
  acceptedLoss_percent: 10,
  toldAhead_days: 3,
  urgentAhead_days: 1,
} as const;

/** When a vessel is refilled, and how. */
export const refillSchema = z.strictObject(
  {
    days: z
      .array(choiceValue(weekdays, "A day of the week."), { error: `a list of ${weekdays.join(", ")}` })
      .min(1, { error: `a list of at least one of ${weekdays.join(", ")}` })
      .describe("The days on which you like to refill. Default: every day.")
      .default([...weekdays]),
    from: timeOfDayValue("A refill does not begin earlier. Default 08:00.").default(refillDefaults.from),
    until: timeOfDayValue("The vessel is closed again by then. Default 22:00.").default(refillDefaults.until),
    handling_min: numberValue({
      from: 5,
      to: 480,
      unit: "minutes",
      about: "What a refill takes you, from the outlet valve shut to the vessel closed. Default 45.",
    }).default(refillDefaults.handling_min),
    closedWith: choiceValue(["water", "ice"], "What you usually fill with. Default water.").default(
      refillDefaults.closedWith,
    ),
    acceptedLoss_percent: numberValue({
      from: 1,
      to: 50,
      unit: "%",
      about: "Chance of losing a day of dosing that you accept for less waste. Default 10.",
    }).default(refillDefaults.acceptedLoss_percent),
    toldAhead_days: numberValue({
      from: 0.5,
      to: 60,
      unit: "days",
      about: "So long before the charge probably runs out an alarm of low priority tells. Default 3.",
    }).default(refillDefaults.toldAhead_days),
    urgentAhead_days: numberValue({
      from: 0.1,
      to: 30,
      unit: "days",
      about: "So long before it an alarm of high priority tells; less than toldAhead_days. Default 1.",
    }).default(refillDefaults.urgentAhead_days),
    spareVessel: flagValue(
      "true when the next charge gets ready in a second vessel while this one doses. Default false.",
    ).default(false),
  },
  { error: "the keys of a refill: days, from, until, closedWith and so on" },
);

const absence = z.strictObject(
  { from: dateValue("First day on which nobody is home."), to: dateValue("Last such day.") },
  { error: "the keys from and to" },
);

/** Days on which nobody can refill. */
export const awaySchema = z
  .array(
    z.union([dateValue("A day on which nobody is home."), absence], {
      error: "a date written 2026-12-24, or the keys from and to with such dates",
    }),
    { error: "a list of dates, or of spans with from and to" },
  )
  .max(200, { error: "at most 200 dates" });
