import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import {
  acceptClock,
  createClockPlausibilityState,
  judgeClock,
  tooLate_epochMs,
  type ClockPlausibilityState,
  type ClockVerdict,
  type Synchronisation,
} from "../../../../lib/schedule/clock-plausibility.js";

const build_epochMs = Date.parse("2026-03-01T00:00:00Z");
const minute_ms = 60_000;
const plausible: ClockVerdict = { kind: "plausible" };
const unsettled: ClockVerdict = { kind: "implausible", reason: "unsettled" };
const tooEarly: ClockVerdict = { kind: "implausible", reason: "before the latest known instant" };

/** A civil and a monotonic clock that run together until one of them is told otherwise. */
class TwoClocks {
  now_epochMs: number;
  monotonic_ms = 5000;
  synchronisation: Synchronisation = "unknown";
  notBefore_epochMs = build_epochMs;
  state: ClockPlausibilityState;

  constructor(now_epochMs = build_epochMs + 30 * minute_ms, accepted_epochMs?: number) {
    this.now_epochMs = now_epochMs;
    this.state = createClockPlausibilityState(accepted_epochMs);
  }

  tick(): ClockVerdict {
    const { verdict, state } = judgeClock(this.state, this);
    this.state = state;
    return verdict;
  }

  /** Ticks each second; the civil clock gains `slew_ratio` on the monotonic one. Gives the verdicts that differ from the last. */
  run(duration_ms: number, slew_ratio = 0): readonly ClockVerdict[] {
    const seen: ClockVerdict[] = [];
    for (let elapsed_ms = 0; elapsed_ms < duration_ms; elapsed_ms += 1000) {
      this.monotonic_ms += 1000;
      this.now_epochMs += 1000 * (1 + slew_ratio);
      const verdict = this.tick();
      if (JSON.stringify(verdict) !== JSON.stringify(seen.at(-1))) seen.push(verdict);
    }
    return seen;
  }

  accept(): void {
    this.state = acceptClock(this.state, this);
  }
}

describe("the civil clock", () => {
  it.each([
    [0, plausible, "the latest known instant"],
    [-10 * minute_ms, plausible, "ten minutes before it"],
    [-10 * minute_ms - 1, tooEarly, "a millisecond earlier"],
    [-build_epochMs, tooEarly, "a machine that starts in 1970"],
    [tooLate_epochMs - 1 - build_epochMs, plausible, "the last millisecond of 2099"],
    [
      tooLate_epochMs - build_epochMs,
      { kind: "implausible", reason: "beyond the year 2099" },
      "the first of 2100",
    ],
    [Number.NaN, { kind: "implausible", reason: "beyond the year 2099" }, "no number"],
  ] as readonly (readonly [number, ClockVerdict, string])[])(
    "at %d ms from the latest known instant is %j (%s)",
    (after, expected) => {
      expect(new TwoClocks(build_epochMs + after).tick()).toEqual(expected);
    },
  );

  it("starts unsettled when the system says that it is not synchronised, for ten minutes", () => {
    const clocks = new TwoClocks();
    clocks.synchronisation = "not synchronised";
    expect(clocks.tick()).toEqual(unsettled);
    expect(clocks.run(10 * minute_ms - 1000)).toEqual([unsettled]);
    expect(clocks.run(1000)).toEqual([plausible]);
  });

  it("is plausible at once when the synchronisation comes", () => {
    const clocks = new TwoClocks();
    clocks.synchronisation = "not synchronised";
    clocks.tick();
    clocks.synchronisation = "synchronised";
    clocks.now_epochMs += 5 * 60 * minute_ms;
    expect(clocks.run(1000)).toEqual([plausible]);
    clocks.synchronisation = "not synchronised";
    expect(clocks.run(minute_ms)).toEqual([plausible]);
  });

  it.each([
    [2 * minute_ms, [plausible], "two minutes forward"],
    [-2 * minute_ms, [plausible], "two minutes back"],
    [2 * minute_ms + 1, [unsettled, plausible], "a little more, forward"],
    [-2 * minute_ms - 1, [unsettled, plausible], "a little more, back"],
    [24 * 60 * minute_ms, [unsettled, plausible], "a day forward"],
  ] as readonly (readonly [number, readonly ClockVerdict[], string])[])(
    "after a jump of %d ms gives %j (%s)",
    (jump, expected) => {
      const clocks = new TwoClocks();
      clocks.run(minute_ms);
      clocks.now_epochMs += jump;
      expect(clocks.tick()).toEqual(expected[0]);
      expect(clocks.run(12 * minute_ms)).toEqual(expected);
    },
  );

  it("settles ten minutes after the last jump, not the first", () => {
    const clocks = new TwoClocks();
    clocks.tick();
    clocks.now_epochMs += 60 * minute_ms;
    clocks.run(9 * minute_ms);
    clocks.now_epochMs -= 30 * minute_ms;
    expect(clocks.tick()).toEqual(unsettled);
    expect(clocks.run(9 * minute_ms)).toEqual([unsettled]);
    expect(clocks.run(minute_ms)).toEqual([unsettled, plausible]);
  });

  it.each([
    [0.0005, "500 ppm, the limit of the kernel's adjustment (common practice, no source)"],
    [0.0834, "83 400 ppm, the quickest slew of a time daemon (common practice, no source)"],
    [-0.0834, "the same, backwards"],
  ])("may be slewed by %d for hours: no jump (%s)", (slew_ratio) => {
    const clocks = new TwoClocks();
    clocks.tick();
    expect(clocks.run(6 * 60 * minute_ms, slew_ratio)).toEqual([plausible]);
  });

  it("may not creep in steps that no slewing makes", () => {
    const clocks = new TwoClocks();
    clocks.tick();
    const verdicts = [1, 2, 3].map(() => {
      clocks.now_epochMs += 50_000;
      return clocks.run(10_000).at(-1);
    });
    expect(verdicts).toEqual([plausible, plausible, unsettled]);
  });

  it("counts the sleep of the machine, which the monotonic clock does not show, as a jump", () => {
    const clocks = new TwoClocks();
    clocks.tick();
    clocks.now_epochMs += 8 * 60 * minute_ms;
    expect(clocks.run(1000)).toEqual([unsettled]);
  });

  it("recovers from a moment in which it was no number", () => {
    const clocks = new TwoClocks();
    clocks.tick();
    const kept_epochMs = clocks.now_epochMs;
    clocks.now_epochMs = Number.NaN;
    expect(clocks.tick().kind).toBe("implausible");
    clocks.now_epochMs = kept_epochMs;
    expect(clocks.tick()).toEqual(unsettled);
    expect(clocks.run(11 * minute_ms)).toEqual([unsettled, plausible]);
  });

  it("stays implausible before the latest known instant even when the system says synchronised", () => {
    const clocks = new TwoClocks(build_epochMs - 60 * minute_ms);
    clocks.synchronisation = "synchronised";
    expect(clocks.run(20 * minute_ms)).toEqual([tooEarly]);
  });
});

