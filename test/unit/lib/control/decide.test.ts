import { describe, expect, it } from "vitest";
import { decide, judgeOverride, type Override, type WindowState } from "../../../../lib/control/decide.js";

const noon_epochMs = Date.parse("2026-05-04T12:00:00Z");
const minute_ms = 60_000;
const inside: WindowState = { kind: "open", closes_epochMs: noon_epochMs + 60 * minute_ms };
const outside: WindowState = { kind: "closed", opens_epochMs: noon_epochMs + 60 * minute_ms };
const wish = (
  action: Override["action"],
  source: Override["source"],
  for_min: number,
  valveId = "outlet",
): Override => ({ valveId, action, source, until_epochMs: noon_epochMs + for_min * minute_ms });

describe("decide", () => {
  it.each([
    { window: inside, override: undefined, action: "open", because: "dosing window" },
    { window: outside, override: undefined, action: "closed", because: "outside the dosing window" },
    {
      window: { kind: "closed", opens_epochMs: undefined } as const,
      override: undefined,
      action: "closed",
      because: "outside the dosing window",
    },
    { window: inside, override: wish("closed", "local", 5), action: "closed", because: "closed by hand" },
    { window: inside, override: wish("closed", "remote", 5), action: "closed", because: "closed by hand" },
    { window: outside, override: wish("closed", "remote", 5), action: "closed", because: "closed by hand" },
    {
      window: inside,
      override: wish("open", "local", 5),
      action: "open",
      because: "opened by hand in the dosing window",
    },
    {
      window: inside,
      override: wish("open", "remote", 5),
      action: "open",
      because: "opened by hand in the dosing window",
    },
    {
      window: outside,
      override: wish("open", "local", 5),
      action: "open",
      because: "opened by hand outside the dosing window",
    },
    {
      window: outside,
      override: wish("open", "remote", 5),
      action: "closed",
      because: "outside the dosing window",
    },
    { window: inside, override: wish("closed", "local", 0), action: "open", because: "dosing window" },
    {
      window: outside,
      override: wish("open", "local", 0),
      action: "closed",
      because: "outside the dosing window",
    },
    {
      window: outside,
      override: wish("open", "local", -1),
      action: "closed",
      because: "outside the dosing window",
    },
  ])("wishes $action, since $because ($window.kind, $override.source $override.action)", (row) => {
    expect(decide(row.window, row.override, noon_epochMs)).toEqual({
      action: row.action,
      reason: row.because,
    });
  });

  it("lets an override go in the very millisecond of its end", () => {
    const override = wish("open", "local", 1);
    expect(decide(outside, override, override.until_epochMs - 1).action).toBe("open");
    expect(decide(outside, override, override.until_epochMs).action).toBe("closed");
  });
});

describe("judgeOverride", () => {
  it.each([
    {
      override: wish("open", "local", 120),
      window: outside,
      because: "two hours outside the window are the most",
    },
    { override: wish("open", "local", 60), window: inside, because: "it ends with the window" },
    { override: wish("open", "local", 180), window: inside, because: "it outlasts the window by two hours" },
    { override: wish("open", "remote", 600), window: inside, because: "outside the window it has no effect" },
    {
      override: wish("closed", "remote", 60 * 24 * 60),
      window: outside,
      because: "closing is always allowed",
    },
    { override: wish("closed", "local", 1), window: inside, because: "closing is always allowed" },
  ])("takes $override.source $override.action: $because", ({ override, window }) => {
    expect(judgeOverride(override, window, noon_epochMs)).toEqual({ kind: "accepted" });
  });

  it.each([
    { override: wish("open", "local", 0), window: inside, because: "not in the future" },
    { override: wish("closed", "remote", -5), window: inside, because: "not in the future" },
    { override: wish("closed", "local", Number.NaN), window: inside, because: "not in the future" },
    { override: wish("closed", "local", 60 * 24 * 60 + 1), window: inside, because: "60 days" },
    { override: wish("open", "remote", 5), window: outside, because: "only inside its dosing window" },
    { override: wish("open", "local", 121), window: outside, because: "120 min at most" },
    { override: wish("open", "local", 181), window: inside, because: "120 min at most" },
    { override: wish("open", "local", 59 * 24 * 60), window: inside, because: "120 min at most" },
  ])("refuses $override.source $override.action: $because", ({ override, window, because }) => {
    expect(judgeOverride(override, window, noon_epochMs)).toEqual({
      kind: "refused",
      reason: expect.stringContaining(because) as string,
    });
  });
});
