import type { ChargePlan } from "../../../lib/charge-plan/plan-charge.js";
import type { Formats } from "./formats.js";
import { svg } from "./svg.js";
import type { Texts } from "./texts.en.js";

const width = 320;
const height = 100;
const side = 8;
const top = 34;
const thickness = 25;

/**
 * The pressures of a plan on a straight scale from 0 to the rating: bands with their bounds, and the line that the hottest day's upper
 * bound stays under. A table beside it says the same.
 */
export function planScale(
  { cold, room, hottest, highestAllowedGauge_bar }: ChargePlan["pressures"],
  rating_bar: number,
  words: Texts["plan"],
  formats: Formats,
): SVGSVGElement {
  const { pressure } = formats;
  const end_bar = Math.max(rating_bar, hottest.highGauge_bar) * 1.04;
  const x = (gauge_bar: number): number => side + ((width - 2 * side) * Math.max(0, gauge_bar)) / end_bar;
  const span = (low_bar: number, high_bar: number, lane: number, name: string): SVGRectElement =>
    svg("rect", {
      class: `scale-${name}`,
      x: x(low_bar),
      width: Math.max(2, x(high_bar) - x(low_bar)),
      y: top + lane * 8 + 1.5,
      height: 6,
      rx: 2,
    });
  const tick = (gauge_bar: number, label: string, isAbove: boolean, name: string): SVGGElement => {
    const at = x(gauge_bar);
    const anchor = at > width * 0.7 ? "end" : at < width * 0.3 ? "start" : "middle";
    return svg(
      "g",
      { class: `scale-mark scale-${name}` },
      svg("line", { x1: at, x2: at, y1: isAbove ? top - 6 : top, y2: top + thickness + (isAbove ? 0 : 6) }),
      svg("text", { x: at, y: isAbove ? top - 10 : top + thickness + 18, "text-anchor": anchor }, label),
    );
  };
  return svg(
    "svg",
    {
      class: "plan-scale",
      viewBox: `0 0 ${width} ${height}`,
      role: "img",
      "aria-label": words.scale(
        pressure(cold.pressureGauge_bar),
        pressure(room.pressureGauge_bar),
        pressure(hottest.highGauge_bar),
        pressure(highestAllowedGauge_bar),
      ),
    },
    svg("rect", {
      class: "scale-ground",
      x: side,
      y: top,
      width: width - 2 * side,
      height: thickness,
      rx: 4,
    }),
    svg("rect", {
      class: "scale-beyond",
      x: x(highestAllowedGauge_bar),
      y: top,
      width: width - side - x(highestAllowedGauge_bar),
      height: thickness,
    }),
    span(cold.lowGauge_bar, cold.highGauge_bar, 0, "cold"),
    span(room.lowGauge_bar, room.highGauge_bar, 1, "room"),
    span(hottest.lowGauge_bar, hottest.highGauge_bar, 2, "hottest"),
    tick(
      highestAllowedGauge_bar,
      `${words.marks.allowed} ${pressure(highestAllowedGauge_bar)}`,
      true,
      "allowed",
    ),
    tick(room.pressureGauge_bar, `${words.marks.room} ${pressure(room.pressureGauge_bar)}`, false, "room"),
    svg("line", {
      class: "scale-edge",
      x1: x(hottest.highGauge_bar),
      x2: x(hottest.highGauge_bar),
      y1: top + 14,
      y2: height - 15,
    }),
    svg(
      "text",
      {
        x: x(hottest.highGauge_bar),
        y: height - 4,
        "text-anchor": x(hottest.highGauge_bar) > width / 2 ? "end" : "start",
      },
      `${words.marks.hottest} ${pressure(hottest.highGauge_bar)}`,
    ),
  );
}
