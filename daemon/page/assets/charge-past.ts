import type { ChargeMeasure } from "../../../lib/charge-log/compare-charges.js";
import type { ChargePicture, ChargesPicture } from "../page-contract.js";
import { chargeReport } from "./charge-report.js";
import { chargesCsv } from "./charges-csv.js";
import { button, el, put, type Child } from "./dom.js";
import { scaleOf, whisker, type Whisked } from "./whisker.js";
import type { PageContext } from "./view.js";

export interface ChargesSoFar {
  readonly element: HTMLElement;
  /** Units, clock or the number of charges may have changed. */
  readonly update: (key: string, siteId: string) => void;
}

/** Every charge that is kept, compared; the report of one. */
export function chargesSoFar(context: PageContext): ChargesSoFar {
  const { texts, formats, ask, announce } = context;
  const words = texts.charge.past;
  const content = el("div", { class: "stack" });
  const place = el("div");
  let told: ChargesPicture | undefined;
  let asked = "";
  let shown = "";
  let site = "";
  return {
    element: el(
      "section",
      { "aria-label": words.heading, class: "stack" },
      el("section", { class: "card charges-so-far" }, el("h2", {}, words.heading), content),
      place,
    ),
    update(key, siteId) {
      site = siteId;
      if (key !== asked) {
        asked = key;
        void load();
      }
      show();
    },
  };

  async function load(): Promise<void> {
    try {
      told = await ask<ChargesPicture>("/api/charges");
      shown = "";
      show();
    } catch (error) {
      put(content, words.failed(error instanceof Error ? error.message : String(error)));
    }
  }

  function show(): void {
    if (told === undefined) return;
    const { pressureUnit, temperatureUnit, dateAndTime } = formats();
    const essence = JSON.stringify([pressureUnit, temperatureUnit, dateAndTime(0)]);
    if (essence === shown) return;
    shown = essence;
    const newestFirst = [...told.charges].sort((one, other) => other.closed_epochMs - one.closed_epochMs);
    const hasEnded = newestFirst.some(({ ended }) => ended.kind !== "running");
    put(
      content,
      hasEnded ? undefined : el("p", {}, words.none),
      newestFirst.length === 0 ? undefined : tableOf(newestFirst),
      newestFirst.length === 0 ? undefined : csvLink(newestFirst),
      hasEnded ? served(told) : undefined,
    );
  }

  function tableOf(charges: readonly ChargePicture[]): HTMLElement {
    const { columns } = words;
    const { fullDate, mass, weighed, percent, number } = formats();
    const ended = charges.filter(({ ended: { kind } }) => kind !== "running");
    const scales = {
      yield: scaleOf(ended.map(({ yield_ratio }) => yield_ratio)),
      leak: scaleOf(charges.flatMap(({ leak_gPerDay }) => leak_gPerDay ?? [])),
    };
    const hasCost = charges.some(({ cost }) => cost?.perDay !== undefined);
    const names = Object.entries(columns).filter(([key]) => key !== "cost" || hasCost);
    const ranged = (
      amount: Whisked | undefined,
      write: (value: number) => string,
      scale?: { readonly low: number; readonly high: number },
    ): readonly Child[] =>
      amount === undefined
        ? [texts.unknown]
        : [
            el("strong", {}, write(amount.value)),
            amount.low === undefined || amount.high === undefined
              ? undefined
              : el("span", { class: "range" }, words.range(write(amount.low), write(amount.high))),
            scale === undefined ? undefined : whisker(amount, scale),
          ];
    const cell = (name: string, ...children: readonly (Child | readonly Child[])[]): HTMLElement =>
      el("td", { role: "cell", "data-name": name }, ...children);
    return el(
      "table",
      { class: "charges", role: "table" },
      el("caption", { class: "aside" }, words.caption),
      el(
        "thead",
        { role: "rowgroup" },
        el(
          "tr",
          { role: "row" },
          names.map(([, name]) => el("th", { scope: "col", role: "columnheader" }, name)),
          el("th", { scope: "col", role: "columnheader" }, words.reportShort),
        ),
      ),
      el(
        "tbody",
        { role: "rowgroup" },
        charges.map((charge) =>
          el(
            "tr",
            { role: "row" },
            el(
              "th",
              { scope: "row", role: "rowheader" },
              fullDate(charge.closed_epochMs),
              el("span", { class: "range" }, `${charge.vesselId}, ${words.with[charge.closedWith]}`),
            ),
            cell(
              columns.weighed,
              `${weighed(charge.sodiumBicarbonate_g)}, ${weighed(charge.acid.mass_g)}`,
              charge.planned === undefined
                ? undefined
                : el(
                    "span",
                    { class: "range" },
                    words.planned(
                      weighed(charge.planned.sodiumBicarbonate_g),
                      weighed(charge.planned.citricAcid_g),
                    ),
                  ),
            ),
            cell(columns.delivered, ranged(charge.delivered_g, mass)),
            cell(
              columns.yield,
              ranged(charge.yield_ratio, percent, charge.ended.kind === "running" ? undefined : scales.yield),
            ),
            cell(
              columns.leak,
              ranged(charge.leak_gPerDay, (value) => mass(value, 2), scales.leak),
            ),
            cell(
              columns.ready,
              charge.actualReady_h === undefined
                ? texts.unknown
                : words.hours(number(charge.actualReady_h, 1)),
            ),
            cell(columns.days, number(charge.dosing_days)),
            hasCost
              ? cell(
                  columns.cost,
                  charge.cost?.perDay === undefined
                    ? texts.unknown
                    : `${number(charge.cost.perDay, 2)} ${charge.cost.currency}`,
                )
              : undefined,
            cell(columns.ended, words.ends[charge.ended.kind]),
            cell(
              words.reportShort,
              button(words.reportShort, () => showReport(charge), {
                "aria-label": words.report(charge.chargeId),
              }),
            ),
          ),
        ),
      ),
    );
  }

  function showReport(charge: ChargePicture): void {
    put(
      place,
      chargeReport(charge, context, () => {
        put(place);
        content
          .querySelector<HTMLElement>(`[aria-label="${CSS.escape(words.report(charge.chargeId))}"]`)
          ?.focus();
      }),
    );
    place.querySelector("h2")?.focus();
  }

  function csvLink(charges: readonly ChargePicture[]): HTMLElement {
    return el(
      "p",
      {},
      button(words.csv, () => {
        const name = words.csvName(site);
        const address = URL.createObjectURL(new Blob([chargesCsv(charges)], { type: "text/csv" }));
        el("a", { href: address, download: name }).click();
        setTimeout(() => URL.revokeObjectURL(address), 10_000);
        announce(name);
      }),
    );
  }

  function served({ comparisons, sentences }: ChargesPicture): readonly Child[] {
    const { number, percent } = formats();
    const writes: Readonly<Record<ChargeMeasure, (value: number, currency: string) => string>> = {
      yield: (value) => percent(value),
      costPerGram: (value, currency) => `${number(100 * value, 2)} ${currency}`.trimEnd(),
      readyTime: (value) => words.hours(number(value, 1)),
    };
    return [
      el("h3", {}, words.served),
      el(
        "div",
        { class: "served" },
        comparisons.map(({ measure, by, groups, best, currency = "", contrasts }) => {
          const scale = scaleOf(groups.map(({ mean: value, low, high }) => ({ value, low, high })));
          const write = (value: number): string => writes[measure](value, currency);
          return el(
            "section",
            { "aria-label": `${words.measures[measure]} ${words.by[by]}` },
            el("h4", {}, `${words.measures[measure]} ${words.by[by]}`),
            groups.length === 0
              ? el("p", {}, words.none2)
              : el(
                  "ul",
                  { class: "plain" },
                  groups.map(({ name, charges, mean: value, low, high }) =>
                    el(
                      "li",
                      {},
                      `${name}: `,
                      el("strong", {}, write(value)),
                      low === undefined || high === undefined
                        ? undefined
                        : ` (${words.range(write(low), write(high))})`,
                      `, ${words.count(charges)}`,
                      whisker({ value, low, high }, scale),
                    ),
                  ),
                ),
            best !== undefined
              ? el("p", { class: "strong" }, words.best(best))
              : contrasts.length > 0
                ? el("p", {}, words.notTold)
                : undefined,
          );
        }),
      ),
      el(
        "details",
        {},
        el("summary", {}, words.sentences),
        el(
          "ul",
          { class: "cautions" },
          sentences.map((sentence) => el("li", {}, sentence)),
        ),
      ),
    ];
  }
}
