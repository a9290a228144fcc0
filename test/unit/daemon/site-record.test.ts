import { describe, expect, it } from "vitest";
import type { SiteEvent } from "../../../daemon/ports/site-store.js";
import { createSiteRecord } from "../../../daemon/site-record.js";
import { CollectingLogger } from "../../support/collecting-logger.js";

const event = (changed: Partial<SiteEvent>): SiteEvent => ({
  at_epochMs: 0,
  area: "valve",
  subject: "outlet",
  what: "commanded open",
  reason: "dosing window",
  details: {},
  ...changed,
});

describe("the record of the site", () => {
  it.each<{ because: string; of: Partial<SiteEvent>; fields: Readonly<Record<string, unknown>> }>([
    {
      because: "a valve is a valve",
      of: {},
      fields: { area: "valve", valve: "outlet", reason: "dosing window" },
    },
    {
      because: "a person's wish is one for a valve",
      of: { area: "override" },
      fields: { area: "override", valve: "outlet", reason: "dosing window" },
    },
    {
      because: "a trip is of a tank or of a valve",
      of: { area: "trip", subject: "loach", details: { kind: "tank", id: "loach" } },
      fields: { area: "trip", tank: "loach", reason: "dosing window" },
    },
    {
      because: "a hold is on a vessel or on a valve",
      of: { area: "hold", subject: "cellar", details: { kind: "vessel", id: "cellar" } },
      fields: { area: "hold", vessel: "cellar", reason: "dosing window" },
    },
    {
      because: "a lead is a tank's",
      of: { area: "lead", subject: "loach" },
      fields: { area: "lead", tank: "loach", reason: "dosing window" },
    },
    {
      because: "a charge is in a vessel",
      of: { area: "charge", subject: "cellar" },
      fields: { area: "charge", vessel: "cellar", reason: "dosing window" },
    },
    {
      because: "an alarm has its id, and its priority is not dumped",
      of: { area: "alarm", subject: "broker", details: { priority: "high" } },
      fields: { area: "alarm", alarm: "broker", reason: "dosing window" },
    },
    {
      because: "what is of the whole site names nothing",
      of: { area: "daemon", subject: "", reason: "" },
      fields: { area: "daemon" },
    },
  ])("is logged under the name that other lines have for the thing: $because", ({ of, fields }) => {
    const logger = new CollectingLogger();
    const kept: SiteEvent[] = [];
    const store = { recordEvent: (one: SiteEvent) => (kept.push(one), Promise.resolve(true)) };
    createSiteRecord({ logger, store }).record(event(of));
    const written = JSON.parse(JSON.stringify(logger.lines)) as unknown;
    expect(written).toEqual([{ level: "info", fields, message: "commanded open" }]);
    expect(kept).toEqual([event(of)]);
  });
});
