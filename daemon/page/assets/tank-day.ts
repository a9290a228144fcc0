import type { SitePicture, TankPicture } from "../page-contract.js";
import { careLine } from "./card-parts.js";
import { el } from "./dom.js";
import type { PageContext } from "./view.js";

/** When gas comes so that it is there with the lights, and when it has left again; or plainly why that is not known. */
export function daySection(
  { gasDay }: TankPicture,
  { now_epochMs }: SitePicture,
  { texts, formats }: PageContext,
): HTMLElement | undefined {
  const words = texts.tank.day;
  if (gasDay === undefined) return undefined;
  return el(
    "section",
    { class: "card stack", "data-key": "day", "aria-label": words.heading },
    el("h2", {}, words.heading),
    morning(gasDay),
    evening(gasDay),
    el("p", { class: "quiet" }, words.condition),
  );

  function time(at_epochMs: number): string {
    return formats().time(at_epochMs, now_epochMs);
  }

  /** Without the date where it is that of what was said before. */
  function sameDay(before_epochMs: number, at_epochMs: number): string {
    return formats().time(at_epochMs, before_epochMs);
  }

  function spread(low_epochMs: number, high_epochMs: number | undefined): string {
    const { timeOfDay } = formats();
    return high_epochMs === undefined
      ? words.openRange(timeOfDay(low_epochMs))
      : words.range(timeOfDay(low_epochMs), timeOfDay(high_epochMs));
  }

  function morning({ morning: told }: NonNullable<TankPicture["gasDay"]>): HTMLElement {
    if (told.kind === "not known") {
      const { opens_epochMs, lightsOn_epochMs, because } = told;
      return el(
        "div",
        {},
        opens_epochMs === undefined || lightsOn_epochMs === undefined
          ? undefined
          : el("p", {}, words.bySchedule(time(opens_epochMs), sameDay(opens_epochMs, lightsOn_epochMs))),
        el("p", {}, `${words.reachedNot}${words.because(because)}`),
      );
    }
    const edge = formats().co2(told.lowEdge_mgPerL);
    const { opens_epochMs, lightsOn_epochMs, wantedOpening_epochMs } = told;
    const parts = [time(opens_epochMs), sameDay(opens_epochMs, lightsOn_epochMs), edge] as const;
    const isLate = opens_epochMs > wantedOpening_epochMs;
    const wanted = formats().timeOfDay(wantedOpening_epochMs);
    const first = told.isInTime
      ? el("p", {}, words.inTime(...parts))
      : isLate
        ? careLine(words.late(...parts, wanted))
        : el("p", {}, words.early(...parts, wanted));
    return el(
      "div",
      {},
      first,
      el(
        "p",
        {},
        words.reached(edge, sameDay(opens_epochMs, told.reached_epochMs)) +
          spread(told.reachedLow80_epochMs, told.reachedHigh80_epochMs),
      ),
    );
  }

  function evening({ evening: told }: NonNullable<TankPicture["gasDay"]>): HTMLElement {
    const { closes_epochMs } = told;
    const closes = closes_epochMs === undefined ? undefined : time(closes_epochMs);
    if (told.kind === "not known") {
      return el(
        "div",
        {},
        closes === undefined ? undefined : el("p", {}, words.off(closes)),
        el("p", {}, `${words.leavesNot}${words.because(told.because)}`),
      );
    }
    const edge = formats().co2(told.lowEdge_mgPerL);
    const off = time(told.closes_epochMs);
    return el(
      "p",
      {},
      told.isBelowBeforeDark
        ? words.leavesBefore(edge, off) + words.end
        : words.leaves(edge, sameDay(told.closes_epochMs, told.below_epochMs), off) +
            spread(told.belowLow80_epochMs, told.belowHigh80_epochMs),
    );
  }
}
