import type { DosingCalendar } from "../lib/schedule/dosing-calendar.js";

export interface LightsAround {
  readonly lightsAreOn: boolean;
  /** Undefined where none are planned within a day. */
  readonly untilLightsOn_h: number | undefined;
  /** Undefined while they are on, or where they were off for a day. */
  readonly sinceLightsOff_h: number | undefined;
}

const hour_ms = 3_600_000;

/** The lights at an instant, and how far away they are on either side. */
export function lightsAround(lights: DosingCalendar, at_epochMs: number): LightsAround {
  const now = lights.stateAt(at_epochMs);
  if (now.kind === "open")
    return { lightsAreOn: true, untilLightsOn_h: undefined, sinceLightsOff_h: undefined };
  const untilLightsOn_h =
    now.opens_epochMs === undefined ? undefined : (now.opens_epochMs - at_epochMs) / hour_ms;
  const spans = lights.windowsBetween(at_epochMs - 24 * hour_ms, at_epochMs);
  const last = spans.at(-1);
  return {
    lightsAreOn: false,
    untilLightsOn_h: untilLightsOn_h !== undefined && untilLightsOn_h <= 24 ? untilLightsOn_h : undefined,
    sinceLightsOff_h: last === undefined ? undefined : (at_epochMs - last.closes_epochMs) / hour_ms,
  };
}
