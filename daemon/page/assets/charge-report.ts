import type { ChargePicture } from "../page-contract.js";
import { button, el } from "./dom.js";
import type { PageContext } from "./view.js";

interface Ranged {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** One charge from plan to end, on a page that can be printed. */
export function chargeReport(
  charge: ChargePicture,
  { texts, formats }: Pick<PageContext, "texts" | "formats">,
  onClose: () => void,
): HTMLElement {
  const words = texts.charge.report;
  const { rows } = words;
  const past = texts.charge.past;
  const { weighed, mass, number, percent, pressure, fullDate, timeOfDay } = formats();
  const instant = (at_epochMs: number): string => `${fullDate(at_epochMs)}, ${timeOfDay(at_epochMs)}`;
  const ranged = (amount: Ranged | undefined, write: (value: number) => string): string | undefined =>
    amount === undefined
      ? undefined
      : `${write(amount.value)} (${past.range(write(amount.low), write(amount.high))})`;
  const { acid, planned, ended, cost, ready_h, settledGauge_bar, runOut_days } = charge;
  const hours = (value_h: number): string => past.hours(number(value_h, 1));
  const money = (value: number): string => `${number(value, 2)} ${cost?.currency ?? ""}`.trimEnd();
  const acidName = words.acid[acid.kind];
  const row = (name: string, value: string | undefined): readonly (HTMLElement | undefined)[] =>
    value === undefined ? [] : [el("dt", {}, name), el("dd", {}, value)];
  const heading = el("h2", { tabindex: "-1" }, words.heading(charge.chargeId));
  return el(
    "section",
    { class: "card report", "aria-label": words.heading(charge.chargeId) },
    heading,
    el(
      "dl",
      { class: "pairs" },
      row(rows.closed, `${instant(charge.closed_epochMs)}, ${past.with[charge.closedWith]}`),
      row(
        rows.ended,
        ended.kind === "running"
          ? past.ends.running
          : `${instant(ended.at_epochMs)}, ${past.ends[ended.kind]}`,
      ),
      row(rows.recipe, charge.recipe),
      row(
        rows.planned,
        planned === undefined
          ? undefined
          : `${weighed(planned.sodiumBicarbonate_g)}, ${weighed(planned.citricAcid_g)}`,
      ),
      row(
        rows.weighed,
        words.amounts(
          weighed(charge.sodiumBicarbonate_g),
          weighed(acid.mass_g),
          acidName,
          `${number(1000 * charge.water_kg)} g`,
          charge.closedWith,
        ),
      ),
      row(rows.possible, ranged(charge.theoretical_g, mass)),
      row(rows.delivered, ranged(charge.delivered_g, mass)),
      row(
        rows.byTank,
        charge.byTank.length === 0
          ? undefined
          : charge.byTank.map(({ name, co2_g }) => `${name} ${ranged(co2_g, mass) ?? ""}`).join("; "),
      ),
      row(rows.yield, ranged(charge.yield_ratio, percent)),
      row(rows.ofPlan, ranged(charge.ofPlan_ratio, percent)),
      row(
        rows.leak,
        ranged(charge.leak_gPerDay, (value) => mass(value, 2)),
      ),
      row(rows.left, ranged(charge.left_g, mass)),
      row(rows.missing, ranged(charge.missing_g, mass)),
      row(
        rows.ready,
        ready_h === undefined
          ? charge.actualReady_h === undefined
            ? undefined
            : hours(charge.actualReady_h)
          : words.beside(hours(ready_h.actual), hours(ready_h.predicted), ready_h.isInside),
      ),
      row(
        rows.settled,
        settledGauge_bar === undefined
          ? undefined
          : words.beside(
              pressure(settledGauge_bar.actual),
              pressure(settledGauge_bar.predicted),
              settledGauge_bar.isInside,
            ),
      ),
      row(
        rows.runOut,
        runOut_days === undefined
          ? undefined
          : words.beside(
              number(runOut_days.actual, 1),
              number(runOut_days.predicted, 1),
              runOut_days.isInside,
            ),
      ),
      row(rows.life, charge.life_days === undefined ? undefined : number(charge.life_days, 1)),
      row(rows.dosing, number(charge.dosing_days)),
      row(
        rows.cost,
        cost === undefined
          ? undefined
          : words.perDay(
              money(cost.total),
              cost.perDay === undefined ? undefined : money(cost.perDay),
              ranged(cost.perGram, (perGram) => money(100 * perGram)),
            ),
      ),
    ),
    charge.remarks.length === 0
      ? undefined
      : [
          el("h3", {}, words.remarks),
          el(
            "ul",
            { class: "cautions" },
            charge.remarks.map(({ text }) => el("li", {}, text)),
          ),
        ],
    el("p", { class: "aside" }, words.footer),
    el(
      "p",
      { class: "buttons" },
      button(words.print, () => print(), { class: "main" }),
      button(words.close, onClose),
    ),
  );
}
