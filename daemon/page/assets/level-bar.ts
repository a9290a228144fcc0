import type { SupplyLeft } from "../page-contract.js";
import type { Formats } from "./formats.js";
import { svg } from "./svg.js";
import type { Texts } from "./texts.en.js";

/** How full a vessel is: what stays in it at the working pressure, what can be dosed, and what is gone. */
export function levelBar(left: SupplyLeft, { now: words }: Texts, { percent }: Formats): SVGSVGElement {
  const { remaining_ratio, remainingLow80_ratio, remainingHigh80_ratio, dosable_ratio } = left;
  const stays_ratio = remaining_ratio - dosable_ratio;
  const at = (ratio: number): string => `${100 * ratio}%`;
  const cap = (ratio: number): SVGElement =>
    svg("line", { x1: at(ratio), x2: at(ratio), y1: "0.15em", y2: "1.65em", class: "level-doubt" });
  return svg(
    "svg",
    {
      class: "level",
      role: "img",
      "aria-label": words.levelText(
        percent(remaining_ratio),
        percent(remainingLow80_ratio),
        percent(remainingHigh80_ratio),
        percent(dosable_ratio),
      ),
    },
    svg("rect", { width: "100%", y: "0.3em", height: "1.2em", rx: "0.3em", class: "scale-track" }),
    svg("rect", { width: at(stays_ratio), y: "0.3em", height: "1.2em", class: "level-stays" }),
    svg("rect", {
      x: at(stays_ratio),
      width: at(dosable_ratio),
      y: "0.3em",
      height: "1.2em",
      class: "level-dosable",
    }),
    svg("line", {
      x1: at(remainingLow80_ratio),
      x2: at(remainingHigh80_ratio),
      y1: "0.9em",
      y2: "0.9em",
      class: "level-doubt",
    }),
    cap(remainingLow80_ratio),
    cap(remainingHigh80_ratio),
    svg("text", { x: at(stays_ratio / 2), y: "2.9em", "text-anchor": "middle" }, words.stays),
    svg(
      "text",
      { x: at(stays_ratio + dosable_ratio / 2), y: "2.9em", "text-anchor": "middle" },
      dosable_ratio > 0.15 ? words.dosable : "",
    ),
  );
}
