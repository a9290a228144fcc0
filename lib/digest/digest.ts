import { alarmPriorities, type AlarmPriority } from "../alarm/alarm-condition.js";
import { wallClockAt } from "../schedule/civil-time.js";
import { leakInWords } from "../told/leak-words.js";
import { bandsAsTold, timeAbove_ms, watchedTime_ms, type BandTime } from "./band-time.js";
import type { PressurePicture } from "./pressure-picture.js";

/** A digest as a message carries it. */
export interface Digest {
  /** One line, without the site. */
  readonly heading: string;
  readonly text: string;
  readonly pictures: readonly PressurePicture[];
}

/** What is left in a vessel, g of CO2, with its 80 % interval. */
export interface DigestSupply {
  readonly remaining_g: number;
  readonly low80_g: number;
  readonly high80_g: number;
  readonly deliverable_g: number;
  readonly isSpent: boolean;
  /** Undefined where the charge is spent, and while its day is not known. */
  readonly runOut:
    | { readonly median_epochMs: number; readonly low80_epochMs: number; readonly high80_epochMs: number }
    | undefined;
  readonly use_gPerDay: number;
  readonly leak_gPerDay: number;
}

export interface DigestAlarm {
  readonly alarmId: string;
  readonly priority: AlarmPriority;
  readonly count: number;
  readonly last_epochMs: number;
  readonly cause: string;
}

/** What a digest tells. */
export interface DigestFacts {
  readonly rhythm: "daily" | "weekly";
  readonly day: string;
  readonly from_epochMs: number;
  readonly to_epochMs: number;
  readonly timeZone: string;
  readonly tanks: readonly { readonly tankId: string; readonly bandTime: BandTime }[];
  readonly vessels: readonly { readonly vesselId: string; readonly supply: DigestSupply | undefined }[];
  /** One line for each task that is due. */
  readonly due: readonly string[];
  /** Undefined where the record could not be asked. */
  readonly alarms: readonly DigestAlarm[] | undefined;
  readonly pictures: readonly PressurePicture[];
}

/** Beyond this many a digest only counts. */
const mostAlarms = 20;
/** A shorter time that nobody watched is a restart, and not worth a word. */
const leastUnwatched_h = 0.1;

/** The digest of a day or a week in plain lines, by the clock on the site's wall. */
export function composeDigest(facts: DigestFacts): Digest {
  const { rhythm, day, from_epochMs, to_epochMs, pictures, due } = facts;
  const local = (at_epochMs: number): string => localMinute(at_epochMs, facts.timeZone);
  const paragraphs = [
    [`From ${local(from_epochMs)} to ${local(to_epochMs)}.`],
    facts.tanks.flatMap(({ tankId, bandTime }) => tankLines(tankId, bandTime, to_epochMs - from_epochMs)),
    facts.vessels.map(({ vesselId, supply }) => vesselLine(vesselId, supply, facts.timeZone)),
    due.length === 0 ? ["No upkeep is due."] : ["Upkeep that is due:", ...due.map((line) => `  ${line}`)],
    alarmLines(facts.alarms, local),
    pictures.map(({ alt }) => alt),
  ];
  return {
    heading: `${rhythm} digest of ${day}`,
    text: paragraphs
      .filter((lines) => lines.length > 0)
      .map((lines) => lines.join("\n"))
      .join("\n\n"),
    pictures,
  };
}

function tankLines(tankId: string, bandTime: BandTime, span_ms: number): readonly string[] {
  const unwatched_ms = Math.max(0, span_ms - watchedTime_ms(bandTime));
  const reached = bandsAsTold.flatMap((band) => {
    const spent_ms = bandTime[band] ?? 0;
    return spent_ms > 0 ? [`${band} ${hours(spent_ms)} h`] : [];
  });
  const unwatched =
    unwatched_ms / 3_600_000 >= leastUnwatched_h ? [`not watched ${hours(unwatched_ms)} h`] : [];
  const { target_ms, alarm_ms } = timeAbove_ms(bandTime);
  const above = alarm_ms > 0 ? `, of it ${hours(alarm_ms)} h in alarm or close: watch the fish` : "";
  return [
    `tank ${tankId}: CO2 ${[...reached, ...unwatched].join(", ")}`,
    ...(target_ms > 0 ? [`  above the target for ${hours(target_ms)} h${above}`] : []),
  ];
}

function vesselLine(vesselId: string, supply: DigestSupply | undefined, timeZone: string): string {
  if (supply === undefined) return `vessel ${vesselId}: what is left is not known`;
  const { remaining_g, low80_g, high80_g, deliverable_g, isSpent, runOut, use_gPerDay, leak_gPerDay } =
    supply;
  const date = (at_epochMs: number): string => wallClockAt(at_epochMs, timeZone).date;
  const until = isSpent
    ? "the charge is spent"
    : runOut === undefined
      ? "the day on which it runs out is not known yet"
      : `runs out on ${date(runOut.median_epochMs)} (80 %: ${date(runOut.low80_epochMs)} to ${date(runOut.high80_epochMs)})`;
  return (
    `vessel ${vesselId}: CO2 left ${grams(remaining_g)} g (80 %: ${grams(low80_g)} to ${grams(high80_g)} g), ` +
    `${grams(deliverable_g)} g can be dosed; ${until}; use ${digits(use_gPerDay)} g a day, leak ${leakInWords(leak_gPerDay)}`
  );
}

function alarmLines(
  alarms: readonly DigestAlarm[] | undefined,
  local: (at_epochMs: number) => string,
): readonly string[] {
  if (alarms === undefined) return ["The alarms of this time could not be read from the store."];
  if (alarms.length === 0) return ["No alarm was raised."];
  const rank = ({ priority }: DigestAlarm): number => alarmPriorities.indexOf(priority);
  const told = [...alarms]
    .sort((a, b) => rank(a) - rank(b) || b.last_epochMs - a.last_epochMs)
    .slice(0, mostAlarms)
    .map(({ alarmId, priority, count, last_epochMs, cause }) => {
      const often = count === 1 ? "on" : `${count} times, last on`;
      return `  ${alarmId}  ${priority}, ${often} ${local(last_epochMs)}: ${cause}`;
    });
  const more = alarms.length - told.length;
  return ["Alarms that were raised:", ...told, ...(more > 0 ? [`  and ${more} more`] : [])];
}

function localMinute(at_epochMs: number, timeZone: string): string {
  const { date, timeOfDay } = wallClockAt(at_epochMs, timeZone);
  return `${date} ${timeOfDay.slice(0, 5)}`;
}

const hours = (span_ms: number): string => (span_ms / 3_600_000).toFixed(1);
const grams = (value_g: number): string => (value_g >= 10 ? value_g.toFixed(0) : value_g.toFixed(1));
const digits = (value: number): string => String(Number(value.toPrecision(2)));
