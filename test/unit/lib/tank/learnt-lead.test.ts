import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import { nextUsedLead } from "../../../../lib/tank/learnt-lead.js";
import type { LeadOffer } from "../../../../lib/tank/learnt-outlook.js";
import type { UsedLead } from "../../../../lib/tank/tank-learning-state.js";

const now_epochMs = Date.UTC(2026, 4, 10, 20);
const hour_ms = 3_600_000;
const limits = { atLeast_min: 45, atMost_min: 120 };

function offered(lead_min: number, nights = 3): { readonly lead: LeadOffer; readonly nights: number } {
  const lead = {
    kind: "reached",
    lead_min,
    leadLow80_min: 10,
    leadHigh80_min: 200,
    target_mgPerL: 15,
  } as const;
  return { lead, nights };
}
const used = (lead_min: number, hoursAgo?: number): UsedLead => ({
  lead_min,
  configured_min: 60,
  moved_epochMs: hoursAgo === undefined ? undefined : now_epochMs - hoursAgo * hour_ms,
});
const openEnded = { lead: { ...offered(90).lead, leadHigh80_min: undefined } as LeadOffer, nights: 3 };
const notKnown = { lead: { kind: "not known", because: "no night yet" }, nights: 3 } as const;

describe("the lead in use", () => {
  it.each([
    { before: undefined, offer: undefined, lead_min: 60, because: "it begins at the config's" },
    { before: used(60), offer: offered(65), lead_min: 65, because: "5 minutes are one step" },
    { before: used(60), offer: offered(110), lead_min: 70, because: "it moves by 10 at most" },
    { before: used(70, 25), offer: offered(110), lead_min: 80, because: "a day has gone by" },
    { before: used(70, 23), offer: offered(110), lead_min: 70, because: "it has moved within the day" },
    { before: used(115, 30), offer: offered(200), lead_min: 120, because: "the keeper's most" },
    { before: used(50, 30), offer: offered(10), lead_min: 45, because: "the keeper's least" },
    { before: used(60), offer: notKnown, lead_min: 60, because: "nothing was learnt" },
    { before: used(60), offer: openEnded, lead_min: 60, because: "an open interval is a bound, no number" },
    { before: used(60), offer: offered(90, 1), lead_min: 60, because: "one night may be an odd one" },
    {
      before: { ...used(100, 1), configured_min: 80 },
      offer: offered(60),
      lead_min: 60,
      because: "another lead in the config begins anew",
    },
    { before: used(70, -3), offer: offered(110), lead_min: 80, because: "the clock was set back" },
  ])("$lead_min min: $because", ({ before, offer, lead_min }) => {
    expect(nextUsedLead(before, 60, limits, offer, now_epochMs).lead_min).toBe(lead_min);
  });

  it("is the config's where the keeper lets nothing be learnt", () => {
    expect(nextUsedLead(used(90, 30), 60, undefined, offered(110), now_epochMs).lead_min).toBe(60);
  });

  it("refuses limits beyond the longest lead", () => {
    const beyond = { atLeast_min: 0, atMost_min: 300 };
    expect(() => nextUsedLead(undefined, 60, beyond, offered(90), now_epochMs)).toThrow(OutOfValidRangeError);
  });
});
