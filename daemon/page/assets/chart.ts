import uPlot from "uplot";
import { el } from "./dom.js";
import type { Formats } from "./formats.js";

/** A line, or the middle of a band. All columns of a chart share its instants; undefined where it says nothing, null where the line breaks. */
export interface ChartLine {
  readonly label: string;
  readonly values: readonly (number | null | undefined)[];
  /** A token of the style sheet, as `--series-1`. */
  readonly colour: string;
  /** Told apart without colour too. */
  readonly dash?: readonly number[];
  /** Shaded between two columns. */
  readonly band?: {
    readonly low: readonly (number | null | undefined)[];
    readonly high: readonly (number | null | undefined)[];
  };
  /** Each value as a point of its own. */
  readonly points?: boolean;
  /** Left out: a line joins the values. */
  readonly isJoined?: false;
}

/** A place on the time line: a span is shaded, an instant is a dashed line with its text. */
export interface ChartMark {
  readonly from_epochMs: number;
  readonly until_epochMs?: number;
  readonly label?: string;
}

export interface ChartContent {
  readonly at_epochMs: readonly number[];
  readonly lines: readonly ChartLine[];
  readonly shaded?: readonly ChartMark[];
  readonly events?: readonly ChartMark[];
  /** Values that matter, as a limit. */
  readonly levels?: readonly { readonly value: number; readonly label: string }[];
  /** Where the values should lie: shaded between two dashed edges, with its text. */
  readonly wanted?: { readonly low: number; readonly high: number; readonly label: string };
  /** Values that stay in view whatever was measured. */
  readonly inView?: readonly number[];
}

export interface TimeChart {
  readonly update: (content: ChartContent) => void;
  readonly end: () => void;
}

/** Room for the numbers at the left, and less on a phone. */
const axisWidth = 52;

/**
 * A chart over the time of the site. A reader who does not see it gets its name and what `summary` says; the numbers themselves
 * belong into a table beside it.
 */
