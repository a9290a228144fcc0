import type { ChargeAmounts, ChargePlan, RefusedPlan } from "../../../lib/charge-plan/plan-charge.js";
import type { PlanAnswer, VesselPicture } from "../page-contract.js";
import { button, el, type Child } from "./dom.js";
import type { Formats } from "./formats.js";
import { planScale } from "./plan-scale.js";
import { writtenSaid, writtenText } from "./said.js";
import { mark, svg } from "./svg.js";
import type { Texts } from "./texts.en.js";

type Words = Texts["plan"];
type Answered = Extract<PlanAnswer, { kind: "answer" }>;
const hour_ms = 3_600_000;

/** A plan or its refusal, as it was worked out. */
export function planResult(
  answer: PlanAnswer,
  vessel: VesselPicture,
  words: Words,
  formats: Formats,
  takeLargest: (sodiumBicarbonate_g: number) => void,
): readonly Child[] {
  if (answer.kind === "not understood") {
    return [
      el(
        "section",
        { class: "card alarm-low", "aria-label": words.notPlannable },
        el("h2", {}, mark("care"), words.notPlannable),
        el("p", {}, `${capital(answer.reason)}.`),
      ),
    ];
  }
  const { plan } = answer;
  return [
    ...(plan.kind === "plan"
      ? planned(plan, vessel, words, formats)
      : [refused(plan, words, formats, takeLargest)]),
    cautions(answer, words, formats),
  ];
}

/** One line for a reader who does not see it. */
export function planSummary(answer: PlanAnswer, words: Words, formats: Formats): string {
  if (answer.kind === "not understood") return `${words.notPlannable}: ${answer.reason}`;
  if (answer.plan.kind === "refused") return words.refusedShort;
  const { sodiumBicarbonate_g, citricAcid_g } = answer.plan.amounts;
  return words.planned(formats.weighed(sodiumBicarbonate_g), formats.weighed(citricAcid_g));
}

function planned(plan: ChargePlan, vessel: VesselPicture, words: Words, formats: Formats): readonly Child[] {
  const { amounts, pressures } = plan;
  const { pressure, percent, temperature } = formats;
  const rating_bar = Math.min(
    vessel.ratedPressureGauge_bar ?? Infinity,
    vessel.reliefOpeningGauge_bar ?? Infinity,
  );
  return [
    el(
      "section",
      { class: "card", "aria-label": words.weigh },
      el("h2", {}, words.weigh),
      amountList(amounts, words, formats),
      amounts.acidExcess_ratio > 0
        ? el("p", { class: "aside" }, words.excessIs(percent(amounts.acidExcess_ratio)))
        : undefined,
    ),
    el(
      "section",
      { class: "card", "aria-label": words.pressures },
      el("h2", {}, words.pressures),
      planScale(pressures, rating_bar, words, formats),
      el(
        "table",
        { class: "figures" },
        el("caption", { class: "unseen" }, words.pressuresTable),
        el(
          "thead",
          {},
          el(
            "tr",
            {},
            [words.when, words.expected, words.bounds].map((name) => el("th", { scope: "col" }, name)),
          ),
        ),
        el(
          "tbody",
          {},
          (["cold", "room", "hottest"] as const).map((when) => {
            const outlook = pressures[when];
            return el(
              "tr",
              {},
              el(
                "th",
                { scope: "row" },
                svg(
                  "svg",
                  { class: "key", viewBox: "0 0 28 12", "aria-hidden": "true" },
                  svg("rect", { class: `scale-${when}`, x: 1, y: 3, width: 24, height: 6, rx: 3 }),
                ),
                words.outlooks[when](temperature(outlook.temperature_degC)),
              ),
              el("td", {}, pressure(outlook.pressureGauge_bar)),
              el("td", {}, `${pressure(outlook.lowGauge_bar)} – ${pressure(outlook.highGauge_bar)}`),
            );
          }),
        ),
      ),
      el(
        "p",
        {},
        mark("good"),
        words.allowed(pressure(pressures.highestAllowedGauge_bar), pressure(rating_bar)),
      ),
      el("p", { class: "aside" }, words.boundsAre),
    ),
    el(
      "section",
      { class: "card", "aria-label": words.gives },
      el("h2", {}, words.gives),
      gives(plan, words, formats),
    ),
  ];
}

