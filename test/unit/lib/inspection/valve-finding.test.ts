import { describe, expect, it } from "vitest";
import {
  mayClick,
  valveFinding,
  type ClickOutcome,
  type ValveFacts,
  type ValveState,
} from "../../../../lib/inspection/valve-finding.js";

const open: ValveState = {
  kind: "known",
  isInWindow: true,
  told: "open",
  reported: "open",
  reason: "dosing window",
  blocks: [],
};
const closed = { ...open, told: "closed", reported: "closed" } as const;
const outside = { ...closed, isInWindow: false, reason: "outside the dosing window" } as const;
const tripped = { ...closed, blocks: [{ rule: "tripped", reason: "pH below the floor" }] };

describe("a valve", () => {
  it.each<{
    because: string;
    state: ValveFacts["state"];
    click?: ClickOutcome;
    verdict: string;
    told: string;
  }>([
    {
      because: "its round trip passed",
      state: open,
      click: { kind: "passed", text: "outlet went off, on and off" },
      verdict: "good",
      told: "outlet went off, on and off",
    },
    {
      because: "its round trip failed",
      state: open,
      click: { kind: "failed", text: "outlet: the relay did not report" },
      verdict: "mend this first",
      told: "did not report",
    },
    { because: "nobody was asked", state: open, verdict: "not known", told: "--at-the-tank outlet" },
    {
      because: "nobody agreed",
      state: open,
      click: { kind: "nobody agreed" },
      verdict: "not known",
      told: "nobody agreed",
    },
    {
      because: "no daemon runs",
      state: { kind: "no daemon" },
      verdict: "not known",
      told: "no daemon answers",
    },
    { because: "its window is closed", state: outside, verdict: "not known", told: "come back while" },
    {
      because: "it tripped",
      state: tripped,
      verdict: "mend this first",
      told: "tripped (pH below the floor)",
    },
    {
      because: "nobody has tried its relay",
      state: { ...closed, blocks: [{ rule: "relay not commissioned", reason: "outlet" }] },
      verdict: "mend this first",
      told: "relay not commissioned",
    },
    {
      because: "a rule holds it for now",
      state: { ...closed, blocks: [{ rule: "end of charge", reason: "2.9 bar" }] },
      verdict: "look at this",
      told: "held closed by end of charge (2.9 bar)",
    },
    {
      because: "its relay says nothing",
      state: { ...outside, reported: "unknown" },
      verdict: "mend this first",
      told: "it is told closed and has reported nothing",
    },
    {
      because: "its relay contradicts",
      state: { ...outside, reported: "open" },
      verdict: "mend this first",
      told: "it is told closed and reports open",
    },
  ])("is $verdict where $because", ({ state, click = { kind: "not asked for" }, verdict, told }) => {
    const finding = valveFinding({ valveId: "outlet", state, click });
    expect(finding.verdict).toBe(verdict);
    expect(finding.told).toContain(told);
  });

  it.each<{ because: string; state: ValveFacts["state"]; may: boolean }>([
    { because: "the daemon holds it open", state: open, may: true },
    { because: "its window is closed", state: { ...open, isInWindow: false }, may: false },
    { because: "it is told closed", state: closed, may: false },
    { because: "it does not report open", state: { ...open, reported: "unknown" }, may: false },
    { because: "no daemon runs", state: { kind: "no daemon" }, may: false },
  ])("is asked about at all: $may, since $because", ({ state, may }) => {
    expect(mayClick(state)).toBe(may);
  });
});
