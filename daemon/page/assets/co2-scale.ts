import type { TankPicture } from "../page-contract.js";
import type { Formats } from "./formats.js";
import { svg } from "./svg.js";
import type { Texts } from "./texts.en.js";

/** Beyond the close limit there is still some scale left, so that a value above it is seen as above. */
const headroom_ratio = 1.15;
/** Of the text at the wanted band, on the narrowest card. */
const labelWidth_percent = 40;

/** CO2 with its range, the wanted band and the close limit on one scale. */
export function co2Scale(
  { co2, limits }: Pick<TankPicture, "co2" | "limits">,
  { co2Scale: words }: Texts,
  { co2: written, co2Figure }: Formats,
): SVGSVGElement {
  const {
    co2TargetLow_mgPerL: low_mgPerL,
    co2TargetHigh_mgPerL: high_mgPerL,
    co2Close_mgPerL: close_mgPerL,
  } = limits;
  const end_mgPerL = close_mgPerL * headroom_ratio;
  const at = (value_mgPerL: number): number => (100 * Math.min(value_mgPerL, end_mgPerL)) / end_mgPerL;
  const percent = (value_mgPerL: number): string => `${at(value_mgPerL)}%`;
  const bar = (from_mgPerL: number, to_mgPerL: number, look: Readonly<Record<string, string>>): SVGElement =>
    svg("rect", { x: percent(from_mgPerL), width: `${at(to_mgPerL) - at(from_mgPerL)}%`, ...look });
  const wanted = `${co2Figure(low_mgPerL)}–${co2Figure(high_mgPerL)}`;
  const now =
    co2 === undefined
      ? words.unknown
      : words.now(written(co2.co2_mgPerL), written(co2.co2Low80_mgPerL), written(co2.co2High80_mgPerL));
  const edge = (value_mgPerL: number, look: string): SVGElement =>
    svg("line", {
      x1: percent(value_mgPerL),
      x2: percent(value_mgPerL),
      y1: "0.2em",
      y2: "2em",
      class: look,
    });
  return svg(
    "svg",
    {
      class: "scale",
      role: "img",
      "aria-label": `${now}. ${words.wanted(wanted)}, ${words.shut(written(close_mgPerL))}.`,
    },
    svg("rect", { width: "100%", y: "0.5em", height: "1.2em", rx: "0.3em", class: "scale-track" }),
    bar(close_mgPerL, end_mgPerL, { y: "0.5em", height: "1.2em", class: "scale-over" }),
    bar(low_mgPerL, high_mgPerL, { y: "0.5em", height: "1.2em", class: "scale-wanted" }),
    edge(low_mgPerL, "scale-edge"),
    edge(high_mgPerL, "scale-edge"),
    edge(close_mgPerL, "scale-close"),
    ...(co2 === undefined
      ? []
      : [
          bar(co2.co2Low80_mgPerL, co2.co2High80_mgPerL, {
            y: "0.85em",
            height: "0.5em",
            rx: "0.25em",
            class: "scale-range",
          }),
          svg("circle", { cx: percent(co2.co2_mgPerL), cy: "1.1em", r: "0.5em", class: "scale-now" }),
        ]),
    svg(
      "text",
      // Away from the other text, which stands at the right.
      at(high_mgPerL) < labelWidth_percent
        ? { x: 0, y: "3.2em" }
        : { x: percent(high_mgPerL), y: "3.2em", "text-anchor": "end" },
      words.wanted(wanted),
    ),
    svg("text", { x: "100%", y: "3.2em", "text-anchor": "end" }, words.shut(co2Figure(close_mgPerL))),
  );
}
