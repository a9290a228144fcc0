import type { DosingRule, DosingWindow } from "../../lib/schedule/dosing-windows.js";

/**
 * Dosing windows computed without Temporal: the wall clock of every minute is read off Intl.DateTimeFormat (ECMA-402, the
 * IANA time zone database inside ICU), and the windows are found by looking along that list. Zones with whole-minute offsets.
 *
 * The cautious rule in terms of the list: lights on is the last minute that shows that time, lights off the first; a time
 * that no minute shows is the first minute that shows a later one.
 */
export class IntlWindowOracle {
  readonly #first_min: number;
  /** Wall clock of each minute, itself counted in minutes as if it were UTC. */
  readonly #wallMinutes: Int32Array;

  constructor(timeZone: string, from_epochMs: number, to_epochMs: number) {
    const format = new Intl.DateTimeFormat("en-US", {
      timeZone,
      hourCycle: "h23",
      year: "numeric",
      month: "2-digit",
      day: "2-digit",
      hour: "2-digit",
      minute: "2-digit",
    });
    // A margin of four days: windows that began before, and lists that must show what came last.
    this.#first_min = Math.floor(from_epochMs / 60_000) - 4 * 1440;
    const last_min = Math.ceil(to_epochMs / 60_000) + 4 * 1440;
    this.#wallMinutes = new Int32Array(last_min - this.#first_min);
    for (let i = 0; i < this.#wallMinutes.length; i += 1) {
      const text = format.format((this.#first_min + i) * 60_000);
      const found = /^(\d\d)\/(\d\d)\/(\d{4}), (\d\d):(\d\d)$/.exec(text);
      if (found === null) throw new TypeError(`unexpected form of the wall clock: ${text}`);
      const [month, day, year, hour, minute] = found.slice(1).map(Number) as [
        number,
        number,
        number,
        number,
        number,
      ];
      this.#wallMinutes[i] = Date.UTC(year, month - 1, day, hour, minute) / 60_000;
    }
  }

  /** The windows of one rule that begin on the dates of the list, before merging, in no order. */
  rawWindows(rule: DosingRule): readonly DosingWindow[] {
    const windows: DosingWindow[] = [];
    const firstDay = Math.floor(this.#wallMinutes[0]! / 1440) + 1;
    const lastDay = Math.floor(this.#wallMinutes.at(-1)! / 1440) - 2;
    for (let day = firstDay; day <= lastDay; day += 1) {
      const date = new Date(day * 86_400_000);
      if (isOff(rule, date.toISOString().slice(0, 10))) continue;
      const weekday = (["sun", "mon", "tue", "wed", "thu", "fri", "sat"] as const)[date.getUTCDay()]!;
      for (const { lightsOn, lightsOff, days } of rule.photoperiods) {
        if (!days.includes(weekday)) continue;
        const on = day * 1440 + minutes(lightsOn);
        const off = day * 1440 + minutes(lightsOff) + (minutes(lightsOff) <= minutes(lightsOn) ? 1440 : 0);
        const on_min = this.#lastMinuteAt(on);
        const off_min = this.#firstMinuteAtOrAfter(off);
        if (off_min <= on_min) continue;
        const opens_epochMs = (on_min - rule.lead_min) * 60_000;
        const closes_epochMs = (off_min - rule.earlyClose_min) * 60_000;
        if (opens_epochMs < closes_epochMs) windows.push({ opens_epochMs, closes_epochMs });
      }
    }
    return windows;
  }

  #lastMinuteAt(wall: number): number {
    for (let i = this.#to(wall) - 1; i >= this.#from(wall); i -= 1) {
      if (this.#wallMinutes[i] === wall) return this.#first_min + i;
    }
    return this.#firstMinuteAtOrAfter(wall);
  }

  #firstMinuteAtOrAfter(wall: number): number {
    for (let i = this.#from(wall); i < this.#to(wall); i += 1) {
      if (this.#wallMinutes[i]! >= wall) return this.#first_min + i;
    }
    return Number.NaN;
  }

  /** No zone is farther than 27 h from UTC, so these bound the search. */
  #from(wall: number): number {
    return Math.max(0, wall - 27 * 60 - this.#first_min);
  }

  #to(wall: number): number {
    return Math.min(this.#wallMinutes.length, wall + 27 * 60 - this.#first_min);
  }
}

/** One flag a minute from `from_epochMs` on: 1 where every list of windows has one over that minute. */
export function openMinutes(
  lists: readonly (readonly DosingWindow[])[],
  from_epochMs: number,
  to_epochMs: number,
): Uint8Array {
  const length = (to_epochMs - from_epochMs) / 60_000;
  const open = new Uint8Array(length).fill(lists.length === 0 ? 0 : 1);
  for (const windows of lists) {
    const own = new Uint8Array(length);
    for (const { opens_epochMs, closes_epochMs } of windows) {
      const from = Math.max(0, (opens_epochMs - from_epochMs) / 60_000);
      own.fill(1, from, Math.max(from, (closes_epochMs - from_epochMs) / 60_000));
    }
    for (let i = 0; i < length; i += 1) open[i]! &= own[i]!;
  }
  return open;
}

function minutes(timeOfDay: string): number {
  return Number(timeOfDay.slice(0, 2)) * 60 + Number(timeOfDay.slice(3, 5));
}

function isOff(rule: DosingRule, date: string): boolean {
  return rule.datesOff.some((off) =>
    typeof off === "string" ? off === date : date >= off.from && date <= off.to,
  );
}
