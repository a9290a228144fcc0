import type { DosingCalendar } from "../../lib/schedule/dosing-calendar.js";

export interface LightsAround {
  readonly lightsAreOn: boolean;
  /** Undefined where none are planned within a day. */
  readonly untilLightsOn_h: number | undefined;
  /** Undefined while they are on, or where they were off for a day. */
  readonly sinceLightsOff_h: number | undefined;
  readonly dark: DarkTime | undefined;
}

/** From lights off to lights on. */
export interface DarkTime {
  readonly began_epochMs: number | undefined;
  readonly opens_epochMs: number | undefined;
  readonly found_epochMs: number;
}

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;

/**
 * The lights at an instant, and how far away they are on either side.
 * @param before  of an earlier instant: within one and the same dark time, when it began need not be looked for again.
 */
export function lightsAround(
  lights: DosingCalendar,
  at_epochMs: number,
  before?: LightsAround,
): LightsAround {
  const now = lights.stateAt(at_epochMs);
  if (now.kind === "open") {
    return { lightsAreOn: true, untilLightsOn_h: undefined, sinceLightsOff_h: undefined, dark: undefined };
  }
  const { opens_epochMs } = now;
  const known = before?.dark;
  const isSame =
    known !== undefined &&
    known.opens_epochMs === opens_epochMs &&
    at_epochMs >= known.found_epochMs &&
    at_epochMs - known.found_epochMs < day_ms;
  const dark = isSame
    ? known
    : {
        opens_epochMs,
        found_epochMs: at_epochMs,
        began_epochMs: lights.windowsBetween(at_epochMs - day_ms, at_epochMs).at(-1)?.closes_epochMs,
      };
  const until_ms = opens_epochMs === undefined ? Number.POSITIVE_INFINITY : opens_epochMs - at_epochMs;
  return {
    lightsAreOn: false,
    untilLightsOn_h: until_ms <= day_ms ? until_ms / hour_ms : undefined,
    sinceLightsOff_h:
      dark.began_epochMs === undefined ? undefined : (at_epochMs - dark.began_epochMs) / hour_ms,
    dark,
  };
}
