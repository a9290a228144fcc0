import { describe, expect, it } from "vitest";
import { instantFromText, instantInZone } from "../../../../daemon/cli/instant-text.js";

describe("instants as text", () => {
  it.each([
    { text: "2026-03-29T14:00:00+02:00", at_epochMs: Date.UTC(2026, 2, 29, 12) },
    { text: "2026-03-29T14:00+02:00", at_epochMs: Date.UTC(2026, 2, 29, 12) },
    { text: "2026-03-29T12:00:00Z", at_epochMs: Date.UTC(2026, 2, 29, 12) },
    { text: "2026-03-29T12:00:00.250Z", at_epochMs: Date.UTC(2026, 2, 29, 12) + 250 },
    { text: "2024-02-29T00:00:00-05:30", at_epochMs: Date.UTC(2024, 1, 29, 5, 30) },
  ])("reads $text", ({ text, at_epochMs }) => {
    expect(instantFromText(text)).toBe(at_epochMs);
  });

  it.each([
    { text: "2026-03-29T14:00:00", because: "no offset" },
    { text: "2026-03-29 14:00:00+02:00", because: "a space for the T" },
    { text: "2026-02-29T14:00:00Z", because: "no such day" },
    { text: "2026-04-31T14:00:00Z", because: "no such day" },
    { text: "2026-13-01T14:00:00Z", because: "no such month" },
    { text: "2026-03-29T24:00:00Z", because: "no such hour" },
    { text: "1774785600000", because: "a number" },
    { text: "", because: "nothing" },
  ])('refuses "$text": $because', ({ text }) => {
    expect(instantFromText(text)).toBeUndefined();
  });

  it("writes civil time with the offset of the day", () => {
    expect(instantInZone(Date.UTC(2026, 0, 15, 12), "Europe/Berlin")).toBe("2026-01-15T13:00:00+01:00");
    expect(instantInZone(Date.UTC(2026, 6, 15, 12), "Europe/Berlin")).toBe("2026-07-15T14:00:00+02:00");
    expect(instantInZone(Date.UTC(2026, 0, 15, 12), "America/St_Johns")).toBe("2026-01-15T08:30:00-03:30");
    expect(instantInZone(Date.UTC(2026, 0, 15, 12), "UTC")).toBe("2026-01-15T12:00:00+00:00");
  });
});
