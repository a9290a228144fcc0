import { day, grams as massOf, instant, said, saidList, type Said, type SaidPart } from "../told/said.js";
import type { AbsenceOutlook } from "./absence-outlook.js";
import type { RefillOption, RefillRequest } from "./refill-option.js";
import type { FillingOutlook, RefillOutlook } from "./refill-outlook.js";

type Wishes = Pick<RefillRequest, "acceptedLoss_ratio">;

/** The outlook in plain sentences, the usual filling first; times are those of the clock on the wall. */
export function refillSaid(outlook: RefillOutlook, wishes: Wishes): readonly Said[] {
  const { fillings, absence } = outlook;
  const [usual, ...others] = fillings;
  return [
    daysLeftSentence(outlook),
    ...fillingSentences(usual, wishes),
    ...others.map((other) => comparison(usual, other)),
    ...(absence === undefined ? [] : absenceSentences(absence, usual, others)),
  ];
}

function daysLeftSentence({ daysLeft }: RefillOutlook): Said {
  const { median, low80, high80, firstShort } = daysLeft;
  const ends =
    firstShort === undefined ? "" : said`; the first day short of gas is probably ${day(firstShort)}`;
  const span = low80 === high80 ? "" : ` (8 times in 10 between ${low80} and ${high80})`;
  return said`Gas is left for ${counted(median, "dosing day")}${span}${ends}.`;
}

function fillingSentences(filling: FillingOutlook, wishes: Wishes): readonly Said[] {
  const { closedWith, verdict, next, lastSensible, latestPossible, leastLoss } = filling;
  const accepted = percent(wishes.acceptedLoss_ratio);
  switch (verdict) {
    case "no-opportunity":
      return [
        said`Nobody is there to refill at the stated days and hours in the time that was looked at: change the days, the hours or the absence.`,
      ];
    case "costs-days":
      return leastLoss === undefined
        ? []
        : [
            said`With ${closedWith} every opportunity costs a dosing day with a chance above ${accepted}. The least is lost on ${when(leastLoss)}: ${lossOf(leastLoss)}, ${readyOf(leastLoss)}.`,
          ];
    case "refill-next":
    case "wait": {
      if (lastSensible === undefined || next === undefined) return [];
      const is = filling.isBeyondOutlook ? "is not before" : "is";
      const sentences = [
        said`With ${closedWith} the last sensible refill ${is} ${when(lastSensible)}: ${lossOf(lastSensible)}, ${readyOf(lastSensible)}, ${unusedOf(lastSensible)}.`,
      ];
      if (verdict === "refill-next") sentences.push(said`It is the next opportunity as well: do not wait.`);
      else if (filling.isWorthWaiting) {
        sentences.push(
          said`Wait: refilled at the next opportunity, ${when(next)}, ${unusedOf(next)}; waiting saves about ${grams(filling.waitingSaves_g)}.`,
        );
      } else {
        const saves =
          filling.waitingSaves_g < 0.05 ? "nothing" : said`only about ${grams(filling.waitingSaves_g)}`;
        sentences.push(said`Any opportunity from ${when(next)} on will do: waiting saves ${saves}.`);
      }
      if (latestPossible !== undefined && latestPossible.begins_epochMs > lastSensible.begins_epochMs) {
        sentences.push(
          said`The latest possible one is ${when(latestPossible)}, with a chance of ${percent(latestPossible.lossChance_ratio)} to lose a dosing day.`,
        );
      }
      return sentences;
    }
  }
}

function comparison(usual: FillingOutlook, other: FillingOutlook): Said {
  const { closedWith, lastSensible, leastLoss } = other;
  if (lastSensible === undefined) {
    return leastLoss === undefined
      ? said`With ${closedWith} there is no opportunity either.`
      : said`With ${closedWith} no opportunity keeps every dosing day: at best ${lossOf(leastLoss)}, closed on ${when(leastLoss)}, ${readyOf(leastLoss)}.`;
  }
  const gain_ms = lastSensible.begins_epochMs - (usual.lastSensible?.begins_epochMs ?? -Infinity);
  const place =
    usual.lastSensible === undefined
      ? "there is one that keeps every dosing day"
      : gain_ms === 0
        ? "the last sensible refill is the same"
        : `it can be ${gain_ms > 0 ? "later" : "no later than"}`;
  return said`With ${closedWith} ${place}: ${when(lastSensible)}, ${lossOf(lastSensible)}, ${readyOf(lastSensible)}.`;
}

