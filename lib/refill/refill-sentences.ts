import { wallClockAt } from "../schedule/civil-time.js";
import type { AbsenceOutlook } from "./absence-outlook.js";
import type { RefillOption, RefillRequest } from "./refill-option.js";
import type { FillingOutlook, RefillOutlook } from "./refill-outlook.js";

type Told = Pick<RefillRequest, "timeZone" | "acceptedLoss_ratio" | "hasSpareVessel">;

const names = {
  mon: "Monday",
  tue: "Tuesday",
  wed: "Wednesday",
  thu: "Thursday",
  fri: "Friday",
  sat: "Saturday",
  sun: "Sunday",
} as const;

/** The outlook in plain sentences, the usual filling first; times are those of the clock on the wall. */
export function refillSentences(outlook: RefillOutlook, told: Told): readonly string[] {
  const { fillings, absence } = outlook;
  const [usual, ...others] = fillings;
  return [
    daysLeftSentence(outlook),
    ...fillingSentences(usual, told),
    ...others.map((other) => comparison(usual, other, told)),
    ...(absence === undefined ? [] : absenceSentences(absence, usual, others, told)),
  ];
}

function daysLeftSentence({ daysLeft }: RefillOutlook): string {
  const { median, low80, high80, firstShort } = daysLeft;
  const ends = firstShort === undefined ? "" : `; the first day short of gas is probably ${firstShort}`;
  const span = low80 === high80 ? "" : ` (8 times in 10 between ${low80} and ${high80})`;
  return `Gas is left for ${counted(median, "dosing day")}${span}${ends}.`;
}

function fillingSentences(filling: FillingOutlook, told: Told): readonly string[] {
  const { closedWith, verdict, next, lastSensible, latestPossible, leastLoss } = filling;
  const accepted = percent(told.acceptedLoss_ratio);
  switch (verdict) {
    case "no-opportunity":
      return [
        "Nobody is there to refill at the stated days and hours in the time that was looked at: change the days, the hours or the absence.",
      ];
    case "costs-days":
      return leastLoss === undefined
        ? []
        : [
            `With ${closedWith} every opportunity costs a dosing day with a chance above ${accepted}. The least is lost on ` +
              `${when(leastLoss, told)}: ${lossOf(leastLoss)}, ${readyOf(leastLoss, told)}.`,
          ];
    case "refill-next":
    case "wait": {
      if (lastSensible === undefined || next === undefined) return [];
      const sentences = [
        `With ${closedWith} the last sensible refill ${filling.isBeyondOutlook ? "is not before" : "is"} ` +
          `${when(lastSensible, told)}: ${lossOf(lastSensible)}, ${readyOf(lastSensible, told)}, ${unusedOf(lastSensible)}.`,
      ];
      if (verdict === "refill-next") sentences.push("It is the next opportunity as well: do not wait.");
      else if (filling.isWorthWaiting) {
        sentences.push(
          `Wait: refilled at the next opportunity, ${when(next, told)}, ${unusedOf(next)}; waiting saves about ${grams(filling.waitingSaves_g)}.`,
        );
      } else {
        sentences.push(
          `Any opportunity from ${when(next, told)} on will do: waiting saves ${filling.waitingSaves_g < 0.05 ? "nothing" : `only about ${grams(filling.waitingSaves_g)}`}.`,
        );
      }
      if (latestPossible !== undefined && latestPossible.begins_epochMs > lastSensible.begins_epochMs) {
        sentences.push(
          `The latest possible one is ${when(latestPossible, told)}, with a chance of ${percent(latestPossible.lossChance_ratio)} to lose a dosing day.`,
        );
      }
      return sentences;
    }
  }
}

function comparison(usual: FillingOutlook, other: FillingOutlook, told: Told): string {
  const { closedWith, lastSensible, leastLoss } = other;
  if (lastSensible === undefined) {
    return leastLoss === undefined
      ? `With ${closedWith} there is no opportunity either.`
      : `With ${closedWith} no opportunity keeps every dosing day: at best ${lossOf(leastLoss)}, closed on ${when(leastLoss, told)}, ${readyOf(leastLoss, told)}.`;
  }
  const gain_ms = lastSensible.begins_epochMs - (usual.lastSensible?.begins_epochMs ?? -Infinity);
  const place =
    usual.lastSensible === undefined
      ? "there is one that keeps every dosing day"
      : gain_ms === 0
        ? "the last sensible refill is the same"
        : `it can be ${gain_ms > 0 ? "later" : "no later than"}`;
  return `With ${closedWith} ${place}: ${when(lastSensible, told)}, ${lossOf(lastSensible)}, ${readyOf(lastSensible, told)}.`;
}