function gives(
  { delivery, lasts, readyTime, surge, cost }: ChargePlan,
  words: Words,
  formats: Formats,
): HTMLElement {
  const { mass, number, span } = formats;
  const { deliverable_g, co2Available_g, unusable } = delivery;
  const days = (value: number | null): string =>
    value === null || !Number.isFinite(value) ? words.noEnd : number(value);
  const money = (amount: number): string => `${number(amount, 2)} ${cost?.currency ?? ""}`.trimEnd();
  return el(
    "ul",
    { class: "plan-facts" },
    el(
      "li",
      { class: "strong" },
      lasts === undefined
        ? words.noUse
        : words.lasts(
            days(lasts.days.value),
            days(lasts.days.low),
            days(lasts.days.high),
            `${number(lasts.use_gPerDay.value, 1)} g`,
          ),
    ),
    el("li", {}, words.reaches(mass(deliverable_g.value), mass(deliverable_g.low), mass(deliverable_g.high))),
    el("li", {}, words.ofAll(mass(co2Available_g), mass(unusable.co2_g))),
    el(
      "li",
      {},
      readyTime === undefined
        ? words.notReady
        : words.ready(
            span(readyTime.value * hour_ms),
            span(readyTime.low * hour_ms),
            span(readyTime.high * hour_ms),
          ),
    ),
    surge === undefined
      ? undefined
      : el(
          "li",
          {},
          surge.verdict === "steady"
            ? words.flow.steady
            : words.flow.creeps(formats.percent(surge.flowAtEnd_ratio - 1)),
        ),
    cost === undefined
      ? undefined
      : el(
          "li",
          {},
          words.costs(
            money(cost.total),
            cost.perGramDelivered === undefined ? undefined : money(100 * cost.perGramDelivered),
          ),
        ),
  );
}

function refused(
  { reason, said, largest }: RefusedPlan,
  words: Words,
  formats: Formats,
  takeLargest: (sodiumBicarbonate_g: number) => void,
): HTMLElement {
  return el(
    "section",
    { class: "card alarm-medium", "aria-label": words.refused },
    el("h2", {}, mark("bad"), words.refused),
    el("p", {}, `${capital(said === undefined ? reason : writtenSaid(said, formats))}.`),
    largest === undefined
      ? undefined
      : [
          el("h3", {}, words.largest),
          amountList(largest, words, formats),
          el(
            "p",
            {},
            words.largestHot(
              formats.pressure(largest.highGauge_bar),
              formats.temperature(largest.hottest_degC),
            ),
            " ",
            words.largestGives(
              formats.mass(largest.deliverable_g),
              largest.days === undefined ? undefined : formats.number(largest.days),
            ),
          ),
          button(words.takeLargest, () => takeLargest(largest.sodiumBicarbonate_g), { class: "main" }),
        ],
  );
}

function amountList(amounts: ChargeAmounts, words: Words, { weighed, number, volume }: Formats): HTMLElement {
  const { filling, residualLiquor_L } = amounts;
  const { mass_kg, ice_kg = filling.kind === "ice" ? mass_kg : 0 } = filling;
  const row = (name: string, value: string): readonly HTMLElement[] => [
    el("dt", {}, name),
    el("dd", {}, value),
  ];
  return el(
    "dl",
    { class: "weights" },
    row(words.bicarbonate, weighed(amounts.sodiumBicarbonate_g)),
    row(`${words.citricAcid}, ${words.weighedAcids[amounts.acidForm]}`, weighed(amounts.citricAcid_g)),
    mass_kg - ice_kg > 0 ? row(words.waterAlone, `${number(1000 * (mass_kg - ice_kg))} g`) : undefined,
    ice_kg > 0 ? row(words.ice, `${number(1000 * ice_kg)} g`) : undefined,
    residualLiquor_L === undefined ? undefined : row(words.leftIn, volume(residualLiquor_L, 2)),
  );
}

function cautions({ cautions: list }: Answered, words: Words, formats: Formats): HTMLElement {
  return el(
    "section",
    { class: "card", "aria-label": words.cautions },
    el("h2", {}, mark("care"), words.cautions),
    el(
      "ul",
      { class: "cautions" },
      list.map((caution) => el("li", {}, writtenText(caution, formats))),
    ),
  );
}

function capital(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
}