function absenceSentences(
  absence: AbsenceOutlook,
  usual: FillingOutlook,
  others: readonly FillingOutlook[],
): readonly Said[] {
  const { from, to, before, after, freshLasts, doseReduction_percent } = absence;
  const away = from === to ? said`on ${day(from)}` : said`from ${day(from)} to ${day(to)}`;
  const lost = after === undefined ? [] : lostWords(after);
  const sentences = [
    said`Nobody is home ${away}, and the charge may not last until the return${lost.length === 0 ? "" : said`: without a refill before, ${lost}`}.`,
  ];
  if (before === undefined) sentences.push(said`There is no opportunity to refill before leaving.`);
  else {
    const lasts =
      freshLasts === undefined
        ? ""
        : freshLasts
          ? "; a fresh charge then lasts until the return"
          : "; even a fresh charge then ends before the return";
    sentences.push(
      said`Refilled before leaving, on ${when(before)}: ${lossOf(before)}, ${unusedOf(before)}${lasts}.`,
    );
  }
  sentences.push(
    doseReduction_percent === undefined
      ? said`No smaller dose stretches this charge to the return without a lost day.`
      : said`Or dose ${doseReduction_percent} % less from now on: then this charge lasts until the return. Watch plants and drop checker.`,
  );
  const water = others.find(({ closedWith }) => closedWith === "water");
  if (usual.closedWith === "ice" && water?.lastSensible !== undefined) {
    sentences.push(said`Or fill with water in place of ice: ${when(water.lastSensible)}.`);
  }
  return sentences;
}

function lostWords({ lostDays, expectedLost_days }: RefillOption): Said {
  const likely = lostDays.filter(({ chance_ratio }) => chance_ratio >= 0.5).map(({ date }) => date);
  const possible = lostDays.filter(({ chance_ratio }) => chance_ratio < 0.5).map(({ date }) => date);
  const parts = [
    ...(likely.length === 0
      ? []
      : [said`${dates(likely)} ${likely.length === 1 ? "is" : "are"} probably lost`]),
    ...(possible.length === 0 ? [] : [said`${dates(possible)} may be lost`]),
  ];
  return parts.length === 0
    ? []
    : said`${saidList(parts, ", ")} (${expectedLost_days.toFixed(1)} days on average)`;
}

/** Dates in words; more than four as the first and the last. */
function dates(list: readonly string[]): Said {
  return list.length <= 4
    ? saidList(
        list.map((date) => [day(date)]),
        ", ",
      )
    : said`${day(list[0] ?? "")} to ${day(list.at(-1) ?? "")}`;
}

function lossOf({ lossChance_ratio, expectedLost_days }: RefillOption): string {
  if (lossChance_ratio < 0.005) return "no dosing day lost";
  if (expectedLost_days >= 0.95) return `about ${counted(Math.round(expectedLost_days), "dosing day")} lost`;
  return `a chance of ${percent(lossChance_ratio)} to lose a dosing day`;
}

function readyOf({ ready }: RefillOption): Said {
  return said`ready by ${instant(ready.median_epochMs)}, at the latest ${instant(ready.late_epochMs)}`;
}

function unusedOf({ unused }: RefillOption): Said {
  if (unused.high80_g < 0.5) return said`nothing is wasted`;
  return said`${grams(unused.value_g)} are wasted (${massOf(unused.low80_g, 0)} to ${massOf(unused.high80_g, 0)})`;
}

function when({ begins_epochMs }: RefillOption): SaidPart {
  return instant(begins_epochMs);
}

function grams(amount_g: number): SaidPart {
  return massOf(amount_g, amount_g < 10 ? 1 : 0);
}

function percent(ratio: number): string {
  return `${(100 * ratio).toFixed(0)} %`;
}

function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? "" : "s"}`;
}
