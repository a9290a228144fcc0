import { z } from "zod";
import type { LeakTestVerdict } from "../../lib/supply-watch/leak-test.js";
import { civilMinute } from "../supply/supply-events.js";

/** A vessel held closed to find a leak: the running test, or the last one of it with what it found. */
export interface LeakTest {
  readonly vesselId: string;
  readonly from_epochMs: number;
  /** Civil time: until then no valve of the vessel opens, unless the test is ended before. */
  readonly until_epochMs: number;
  readonly matters_gPerDay: number;
  /** How far one look at the gauge may be off from another; left out: the pressure sensor is read. */
  readonly gaugeAccuracy_bar?: number;
  readonly found?: LeakTestFinding;
}

export interface LeakTestFinding {
  readonly ended_epochMs: number;
  readonly isEarly: boolean;
  readonly verdict: LeakTestVerdict;
  readonly sentences: readonly string[];
}

const number = z.number();
const verdictSchema = z.discriminatedUnion("kind", [
  z.object({ kind: z.literal("tight"), below_gPerDay: number, closed_h: number }),
  z.object({
    kind: z.literal("leaks"),
    leak_gPerDay: number,
    low95_gPerDay: number,
    high95_gPerDay: number,
    closed_h: number,
  }),
  z
    .object({
      kind: z.literal("cannot-be-told"),
      why: z.enum(["too-short", "gauge-too-coarse", "temperature-not-settled", "no-readings"]),
      needed_h: number.optional(),
      closed_h: number,
    })
    .transform((verdict) => ({ ...verdict, needed_h: verdict.needed_h })),
]);

export const leakTestSchema = z.object({
  vesselId: z.string(),
  from_epochMs: number,
  until_epochMs: number,
  matters_gPerDay: number,
  gaugeAccuracy_bar: number.exactOptional(),
  found: z
    .object({
      ended_epochMs: number,
      isEarly: z.boolean(),
      verdict: verdictSchema,
      sentences: z.array(z.string()),
    })
    .exactOptional(),
});

/** The test that holds a vessel closed at an instant. */
export function runningTest(
  tests: readonly LeakTest[],
  vesselId: string,
  now_epochMs: number,
): LeakTest | undefined {
  return tests.find(
    (test) => test.vesselId === vesselId && test.found === undefined && now_epochMs < test.until_epochMs,
  );
}

/** Why its valves stay closed, in words; undefined: no test holds them. */
export function leakTestHold(
  tests: readonly LeakTest[],
  vesselId: string,
  { now_epochMs, timeZone }: { readonly now_epochMs: number; readonly timeZone: string },
): string | undefined {
  const test = runningTest(tests, vesselId, now_epochMs);
  return test === undefined
    ? undefined
    : `vessel ${vesselId} is held closed until ${civilMinute(test.until_epochMs, timeZone)}`;
}