describe("a person who accepts the clock", () => {
  it("ends the settling at once", () => {
    const clocks = new TwoClocks();
    clocks.synchronisation = "not synchronised";
    clocks.tick();
    clocks.accept();
    expect(clocks.run(minute_ms)).toEqual([plausible]);
  });

  it("overrules a store that holds an instant from the future", () => {
    const clocks = new TwoClocks();
    clocks.notBefore_epochMs = build_epochMs + 400 * 24 * 60 * minute_ms;
    expect(clocks.tick()).toEqual(tooEarly);
    clocks.accept();
    expect(clocks.run(30 * minute_ms)).toEqual([plausible]);
  });

  it("vouches for the time from there on, not for a fall behind it", () => {
    const clocks = new TwoClocks();
    clocks.notBefore_epochMs = build_epochMs + 400 * 24 * 60 * minute_ms;
    clocks.accept();
    clocks.run(60 * minute_ms);
    clocks.now_epochMs -= 30 * minute_ms;
    expect(clocks.run(30 * minute_ms)).toEqual([tooEarly, plausible]);
  });

  it("is remembered over a restart by the state that was kept", () => {
    const before = new TwoClocks();
    before.notBefore_epochMs = build_epochMs + 400 * 24 * 60 * minute_ms;
    before.accept();
    before.run(minute_ms);
    const after = new TwoClocks(before.now_epochMs + 60_000, before.state.accepted_epochMs);
    after.notBefore_epochMs = before.notBefore_epochMs;
    expect(after.tick()).toEqual(plausible);
  });

  it("is no longer needed once the plain rule holds", () => {
    const clocks = new TwoClocks();
    clocks.accept();
    clocks.run(1000);
    expect(clocks.state.accepted_epochMs).toBeUndefined();
  });

  it("cannot accept a year beyond 2099 or a time that is no number", () => {
    const clocks = new TwoClocks(tooLate_epochMs + 1);
    clocks.accept();
    expect(clocks.tick().kind).toBe("implausible");
    expect(() => acceptClock(clocks.state, { now_epochMs: Number.NaN, monotonic_ms: 0 })).toThrow(
      OutOfValidRangeError,
    );
  });
});
