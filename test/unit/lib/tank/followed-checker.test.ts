import { describe, expect, it } from "vitest";
import {
  followChecker,
  isSettledChecker,
  type FollowedChecker,
} from "../../../../lib/tank/followed-checker.js";

const start_epochMs = Date.parse("2026-05-01T08:00:00Z");
const minute_ms = 60_000;
const checker = { timeConstant_h: 1.5 };

/** A tank that jumps to another CO2 at the start and stays there; the liquid was at rest before. */
function afterJump(factor: number, minutes: number, step_min = 1): FollowedChecker {
  const pH = 7 - Math.log10(factor);
  let followed = followChecker(undefined, checker, { at_epochMs: start_epochMs, pH: 7, co2_mgPerL: 10 });
  for (let minute = step_min; minute <= minutes; minute += step_min) {
    const at_epochMs = start_epochMs + minute * minute_ms;
    followed = followChecker(followed, checker, { at_epochMs, pH, co2_mgPerL: 10 * factor });
  }
  return followed;
}

describe("the liquid of a virtual drop checker", () => {
  it.each([
    [90, 1 - Math.exp(-1), "one time constant"],
    [180, 1 - Math.exp(-2), "two"],
  ])("has gone the share of the way that a first-order lag goes after %d min: %s", (minutes, gone) => {
    // Crank, The Mathematics of Diffusion, section 4.3: the slowest mode decays exponentially.
    const liquid_mgPerL = afterJump(3, minutes).lag_ratio * 30;
    expect((liquid_mgPerL - 10) / 20).toBeCloseTo(gone, 2);
  });

  it("is the same at another hardness of the estimate: only ratios are kept", () => {
    const one = followChecker(afterJump(3, 60), checker, {
      at_epochMs: start_epochMs + 61 * minute_ms,
      pH: 7 - Math.log10(3),
      co2_mgPerL: 60,
    });
    expect(one.lag_ratio).toBeCloseTo(afterJump(3, 61).lag_ratio, 9);
  });

  it("is not known to have settled before three time constants, nor after a long gap", () => {
    expect(isSettledChecker(afterJump(1, 60), checker)).toBe(false);
    expect(isSettledChecker(afterJump(1, 280), checker)).toBe(true);
    const late = followChecker(afterJump(1, 280), checker, {
      at_epochMs: start_epochMs + 340 * minute_ms,
      pH: 7,
      co2_mgPerL: 10,
    });
    expect(isSettledChecker(late, checker)).toBe(false);
  });

  it("begins anew where the clock was set back", () => {
    const back = followChecker(afterJump(3, 60), checker, {
      at_epochMs: start_epochMs,
      pH: 7,
      co2_mgPerL: 10,
    });
    expect(back).toEqual({ at_epochMs: start_epochMs, pH: 7, lag_ratio: 1, since_epochMs: start_epochMs });
  });
});