export function createTimeChart(
  parent: HTMLElement,
  options: {
    readonly name: string;
    readonly summary: () => string;
    readonly unit: string;
    readonly height: number;
    readonly formats: () => Formats;
    readonly number: (value: number) => string;
  },
): TimeChart {
  const figure = el("figure", { class: "chart", role: "img", "aria-label": options.name });
  parent.append(figure);
  let plot: uPlot | undefined;
  let content: ChartContent | undefined;
  let shape = "";
  const observer = new ResizeObserver(() =>
    plot?.setSize({ width: figure.clientWidth, height: options.height }),
  );
  observer.observe(figure);
  // Colours belong to the theme, which may change under an open chart.
  const themes = new MutationObserver(() => rebuild());
  themes.observe(document.documentElement, { attributeFilter: ["data-theme"] });

  return {
    update(next) {
      content = next;
      figure.setAttribute("aria-label", `${options.name}. ${options.summary()}`);
      const nextShape = JSON.stringify(
        next.lines.map(({ label, colour, dash, points, isJoined, band }) => [
          label,
          colour,
          dash,
          points,
          isJoined,
          band !== undefined,
        ]),
      );
      if (plot === undefined || nextShape !== shape) {
        shape = nextShape;
        rebuild();
      } else plot.setData(dataOf(next));
    },
    end() {
      observer.disconnect();
      themes.disconnect();
      plot?.destroy();
    },
  };

  function rebuild(): void {
    if (content === undefined) return;
    plot?.destroy();
    figure.replaceChildren();
    plot = new uPlot(optionsOf(content), dataOf(content), figure);
  }

  function optionsOf({ lines }: ChartContent): uPlot.Options {
    const ink = token("--quiet");
    const grid = { stroke: token("--line"), width: 1 };
    const series: uPlot.Series[] = [
      {
        label: "",
        value: (_plot, at_s) => (Number.isFinite(at_s) ? options.formats().dateAndTime(at_s * 1000) : ""),
      },
    ];
    const bands: uPlot.Band[] = [];
    for (const { label, colour, dash, band, points, isJoined } of lines) {
      const stroke = token(colour);
      series.push({
        label,
        stroke,
        width: 2,
        ...(dash === undefined ? {} : { dash: [...dash] }),
        points: { show: points === true, ...(isJoined === false ? { size: 5, fill: stroke } : {}) },
        ...(isJoined === false ? { paths: () => null } : {}),
        spanGaps: false,
        value: (_plot, value: number | null) =>
          value === null ? "" : `${options.number(value)} ${options.unit}`,
      });
      if (band === undefined) continue;
      const edge: uPlot.Series = { stroke, width: 0.5, points: { show: false }, value: () => "" };
      series.push({ ...edge, label: "" }, { ...edge, label: "" });
      bands.push({ series: [series.length - 1, series.length - 2], fill: `${stroke}33` });
    }
    return {
      width: figure.clientWidth,
      height: options.height,
      series,
      bands,
      legend: { show: false },
      cursor: { drag: { x: false, y: false } },
      scales: { y: { range: yRange } },
      axes: [
        {
          stroke: ink,
          grid,
          ticks: grid,
          values: (_plot, splits_s) => {
            const days = (splits_s.at(-1) ?? 0) - (splits_s[0] ?? 0) > 86_400;
            return splits_s.map((at_s, k) =>
              days
                ? options.formats().date(at_s * 1000)
                : options.formats().time(at_s * 1000, (splits_s[k - 1] ?? 0) * 1000),
            );
          },
          space: 90,
          size: 36,
        },
        {
          stroke: ink,
          grid,
          ticks: grid,
          size: axisWidth,
          values: (_plot, splits) => splits.map(options.number),
        },
      ],
      hooks: { drawClear: [drawBehind], draw: [drawAbove] },
    };
  }

  function yRange(_plot: uPlot, low: number | null, high: number | null): uPlot.Range.MinMax {
    const inView = [low, high, ...(content?.inView ?? [])].filter((value) => typeof value === "number");
    if (inView.length === 0) return [0, 1];
    const [least, most] = uPlot.rangeNum(Math.min(...inView), Math.max(...inView), 0.1, true);
    return [least, most];
  }

  function drawBehind(drawn: uPlot): void {
    const { ctx, bbox } = drawn;
    ctx.save();
    ctx.fillStyle = token("--shade");
    for (const { from_epochMs, until_epochMs = from_epochMs } of content?.shaded ?? []) {
      const left = clampedX(drawn, from_epochMs);
      ctx.fillRect(left, bbox.top, clampedX(drawn, until_epochMs) - left, bbox.height);
    }
    const { wanted } = content ?? {};
    if (wanted !== undefined) {
      const high = clampedY(drawn, wanted.high);
      ctx.fillStyle = `${token("--good")}30`;
      ctx.fillRect(bbox.left, high, bbox.width, clampedY(drawn, wanted.low) - high);
    }
    ctx.restore();
  }

  function drawAbove(drawn: uPlot): void {
    const { ctx, bbox } = drawn;
    const ratio = devicePixelRatio;
    ctx.save();
    ctx.strokeStyle = token("--quiet");
    ctx.fillStyle = token("--ink");
    ctx.font = `${12 * ratio}px system-ui, sans-serif`;
    ctx.textAlign = "left";
    ctx.textBaseline = "alphabetic";
    ctx.lineWidth = ratio;
    ctx.setLineDash([3 * ratio, 3 * ratio]);
    for (const { from_epochMs, label } of content?.events ?? []) {
      const x = drawn.valToPos(from_epochMs / 1000, "x", true);
      if (x < bbox.left || x > bbox.left + bbox.width) continue;
      line(ctx, x, bbox.top, x, bbox.top + bbox.height);
      if (label !== undefined) write(ctx, label, x + 3 * ratio, bbox.top + 12 * ratio);
    }
    const { wanted } = content ?? {};
    if (wanted !== undefined) {
      const low = clampedY(drawn, wanted.low);
      const high = clampedY(drawn, wanted.high);
      for (const y of [low, high]) line(ctx, bbox.left, y, bbox.left + bbox.width, y);
      write(ctx, wanted.label, bbox.left + 3 * ratio, Math.min(low - 4 * ratio, high + 14 * ratio));
    }
    ctx.setLineDash([]);
    for (const { value, label } of content?.levels ?? []) {
      const y = drawn.valToPos(value, "y", true);
      if (y < bbox.top || y > bbox.top + bbox.height) continue;
      line(ctx, bbox.left, y, bbox.left + bbox.width, y);
      write(ctx, label, bbox.left + 3 * ratio, y - 4 * ratio);
    }
    ctx.restore();
  }

  function clampedY(drawn: uPlot, value: number): number {
    const { bbox } = drawn;
    const y = drawn.valToPos(value, "y", true);
    return Math.min(bbox.top + bbox.height, Math.max(bbox.top, y));
  }

  function clampedX(drawn: uPlot, at_epochMs: number): number {
    const { bbox } = drawn;
    const x = drawn.valToPos(at_epochMs / 1000, "x", true);
    return Math.min(bbox.left + bbox.width, Math.max(bbox.left, x));
  }
}

/** Legible over whatever was drawn there. */
function write(ctx: CanvasRenderingContext2D, text: string, x: number, y: number): void {
  ctx.save();
  ctx.setLineDash([]);
  ctx.lineJoin = "round";
  ctx.lineWidth = 4 * devicePixelRatio;
  ctx.strokeStyle = token("--raised");
  ctx.strokeText(text, x, y);
  ctx.fillText(text, x, y);
  ctx.restore();
}

function line(ctx: CanvasRenderingContext2D, x: number, y: number, toX: number, toY: number): void {
  ctx.beginPath();
  ctx.moveTo(x, y);
  ctx.lineTo(toX, toY);
  ctx.stroke();
}

function dataOf({ at_epochMs, lines }: ChartContent): uPlot.AlignedData {
  const columns = lines.flatMap(({ values, band }) =>
    band === undefined ? [values] : [values, band.low, band.high],
  );
  return [at_epochMs.map((at) => at / 1000), ...columns.map((column) => [...column])];
}

function token(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}
