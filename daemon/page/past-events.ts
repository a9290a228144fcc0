import { readSaid } from "../../lib/told/said.js";
import type { SiteEvent } from "../ports/site-store.js";
import type { EventPicture, SpanOfTime } from "./page-contract.js";

/** When any of the valves was open, by what its relay reported, inside a span. Events: oldest first, some before the span. */
export function openSpansOf(
  events: readonly Pick<SiteEvent, "at_epochMs" | "area" | "subject" | "what">[],
  valveIds: readonly string[],
  { from_epochMs, until_epochMs }: SpanOfTime,
): readonly SpanOfTime[] {
  const open = new Set<string>();
  const spans: SpanOfTime[] = [];
  let since_epochMs: number | undefined;
  const follow = (at_epochMs: number): void => {
    if (open.size > 0) since_epochMs ??= at_epochMs;
    else if (since_epochMs !== undefined) {
      spans.push({ from_epochMs: since_epochMs, until_epochMs: at_epochMs });
      since_epochMs = undefined;
    }
  };
  for (const { at_epochMs, area, subject, what } of events) {
    // A relay drops by itself while nobody is there to hold it.
    if (area === "daemon") open.clear();
    else if (valveIds.includes(subject) && what.startsWith("reports ")) {
      if (what === "reports open") open.add(subject);
      else open.delete(subject);
    }
    follow(at_epochMs);
  }
  if (since_epochMs !== undefined) spans.push({ from_epochMs: since_epochMs, until_epochMs });
  return spans
    .filter((span) => span.until_epochMs > from_epochMs && span.from_epochMs < until_epochMs)
    .map((span) => ({
      from_epochMs: Math.max(span.from_epochMs, from_epochMs),
      until_epochMs: Math.min(span.until_epochMs, until_epochMs),
    }));
}

const mostEvents = 200;
/** What comes with every window is seen in the spans. */
const routine = new Set(["valve", "daemon"]);

/** What else happened to something, the newest few, oldest first. Alarms name their subject in their id. */
export function eventsAbout(
  events: readonly SiteEvent[],
  ids: readonly string[],
  { from_epochMs, until_epochMs }: SpanOfTime,
): readonly EventPicture[] {
  return events
    .filter(
      ({ at_epochMs, area, subject }) =>
        at_epochMs >= from_epochMs &&
        at_epochMs < until_epochMs &&
        !routine.has(area) &&
        subject.split("/").some((part) => ids.includes(part)),
    )
    .slice(-mostEvents)
    .map(({ at_epochMs, area, subject, what, reason, details }) => {
      const said = readSaid(details["said"]);
      return { at_epochMs, area, subject, what, reason, ...(said === undefined ? {} : { said }) };
    });
}
