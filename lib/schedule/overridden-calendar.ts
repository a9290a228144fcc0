import type { DosingCalendar } from "./dosing-calendar.js";
import { mergedWindows, type DosingWindow } from "./dosing-windows.js";

/** A person's wish for a valve over a span, in place of its windows. */
export interface OverriddenSpan {
  readonly action: "open" | "closed";
  /** A remote one opens nothing outside of a window. */
  readonly source: "local" | "remote";
  readonly from_epochMs: number;
  readonly until_epochMs: number;
}

/** The windows of a calendar as people's wishes leave them: what is closed by hand is cut out, what is opened locally is added. */
export function overriddenCalendar(
  calendar: DosingCalendar,
  overrides: readonly OverriddenSpan[],
): Pick<DosingCalendar, "windowsBetween" | "stateAt"> {
  if (overrides.length === 0) return calendar;
  return {
    stateAt: (at_epochMs) => calendar.stateAt(at_epochMs),
    windowsBetween: (from_epochMs, to_epochMs) =>
      overrides.reduce(
        (windows, override) => {
          const span = {
            opens_epochMs: Math.max(override.from_epochMs, from_epochMs),
            closes_epochMs: Math.min(override.until_epochMs, to_epochMs),
          };
          if (!(span.closes_epochMs > span.opens_epochMs)) return windows;
          if (override.action === "closed") return windows.flatMap((window) => without(window, span));
          return override.source === "local" ? mergedWindows([...windows, span]) : windows;
        },
        calendar.windowsBetween(from_epochMs, to_epochMs),
      ),
  };
}

function without(window: DosingWindow, span: DosingWindow): readonly DosingWindow[] {
  return [
    { ...window, closes_epochMs: Math.min(window.closes_epochMs, span.opens_epochMs) },
    { ...window, opens_epochMs: Math.max(window.opens_epochMs, span.closes_epochMs) },
  ].filter(({ opens_epochMs, closes_epochMs }) => closes_epochMs > opens_epochMs);
}
