import type { NightPicture, Series, SitePicture, TankHistory, TankPicture } from "../page-contract.js";
import { alignedColumns, type Column } from "./aligned-columns.js";
import { createTimeChart, type ChartContent, type TimeChart } from "./chart.js";
import { button, el, put } from "./dom.js";
import type { PageContext } from "./view.js";

const day_ms = 86_400_000;
const spans_days = [1, 7, 30];
/** A table that somebody hears read out must come to an end. */
const mostRows = 24;
/** The time line moves on by itself so often. */
const readAgain_ms = 300_000;

export interface TankCharts {
  readonly element: HTMLElement;
  readonly update: (site: SitePicture) => void;
  readonly end: () => void;
}

/** CO2 with its range, pH and temperature over a day, a week or a month, shaded while the lights are on. */
export function tankCharts(tankId: string, context: PageContext): TankCharts {
  const { texts, formats } = context;
  const words = texts.tank;
  let span_days = 1;
  let tank: TankPicture | undefined;
  let now_epochMs = 0;
  let asked_epochMs = Number.NEGATIVE_INFINITY;
  let history: TankHistory | undefined;
  let units = "";
  let hasEnded = false;
  const note = el("p", { class: "quiet", role: "status" });
  const table = el("div", { class: "table" });
  const nights = el("div", { class: "table" });
  const places = { co2: el("div"), nights: el("div"), pH: el("div"), temperature: el("div") };
  const nightsHeading = el("h3", {}, words.nightsChart);
  const nightsNote = el("p", { class: "quiet" });
  const choices = spans_days.map((days) =>
    button(words.days(days), () => {
      span_days = days;
      mark();
      void load();
    }),
  );
  const element = el(
    "section",
    { class: "card", "aria-label": words.course },
    el("h2", {}, words.course),
    el("div", { class: "actions", role: "group", "aria-label": words.spanOf }, choices),
    note,
    el("h3", {}, words.co2Chart),
    places.co2,
    nightsHeading,
    places.nights,
    nightsNote,
    el("h3", {}, texts.tank.pH),
    places.pH,
    el("h3", {}, texts.tank.temperature),
    places.temperature,
    el("p", { class: "quiet" }, words.shadedByLight),
    el("details", {}, el("summary", {}, words.asTable), table),
    el("details", {}, el("summary", {}, words.nightsHeading), nights),
  );
  const summaries = new Map<string, string>();
  const charts = new Map<keyof typeof places, TimeChart>();
  mark();

  return {
    element,
    update(site) {
      tank = site.tanks.find((one) => one.tankId === tankId);
      now_epochMs = site.now_epochMs;
      if (now_epochMs - asked_epochMs > readAgain_ms) void load();
      else if (units !== formats().temperatureUnit) show();
    },
    end() {
      hasEnded = true;
      charts.forEach((chart) => chart.end());
    },
  };

  function mark(): void {
    choices.forEach((choice, index) =>
      choice.setAttribute("aria-pressed", String(spans_days[index] === span_days)),
    );
  }

  async function load(): Promise<void> {
    asked_epochMs = now_epochMs;
    const wanted_days = span_days;
    const from = Math.round(now_epochMs - wanted_days * day_ms);
    try {
      const told = await context.ask<TankHistory>(
        `/api/tanks/${encodeURIComponent(tankId)}/history?from=${from}&to=${Math.round(now_epochMs)}`,
      );
      // Another span was asked for meanwhile.
      if (wanted_days !== span_days) return;
      history = told;
      put(note);
      show();
    } catch (error) {
      put(note, texts.failed(error instanceof Error ? error.message : String(error)));
    }
  }

  function show(): void {
    if (history === undefined || hasEnded) return;
    const { co2, pH, temperature_degC, lights } = history;
    const { co2Figure, temperatureIn, temperatureUnit, number } = formats();
    if (units !== temperatureUnit) {
      charts.get("temperature")?.end();
      charts.delete("temperature");
      put(places.temperature);
    }
    units = temperatureUnit;
    const shaded = lights.map(({ opens_epochMs, closes_epochMs }) => ({
      from_epochMs: opens_epochMs,
      until_epochMs: closes_epochMs,
    }));
    const limits = tank?.limits;
    draw("co2", words.co2Chart, "mg/L", co2Figure, {
      at_epochMs: co2.at_epochMs,
      lines: [
        {
          label: words.co2Chart,
          values: co2.co2_mgPerL,
          colour: "--series-1",
          band: { low: co2.co2Low80_mgPerL, high: co2.co2High80_mgPerL },
        },
      ],
      shaded,
      ...(limits === undefined ? {} : limitsIn(limits, context)),
    });
    drawNights(history);
    draw(
      "pH",
      texts.tank.pH,
      "",
      (value) => number(value, 2),
      seriesContent(pH, texts.tank.pH, "--series-2", shaded),
    );
    draw(
      "temperature",
      texts.tank.temperature,
      temperatureUnit,
      (value) => number(value, 1),
      seriesContent(temperature_degC, texts.tank.temperature, "--series-3", shaded, temperatureIn),
    );
    put(table, tableOf(history, context));
    put(nights, nightsOf(history, context));
  }

  function drawNights(told: TankHistory): void {
    const isDrawn = told.nights.some(({ measured }) => measured.length > 0);
    places.nights.hidden = !isDrawn;
    nightsHeading.hidden = told.nights.length === 0;
    put(nightsNote, told.nights.length === 0 ? undefined : isDrawn ? words.nightsExplained : words.noFall);
    if (isDrawn) draw("nights", words.nightsChart, "mg/L", formats().co2Figure, nightsIn(told, context));
  }

  function draw(
    name: keyof typeof places,
    label: string,
    unit: string,
    number: (value: number) => string,
    content: ChartContent,
  ): void {
    const chart =
      charts.get(name) ??
      createTimeChart(places[name], {
        name: words.chartOf(label, tankId),
        summary: () => summaries.get(name) ?? "",
        unit,
        height: name === "co2" ? 260 : 200,
        formats,
        number,
      });
    charts.set(name, chart);
    const values = (content.lines[0]?.values ?? []).filter((value) => typeof value === "number");
    const range =
      values.length === 0
        ? texts.unknown
        : words.between(number(Math.min(...values)), number(Math.max(...values)), unit);
    const more = (content.levels ?? []).map(({ label }) => label);
    summaries.set(
      name,
      [range, ...(content.wanted === undefined ? [] : [content.wanted.label]), ...more].join(", "),
    );
    chart.update(content);
  }
}

