import { describe, expect, it } from "vitest";
import { eventsAbout, openSpansOf } from "../../../../daemon/page/past-events.js";
import type { SiteEvent } from "../../../../daemon/ports/site-store.js";

const event = (at_epochMs: number, area: string, subject: string, what: string): SiteEvent => ({
  at_epochMs,
  area,
  subject,
  what,
  reason: "",
  details: {},
});
const span = { from_epochMs: 100, until_epochMs: 200 };

describe("when gas flowed", () => {
  it.each([
    {
      because: "as the relay reported",
      events: [
        event(110, "valve", "outlet", "reports open"),
        event(150, "valve", "outlet", "reports closed"),
      ],
      spans: [[110, 150]],
    },
    {
      because: "open since before the span, and still",
      events: [event(40, "valve", "outlet", "reports open")],
      spans: [[100, 200]],
    },
    {
      because: "a command that no relay reported opened nothing",
      events: [event(110, "valve", "outlet", "commanded open")],
      spans: [],
    },
    {
      because: "a relay drops by itself when the daemon ends",
      events: [event(110, "valve", "outlet", "reports open"), event(130, "daemon", "", "stopped")],
      spans: [[110, 130]],
    },
    {
      because: "another vessel's valve is not this one's",
      events: [event(110, "valve", "other", "reports open")],
      spans: [],
    },
    {
      because: "two valves that overlap are one span",
      events: [
        event(110, "valve", "outlet", "reports open"),
        event(120, "valve", "second", "reports open"),
        event(130, "valve", "outlet", "reports closed"),
        event(140, "valve", "second", "reports closed"),
      ],
      spans: [[110, 140]],
    },
  ])("is told as spans: $because", ({ events, spans }) => {
    expect(
      openSpansOf(events, ["outlet", "second"], span).map((one) => [one.from_epochMs, one.until_epochMs]),
    ).toEqual(spans);
  });
});

describe("what else happened", () => {
  it("is what is about the thing itself, and not what comes with every window", () => {
    const events = [
      event(110, "valve", "outlet", "reports open"),
      event(120, "charge", "cellar", "was spent"),
      event(130, "alarm", "supply/cellar/low", "raised"),
      event(140, "alarm", "tank/loach/co2", "raised"),
      event(210, "charge", "cellar", "was spent"),
    ];
    const told = eventsAbout(events, ["cellar", "outlet"], span);
    expect(told.map(({ subject }) => subject)).toEqual(["cellar", "supply/cellar/low"]);
  });
});
