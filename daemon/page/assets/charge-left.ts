import type { SitePicture, VesselPicture } from "../page-contract.js";
import { el, type Child } from "./dom.js";
import { writtenSaid, writtenText } from "./said.js";
import { mark } from "./svg.js";
import type { PageContext } from "./view.js";

const minute_ms = 60_000;

/** What can still be dosed, until when, and what it rests on. */
export function chargeLeft(
  vessel: VesselPicture,
  { now_epochMs }: SitePicture,
  { texts, formats }: Pick<PageContext, "texts" | "formats">,
): readonly Child[] {
  const words = texts.charge.left;
  const { supply, kind } = vessel;
  if (kind === "liquid") return [el("p", {}, words.liquid), gauges(vessel, now_epochMs, { texts, formats })];
  if (supply?.told === undefined) {
    return [
      el("p", {}, words.nothing),
      supply?.failure === undefined ? undefined : el("p", { class: "must" }, words.failure(supply.failure)),
      gauges(vessel, now_epochMs, { texts, formats }),
    ];
  }
  const { estimate, use, refill } = supply.told;
  const { mass, percent } = formats();
  const { deliverable, remaining, charge_g, leak_gPerDay, warnings } = estimate;
  return [
    el(
      "p",
      { class: "big" },
      el("strong", {}, mass(deliverable.value_g)),
      " ",
      el("span", {}, words.share(percent(deliverable.value_g / charge_g))),
    ),
    bar(
      vessel,
      words.bar(
        mass(deliverable.value_g),
        mass(deliverable.low80_g),
        mass(deliverable.high80_g),
        mass(charge_g),
      ),
    ),
    el(
      "p",
      { class: "aside" },
      words.range(
        mass(deliverable.low80_g),
        mass(deliverable.high80_g),
        mass(deliverable.low95_g),
        mass(deliverable.high95_g),
      ),
    ),
    el("p", { class: "strong" }, runOut(vessel, now_epochMs, { texts, formats })),
    el(
      "p",
      {},
      words.inside(mass(remaining.value_g), mass(Math.max(0, remaining.value_g - deliverable.value_g))),
    ),
    el("p", {}, words.use(mass(use.total_gPerDay, 1), mass(leak_gPerDay.value, 1))),
    supply.failure === undefined ? undefined : el("p", { class: "must" }, words.failure(supply.failure)),
    gauges(vessel, now_epochMs, { texts, formats }),
    ...(warnings.length === 0
      ? []
      : [
          el("h3", {}, mark("care"), words.warnings),
          el(
            "ul",
            { class: "cautions" },
            warnings.map((warning) => el("li", {}, writtenText(warning, formats()))),
          ),
        ]),
    ...(refill === undefined || refill.said.length === 0
      ? []
      : [
          el("h3", {}, words.refill),
          ...refill.said.map((sentence) => el("p", {}, writtenSaid(sentence, formats()))),
        ]),
  ];
}

/** The charge as a bar: what can be dosed, its 80 % range as a lighter stretch, and what stays behind. */
function bar({ supply }: VesselPicture, label: string): HTMLElement {
  const estimate = supply?.told?.estimate;
  const made = el("div", { class: "charge-bar", role: "img", "aria-label": label });
  if (estimate === undefined) return made;
  const { deliverable, charge_g } = estimate;
  const stretch = (from_g: number, until_g: number, name: string): void => {
    const piece = el("span", { class: name });
    piece.style.left = `${(100 * from_g) / charge_g}%`;
    piece.style.width = `${(100 * Math.max(0, until_g - from_g)) / charge_g}%`;
    made.append(piece);
  };
  stretch(0, deliverable.value_g, "bar-value");
  stretch(deliverable.low80_g, deliverable.high80_g, "bar-range");
  return made;
}

function runOut(
  { supply, runOut: told }: VesselPicture,
  now_epochMs: number,
  { texts, formats }: Pick<PageContext, "texts" | "formats">,
): string {
  const words = texts.charge.left;
  const estimate = supply?.told?.estimate;
  if (estimate === undefined) return words.nothing;
  const { date, span } = formats();
  if (estimate.phase === "spent") return words.spent(date(estimate.runOut.median_epochMs));
  if (told === undefined) return words.vague(date(estimate.runOut.low80_epochMs));
  const { median_epochMs, low80_epochMs, high80_epochMs } = told;
  return words.runsOut(
    date(median_epochMs),
    span(median_epochMs - now_epochMs),
    date(low80_epochMs),
    date(high80_epochMs),
  );
}

function gauges(
  { pressureGauge_bar, temperature_degC, workingPressureGauge_bar, supply }: VesselPicture,
  now_epochMs: number,
  { texts, formats }: Pick<PageContext, "texts" | "formats">,
): HTMLElement {
  const words = texts.charge.left;
  const { pressure, temperature, span, dateAndTime } = formats();
  const told = supply?.told;
  const row = (name: string, value: Child): readonly HTMLElement[] => [
    el("dt", {}, name),
    el("dd", {}, value),
  ];
  const read_epochMs = pressureGauge_bar?.at_epochMs ?? told?.pressureRead_epochMs;
  const source = told === undefined ? undefined : words.source[told.source];
  const read =
    read_epochMs === undefined
      ? undefined
      : now_epochMs - read_epochMs < minute_ms
        ? words.readNow
        : words.read(span(now_epochMs - read_epochMs));
  return el(
    "dl",
    { class: "pairs" },
    row(
      words.gauge,
      [
        pressureGauge_bar === undefined ? texts.unknown : pressure(pressureGauge_bar.value),
        ...[source, read].filter((part) => part !== undefined),
      ].join(", "),
    ),
    temperature_degC === undefined ? undefined : row(words.temperature, temperature(temperature_degC.value)),
    row(words.working, pressure(workingPressureGauge_bar)),
    told === undefined ? undefined : row(words.phase, texts.charge.phases[told.estimate.phase]),
    supply?.charge === undefined ? undefined : row(words.closed, dateAndTime(supply.charge.closedAt_epochMs)),
  );
}