/** The wanted band, and where gas is shut; both in view however low the CO2 is, so that the distance is seen. */
function limitsIn(
  { co2TargetLow_mgPerL: low, co2TargetHigh_mgPerL: high, co2Close_mgPerL }: TankPicture["limits"],
  { texts, formats }: PageContext,
): Pick<ChartContent, "wanted" | "levels" | "inView"> {
  const words = texts.tank;
  const { co2, co2Figure } = formats();
  return {
    wanted: { low, high, label: words.wantedBand(co2Figure(low), co2(high)) },
    levels: [{ value: co2Close_mgPerL, label: words.shutAt(co2(co2Close_mgPerL)) }],
    inView: [0, low, high, co2Close_mgPerL],
  };
}

/** Rates beside more nights than this would stand on each other. */
const mostRates = 7;

/** What was measured in each night as points, and the fall that was fitted to it as a line, by pH and hardness alone. */
function nightsIn(told: TankHistory, { texts, formats }: PageContext): ChartContent {
  const words = texts.tank;
  const { number } = formats();
  const { nights } = told;
  const column = (points: NightPicture["curve"]): Column => ({
    at_epochMs: points.map(({ at_epochMs }) => at_epochMs),
    values: points.map(({ co2_mgPerL }) => co2_mgPerL),
  });
  const { at_epochMs, columns } = alignedColumns([
    column(nights.flatMap(({ measured }) => measured)),
    ...nights.map(({ curve }) => column(curve)),
  ]);
  const [measured = [], ...fits] = columns;
  return {
    at_epochMs,
    lines: [
      { label: words.measured, values: measured, colour: "--series-1", points: true, isJoined: false },
      ...fits.map((values) => ({ label: words.fitted, values, colour: "--series-2" })),
    ],
    events: nights.map(({ from_epochMs, fit }) => ({
      from_epochMs,
      ...(fit.kind === "fitted" && nights.length <= mostRates
        ? { label: words.perHour(number(fit.k_perH, 2)) }
        : {}),
    })),
    inView: [0],
  };
}

function seriesContent(
  { at_epochMs, mean, minimum, maximum }: Series,
  label: string,
  colour: string,
  shaded: ChartContent["shaded"] & {},
  written: (value: number) => number = (value) => value,
): ChartContent {
  return {
    at_epochMs,
    lines: [
      {
        label,
        values: mean.map(written),
        colour,
        band: { low: minimum.map(written), high: maximum.map(written) },
      },
    ],
    shaded,
  };
}

function tableOf({ co2 }: TankHistory, { texts, formats }: PageContext): HTMLElement {
  const words = texts.tank;
  const { dateAndTime, co2Figure } = formats();
  const each = Math.max(1, Math.ceil(co2.at_epochMs.length / mostRows));
  const places = co2.at_epochMs.map((_at, index) => index).filter((index) => index % each === 0);
  return tableWith(
    words.tableCaption,
    [words.when, words.co2Chart, words.rangeColumn],
    places.map((index) => [
      dateAndTime(co2.at_epochMs[index] ?? 0),
      co2Figure(co2.co2_mgPerL[index] ?? Number.NaN),
      words.fromTo(
        co2Figure(co2.co2Low80_mgPerL[index] ?? Number.NaN),
        co2Figure(co2.co2High80_mgPerL[index] ?? Number.NaN),
      ),
    ]),
  );
}

/** Each night's fall as it was fitted, or why it teaches nothing. */
function nightsOf({ nights }: TankHistory, { texts, formats }: PageContext): HTMLElement {
  const words = texts.tank;
  if (nights.length === 0) return el("p", {}, words.noNights);
  const { date, number } = formats();
  return tableWith(
    words.nightsHeading,
    [words.nightOf, words.rateColumn, words.rangeColumn],
    [...nights].reverse().map(({ from_epochMs, fit }) => {
      if (fit.kind === "fitted") {
        return [
          date(from_epochMs),
          words.perHour(number(fit.k_perH, 2)),
          words.fromTo(number(fit.kLow80_perH, 2), number(fit.kHigh80_perH, 2)),
        ];
      }
      if (fit.kind === "bounded") {
        return [date(from_epochMs), words.atMostPerHour(number(fit.kAtMost_perH, 2)), fit.because];
      }
      return [date(from_epochMs), words.teachesNothing, fit.because];
    }),
  );
}

function tableWith(
  caption: string,
  heads: readonly string[],
  rows: readonly (readonly string[])[],
): HTMLElement {
  return el(
    "table",
    {},
    el("caption", { class: "unseen" }, caption),
    el(
      "thead",
      {},
      el(
        "tr",
        {},
        heads.map((head) => el("th", { scope: "col" }, head)),
      ),
    ),
    el(
      "tbody",
      {},
      rows.map(([first = "", ...others]) =>
        el(
          "tr",
          {},
          el("th", { scope: "row" }, first),
          others.map((cell) => el("td", {}, cell)),
        ),
      ),
    ),
  );
}
