import { setTimeout as sleep } from "node:timers/promises";
import type { Fault } from "./fault.js";
import { closes } from "./fault-courses.js";
import { steady } from "./fault-site.js";

const minute_ms = 60_000;
const inside = "the civil clock inside the daemon's process is moved, not the machine's";

function jump(name: string, shift_ms: number): Fault {
  return closes({
    name,
    limit_s: 3,
    alarm: "clock",
    because: `a jump is not plausible (${inside})`,
    act: (site) => site.cause({ kind: "clock", shift_ms }),
  });
}

/**
 * The daemon begins so long before an instant. The clock runs on by itself, so that only the passing of time moves the valve.
 */
const before = (instant: string, lead_ms: number): string =>
  String(Math.round(Date.parse(instant) - lead_ms - Date.now()));

/** Jumps, and the two nights on which wall clocks are changed (rules of Europe/Berlin in the IANA time zone database). */
export const clockFaults: readonly Fault[] = [
  jump("the clock jumps by a day ahead", 24 * 60 * minute_ms),
  jump("the clock jumps by a day back", -24 * 60 * minute_ms),
  jump("the clock jumps by ten minutes ahead", 10 * minute_ms),
  {
    name: "the end of the dosing window lies in the hour that is left out in spring",
    verdict: "closed",
    limit_s: 3,
    alarm: "none",
    because: `at the change the window is over (${inside})`,
    get site() {
      return {
        config: { timeZone: "Europe/Berlin", photoperiods: '[{ lightsOn: "00:10", lightsOff: "02:30" }]' },
        environment: { FIZZWARD_CLOCK_SHIFT_MS: before("2026-03-29T01:00:00Z", 45_000) },
      };
    },
    run: async (site, limit_ms) => {
      await site.dose();
      const edge = await site.ask({ command: "status" });
      const { at_epochMs } = (edge as unknown as { readonly value: { readonly at_epochMs: number } }).value;
      const left_ms = Date.parse("2026-03-29T01:00:00Z") - at_epochMs;
      await sleep(Math.max(0, left_ms - 1500));
      const openUntilThen = site.gasFlows();
      const from_ms = performance.now() + Math.min(left_ms, 1500);
      const took_ms = await site.closedAfter_ms(from_ms, limit_ms + 5000);
      return {
        valve: Number.isNaN(took_ms) ? "stayed open" : "closed",
        took_ms: Math.max(0, took_ms),
        alarms: await site.alarms(),
        lost: await site.lost(),
        ...(openUntilThen ? {} : { miss: "it was closed long before the change" }),
      };
    },
  },
  {
    name: "the end of the dosing window comes twice in the hour that is repeated in autumn",
    verdict: "closed",
    limit_s: 3,
    alarm: "none",
    because: `the first of the two ends it, and the second is no new window (${inside})`,
    get site() {
      return {
        config: { timeZone: "Europe/Berlin", photoperiods: '[{ lightsOn: "00:10", lightsOff: "02:10" }]' },
        environment: { FIZZWARD_CLOCK_SHIFT_MS: before("2026-10-25T01:00:00Z", 20_000) },
      };
    },
    run: async (site) => {
      await site.start();
      site.senses(steady("6.8"));
      // From ten minutes before the wall clock is set back, through the change, in the time that it shows twice.
      await sleep(30_000);
      const opened = site.relay.changes.some(({ state }) => state === "on");
      return {
        valve: opened ? "opened" : "never opened",
        took_ms: opened ? Number.NaN : 0,
        alarms: await site.alarms(),
        lost: "nothing",
      };
    },
  },
];
