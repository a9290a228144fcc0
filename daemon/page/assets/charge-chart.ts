import type { Said } from "../../../lib/told/said.js";
import type { JournalPicture, VesselHistory, VesselPicture } from "../page-contract.js";
import { alignedColumns } from "./aligned-columns.js";
import { createTimeChart, type ChartContent } from "./chart.js";
import { el, put } from "./dom.js";
import { choiceField } from "./fields.js";
import type { Formats } from "./formats.js";
import { writtenSaid } from "./said.js";
import { svg } from "./svg.js";
import type { PageContext } from "./view.js";

type Span = "charge" | "week" | "days";
const chartHeight = 300;
const readEvery_ms = 60_000;
const day_ms = 86_400_000;
const spans_days: Readonly<Record<Exclude<Span, "charge">, number>> = { week: 7, days: 2 };
/** More numbers than this cannot be told apart in a chart. */
const mostMarks = 20;
const mostRows = 24;

/** Something that happened, for the list and the chart. */
interface Happened {
  readonly at_epochMs: number;
  readonly said: Said;
}

export interface ChargeChart {
  readonly element: HTMLElement;
  readonly update: (vessel: VesselPicture, now_epochMs: number) => void;
  readonly end: () => void;
}

/** The pressure over time, where it goes, and what happened to it, as a picture and as lists. */
export function chargeChart(context: PageContext, vesselId: string): ChargeChart {
  const { texts, formats, ask } = context;
  const words = texts.charge.chart;
  const place = el("div", { class: "chart-place" }, el("p", { class: "aside" }, words.loading));
  const legend = el("ul", { class: "legend" });
  const note = el("p", { class: "aside" });
  const list = el("div");
  const table = el("div");
  let span: Span = "charge";
  let history: VesselHistory | undefined;
  let happened: readonly Happened[] = [];
  let vessel: VesselPicture | undefined;
  let now_epochMs = 0;
  let summary = "";
  let shown = "";
  let chart = makeChart();
  const timer = setInterval(() => {
    if (document.visibilityState === "visible") void load();
  }, readEvery_ms);

  return {
    element: el(
      "section",
      { class: "card", "aria-label": words.heading },
      el("h2", {}, words.heading),
      choiceField(
        words.span,
        [
          ["charge", words.spans.charge],
          ["week", words.spans.week],
          ["days", words.spans.days],
        ],
        span,
        (chosen) => {
          span = chosen;
          void load();
        },
      ),
      place,
      legend,
      note,
      el(
        "details",
        { open: true },
        el("summary", {}, words.events),
        el("p", { class: "aside" }, words.eventsHint),
        list,
      ),
      el("details", {}, el("summary", {}, words.table), table),
    ),
    update(picture, site_epochMs) {
      const isFirst = vessel === undefined;
      vessel = picture;
      now_epochMs = site_epochMs;
      if (isFirst) void load();
      show();
    },
    end() {
      clearInterval(timer);
      chart.chart.end();
    },
  };

  /** A chart is of one unit. */
  function makeChart(): {
    readonly unit: Formats["pressureUnit"];
    readonly chart: ReturnType<typeof createTimeChart>;
  } {
    const unit = formats().pressureUnit;
    return {
      unit,
      chart: createTimeChart(place, {
        name: words.name(vesselId),
        summary: () => summary,
        unit,
        height: chartHeight,
        formats,
        number: (value) => formats().number(value, unit === "psi" ? 0 : 1),
      }),
    };
  }

  async function load(): Promise<void> {
    const wished = span;
    const query =
      span === "charge" ? "" : `?from=${Math.max(0, Math.round(now_epochMs - spans_days[span] * day_ms))}`;
    try {
      const [told, journal] = await Promise.all([
        ask<VesselHistory>(`/api/vessels/${vesselId}/history${query}`),
        ask<JournalPicture>("/api/journal?newest=300"),
      ]);
      if (wished !== span) return;
      history = told;
      happened = happenedIn(told, journal, vesselId, words.closed, vessel);
      shown = "";
      show();
    } catch (error) {
      put(note, texts.failed(error instanceof Error ? error.message : String(error)));
    }
  }

  function show(): void {
    if (history === undefined) return;
    const { pressureUnit, dateAndTime, temperatureUnit } = formats();
    const essence = JSON.stringify([pressureUnit, temperatureUnit, dateAndTime(history.until_epochMs)]);
    if (essence === shown) return;
    shown = essence;
    if (chart.unit !== pressureUnit) {
      chart.chart.end();
      put(place);
      chart = makeChart();
    }
    summary = summaryOf(history);
    const isEmpty = history.pressureGauge_bar.at_epochMs.length + history.readByEye.length === 0;
    place.hidden = isEmpty;
    place.querySelector(":scope > p")?.remove();
    if (!isEmpty) chart.chart.update(contentOf(history));
    put(note, isEmpty ? words.nothing : "");
    put(legend, legendOf(history));
    put(list, listOf());
    put(table, tableOf(history));
  }

  function summaryOf({ pressureGauge_bar, readByEye }: VesselHistory): string {
    const last_bar = pressureGauge_bar.mean.at(-1) ?? readByEye.at(-1)?.pressureGauge_bar;
    const runOut = vessel?.runOut;
    if (last_bar === undefined) return words.nothing;
    return words.summary(
      formats().pressure(last_bar),
      runOut === undefined ? undefined : formats().date(runOut.median_epochMs),
    );
  }

  function contentOf(told: VesselHistory): ChartContent {
    const { pressureGauge_bar, corrected, fan = [], readByEye, windows } = told;
    const { pressureIn, pressure } = formats();
    const fanAt = fan.map(({ at_epochMs }) => at_epochMs);
    const { at_epochMs, columns } = alignedColumns(
      [
        { at_epochMs: pressureGauge_bar.at_epochMs, bars: pressureGauge_bar.mean },
        { at_epochMs: corrected?.at_epochMs ?? [], bars: corrected?.gauge_bar ?? [] },
        {
          at_epochMs: readByEye.map((read) => read.at_epochMs),
          bars: readByEye.map((read) => read.pressureGauge_bar),
        },
        { at_epochMs: fanAt, bars: fan.map(({ median_bar }) => median_bar) },
        { at_epochMs: fanAt, bars: fan.map(({ low80_bar }) => low80_bar) },
        { at_epochMs: fanAt, bars: fan.map(({ high80_bar }) => high80_bar) },
        { at_epochMs: fanAt, bars: fan.map(({ low95_bar }) => low95_bar) },
        { at_epochMs: fanAt, bars: fan.map(({ high95_bar }) => high95_bar) },
      ].map(({ at_epochMs: at, bars }) => ({ at_epochMs: at, values: bars.map(pressureIn) })),
    );
    const column = (index: number): readonly (number | undefined)[] => columns[index] ?? [];
    const forecast = { values: column(3), colour: "--series-2", dash: [6, 4] } as const;
    const working_bar = vessel?.workingPressureGauge_bar;
    return {
      at_epochMs,
      lines: [
        { label: words.raw, values: column(0), colour: "--quiet", dash: [2, 2] },
        { label: words.corrected(""), values: column(1), colour: "--series-1" },
        { label: words.byEye, values: column(2), colour: "--ink", points: true },
        ...(fan.length === 0
          ? []
          : [
              { ...forecast, label: words.fan95, band: { low: column(6), high: column(7) } },
              { ...forecast, label: words.fan80, band: { low: column(4), high: column(5) } },
            ]),
      ],
      shaded: windows.map(({ opens_epochMs, closes_epochMs }) => ({
        from_epochMs: opens_epochMs,
        until_epochMs: closes_epochMs,
      })),
      events: happened
        .slice(-mostMarks)
        .map(({ at_epochMs: from_epochMs }, k) => ({ from_epochMs, label: String(firstMark() + k) })),
      ...(working_bar === undefined
        ? {}
        : { levels: [{ value: pressureIn(working_bar), label: words.working(pressure(working_bar)) }] }),
    };
  }

  function firstMark(): number {
    return Math.max(1, happened.length - mostMarks + 1);
  }

  function legendOf({ corrected, fan, readByEye, windows }: VesselHistory): readonly HTMLElement[] {
    const item = (name: string, text: string): HTMLElement =>
      el(
        "li",
        {},
        svg("svg", { class: `key key-${name}`, viewBox: "0 0 28 12", "aria-hidden": "true" }, ...keyOf(name)),
        text,
      );
    return [
      item("raw", words.raw),
      ...(corrected === undefined
        ? []
        : [item("corrected", words.corrected(formats().temperature(corrected.reference_degC)))]),
      ...(readByEye.length === 0 ? [] : [item("eye", words.byEye)]),
      ...(fan === undefined
        ? []
        : [item("forecast", words.forecast), item("fan80", words.fan80), item("fan95", words.fan95)]),
      ...(windows.length === 0 ? [] : [item("windows", words.windows)]),
    ];
  }

  function listOf(): HTMLElement {
    if (happened.length === 0) return el("p", {}, words.noEvents);
    const first = firstMark();
    const rows = happened
      .slice(-mostMarks)
      .map(({ at_epochMs, said }, k) => ({ number: first + k, at_epochMs, said }));
    return el(
      "ul",
      { class: "events" },
      rows
        .reverse()
        .map(({ number, at_epochMs, said }) =>
          el(
            "li",
            {},
            el("span", { class: "event-number" }, number),
            el(
              "span",
              {},
              el("span", { class: "aside" }, formats().dateAndTime(at_epochMs)),
              " ",
              writtenSaid(said, formats()),
            ),
          ),
        ),
    );
  }

  function tableOf({ pressureGauge_bar, corrected }: VesselHistory): HTMLElement {
    const step = Math.max(1, Math.ceil(pressureGauge_bar.at_epochMs.length / mostRows));
    const at = new Map(corrected?.at_epochMs.map((epochMs, k) => [epochMs, corrected.gauge_bar[k]]) ?? []);
    const { pressure, dateAndTime, temperature } = formats();
    const rows = pressureGauge_bar.at_epochMs
      .map((epochMs, k) => ({ epochMs, raw_bar: pressureGauge_bar.mean[k] }))
      .filter((_row, k) => k % step === 0)
      .reverse();
    return el(
      "table",
      { class: "figures" },
      el(
        "thead",
        {},
        el(
          "tr",
          {},
          [
            words.time,
            words.raw,
            ...(corrected === undefined ? [] : [words.corrected(temperature(corrected.reference_degC))]),
          ].map((name) => el("th", { scope: "col" }, name)),
        ),
      ),
      el(
        "tbody",
        {},
        rows.map(({ epochMs, raw_bar }) => {
          const corrected_bar = at.get(epochMs);
          return el(
            "tr",
            {},
            el("th", { scope: "row" }, dateAndTime(epochMs)),
            el("td", {}, raw_bar === undefined ? texts.unknown : pressure(raw_bar)),
            corrected === undefined
              ? undefined
              : el("td", {}, corrected_bar === undefined ? texts.unknown : pressure(corrected_bar)),
          );
        }),
      ),
    );
  }
}