function absenceSentences(
  absence: AbsenceOutlook,
  usual: FillingOutlook,
  others: readonly FillingOutlook[],
  told: Told,
): readonly string[] {
  const { from, to, before, after, freshLasts, doseReduction_percent } = absence;
  const away = from === to ? `on ${from}` : `from ${from} to ${to}`;
  const lost = after === undefined ? "" : lostWords(after);
  const sentences = [
    `Nobody is home ${away}, and the charge may not last until the return${lost === "" ? "" : `: without a refill before, ${lost}`}.`,
  ];
  if (before === undefined) sentences.push("There is no opportunity to refill before leaving.");
  else {
    const lasts =
      freshLasts === undefined
        ? ""
        : freshLasts
          ? "; a fresh charge then lasts until the return"
          : "; even a fresh charge then ends before the return";
    sentences.push(
      `Refilled before leaving, on ${when(before, told)}: ${lossOf(before)}, ${unusedOf(before)}${lasts}.`,
    );
  }
  sentences.push(
    doseReduction_percent === undefined
      ? "No smaller dose stretches this charge to the return without a lost day."
      : `Or dose ${doseReduction_percent} % less from now on: then this charge lasts until the return. Watch plants and drop checker.`,
  );
  const water = others.find(({ closedWith }) => closedWith === "water");
  if (usual.closedWith === "ice" && water?.lastSensible !== undefined) {
    sentences.push(`Or fill with water in place of ice: ${when(water.lastSensible, told)}.`);
  }
  return sentences;
}

function lostWords({ lostDays, expectedLost_days }: RefillOption): string {
  const likely = lostDays.filter(({ chance_ratio }) => chance_ratio >= 0.5).map(({ date }) => date);
  const possible = lostDays.filter(({ chance_ratio }) => chance_ratio < 0.5).map(({ date }) => date);
  const parts = [
    ...(likely.length === 0 ? [] : [`${dates(likely)} ${likely.length === 1 ? "is" : "are"} probably lost`]),
    ...(possible.length === 0 ? [] : [`${dates(possible)} may be lost`]),
  ];
  return parts.length === 0 ? "" : `${parts.join(", ")} (${expectedLost_days.toFixed(1)} days on average)`;
}

/** Dates in words; more than four as the first and the last. */
function dates(list: readonly string[]): string {
  return list.length <= 4 ? list.join(", ") : `${list[0] ?? ""} to ${list.at(-1) ?? ""}`;
}

function lossOf({ lossChance_ratio, expectedLost_days }: RefillOption): string {
  if (lossChance_ratio < 0.005) return "no dosing day lost";
  if (expectedLost_days >= 0.95) return `about ${counted(Math.round(expectedLost_days), "dosing day")} lost`;
  return `a chance of ${percent(lossChance_ratio)} to lose a dosing day`;
}

function readyOf({ ready }: RefillOption, { timeZone }: Told): string {
  return `ready by ${clock(ready.median_epochMs, timeZone)}, at the latest ${clock(ready.late_epochMs, timeZone)}`;
}

function unusedOf({ unused }: RefillOption): string {
  if (unused.high80_g < 0.5) return "nothing is wasted";
  return `${grams(unused.value_g)} are wasted (${unused.low80_g.toFixed(0)} to ${unused.high80_g.toFixed(0)})`;
}

function when({ begins_epochMs }: RefillOption, { timeZone }: Told): string {
  return clock(begins_epochMs, timeZone);
}

function clock(at_epochMs: number, timeZone: string): string {
  const { weekday, date, timeOfDay } = wallClockAt(at_epochMs, timeZone);
  return `${names[weekday]} ${date} ${timeOfDay.slice(0, 5)}`;
}

function grams(amount_g: number): string {
  return `${amount_g.toFixed(amount_g < 10 ? 1 : 0)} g`;
}

function percent(ratio: number): string {
  return `${(100 * ratio).toFixed(0)} %`;
}

function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? "" : "s"}`;
}
