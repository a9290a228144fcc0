import type { SitePicture, VesselHistory, VesselPicture } from "../page-contract.js";
import { alignedColumns } from "./aligned-columns.js";
import { createTimeChart, type ChartContent, type TimeChart } from "./chart.js";
import { button, el, put } from "./dom.js";
import type { Mount, PageContext } from "./view.js";

const chartHeight = 280;

/** The charge in each vessel, and those before it. */
export const mountCharge: Mount = (root, context) => {
  const sections = new Map<string, VesselSection>();
  const empty = el("p", {}, context.texts.charge.noVessel);
  root.append(empty);
  return {
    update({ vessels }: SitePicture) {
      empty.hidden = vessels.length > 0;
      for (const vessel of vessels) {
        const section = sections.get(vessel.vesselId) ?? vesselSection(root, vessel.vesselId, context);
        sections.set(vessel.vesselId, section);
        section.update(vessel);
      }
    },
    end: () => sections.forEach((section) => section.end()),
  };
};

interface VesselSection {
  readonly update: (vessel: VesselPicture) => void;
  readonly end: () => void;
}

function vesselSection(root: HTMLElement, vesselId: string, context: PageContext): VesselSection {
  const { texts, formats } = context;
  const words = texts.charge;
  const facts = el("div");
  const place = el("div");
  const note = el("p");
  let summary = "";
  let history: VesselHistory | undefined;
  const chart: TimeChart = createTimeChart(place, {
    name: words.chart(vesselId),
    summary: () => summary,
    unit: formats().pressureUnit,
    height: chartHeight,
    formats,
    number: (value) => formats().number(value, 1),
  });
  root.append(
    el(
      "section",
      { class: "card", "aria-label": vesselId },
      el("h2", {}, vesselId),
      facts,
      place,
      note,
      button(words.readAgain, () => void load()),
    ),
  );
  void load();
  return {
    update({ supply, pressureGauge_bar }) {
      const phase = supply?.told?.estimate.phase;
      const { pressure } = formats();
      put(
        facts,
        el(
          "p",
          {},
          `${words.pressure}: ${pressureGauge_bar === undefined ? texts.unknown : pressure(pressureGauge_bar.value)}`,
        ),
        el("p", {}, `${words.phase}: ${phase === undefined ? texts.unknown : words.phases[phase]}`),
      );
      if (history !== undefined) show(history);
    },
    end: () => chart.end(),
  };

  async function load(): Promise<void> {
    try {
      history = await context.ask<VesselHistory>(`/api/vessels/${vesselId}/history`);
      show(history);
    } catch (error) {
      put(note, texts.failed(error instanceof Error ? error.message : String(error)));
    }
  }

  function show(told: VesselHistory): void {
    const { pressure, pressureIn } = formats();
    const last_bar = told.pressureGauge_bar.mean.at(-1);
    summary = last_bar === undefined ? texts.unknown : pressure(last_bar);
    chart.update(contentOf(told, pressureIn, words));
    put(
      note,
      told.corrected === undefined
        ? ""
        : words.correctedTo(formats().temperature(told.corrected.reference_degC)),
    );
  }
}

function contentOf(
  { pressureGauge_bar, corrected, fan = [], windows, events }: VesselHistory,
  pressureIn: (gauge_bar: number) => number,
  words: PageContext["texts"]["charge"],
): ChartContent {
  const fanAt = fan.map(({ at_epochMs }) => at_epochMs);
  const { at_epochMs, columns } = alignedColumns([
    { at_epochMs: pressureGauge_bar.at_epochMs, values: pressureGauge_bar.mean.map(pressureIn) },
    { at_epochMs: corrected?.at_epochMs ?? [], values: (corrected?.gauge_bar ?? []).map(pressureIn) },
    { at_epochMs: fanAt, values: fan.map(({ median_bar }) => pressureIn(median_bar)) },
    { at_epochMs: fanAt, values: fan.map(({ low80_bar }) => pressureIn(low80_bar)) },
    { at_epochMs: fanAt, values: fan.map(({ high80_bar }) => pressureIn(high80_bar)) },
  ]);
  const column = (index: number): readonly (number | null)[] => columns[index] ?? [];
  return {
    at_epochMs,
    lines: [
      { label: words.raw, values: column(0), colour: "--quiet" },
      { label: words.corrected, values: column(1), colour: "--series-1" },
      {
        label: words.forecast,
        values: column(2),
        colour: "--series-2",
        dash: [6, 4],
        band: { low: column(3), high: column(4) },
      },
    ],
    shaded: windows.map(({ opens_epochMs, closes_epochMs }) => ({
      from_epochMs: opens_epochMs,
      until_epochMs: closes_epochMs,
    })),
    events: events.map((event) => ({ from_epochMs: event.at_epochMs, label: event.what })),
  };
}