/** What the daemon recorded and what people entered, oldest first. */
function happenedIn(
  { events, from_epochMs, until_epochMs }: VesselHistory,
  { entries }: JournalPicture,
  vesselId: string,
  closed: string,
  vessel: VesselPicture | undefined,
): readonly Happened[] {
  const closedAt_epochMs = vessel?.supply?.charge?.closedAt_epochMs;
  const entered = entries
    .filter(({ fact, withdrawn }) => !withdrawn && "vesselId" in fact && fact.vesselId === vesselId)
    .map(({ at_epochMs, said }) => ({ at_epochMs, said }));
  const isEntered = entries.some(
    ({ fact, at_epochMs }) => fact.kind === "charge closed" && at_epochMs === closedAt_epochMs,
  );
  return [
    ...(closedAt_epochMs === undefined || isEntered
      ? []
      : [{ at_epochMs: closedAt_epochMs, said: [closed] }]),
    ...entered,
    ...events.map(({ at_epochMs, area, what, reason, said }) => ({
      at_epochMs,
      said: said === undefined ? [`${area}: ${what}, ${reason}`] : [`${area}: `, ...said],
    })),
  ]
    .filter(({ at_epochMs }) => at_epochMs >= from_epochMs && at_epochMs <= until_epochMs)
    .sort((one, other) => one.at_epochMs - other.at_epochMs);
}

function keyOf(name: string): readonly SVGElement[] {
  const line = svg("line", { x1: 1, x2: 27, y1: 6, y2: 6 });
  if (name === "eye") return [svg("circle", { cx: 14, cy: 6, r: 3.5 })];
  if (name === "windows" || name.startsWith("fan"))
    return [svg("rect", { x: 1, y: 1, width: 26, height: 10 })];
  return [line];
}
