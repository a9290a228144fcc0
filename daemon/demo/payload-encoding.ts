import {
  absoluteFromGauge_bar,
  temperatureFromCelsius,
  pressureFromBar,
  type PressureUnit,
  type TemperatureUnit,
} from "../../lib/quantities/units.js";

/** What a simulated sensor must know of its configuration to speak as the daemon expects it. */
export type SpokenUnit =
  | {
      readonly measures: "pressure";
      readonly unit: PressureUnit;
      readonly reference: "gauge" | "absolute";
    }
  | { readonly measures: "temperature"; readonly unit: TemperatureUnit }
  | { readonly measures: "mass"; readonly unit: "g" | "kg" }
  | { readonly measures: "pH" | "co2InAir" | "bubbleRate" };

interface CalibrationPoint {
  readonly raw: number;
  readonly true: number;
}

export type SpokenCalibration =
  | { readonly kind: "linear"; readonly gain: number; readonly offset: number }
  | { readonly kind: "twoPoint"; readonly twoPoint: Readonly<Record<0 | 1, CalibrationPoint>> };

/** A selector that names no single place in a document that could be built from it. */
export class SelectorNotBuildableError extends Error {
  override readonly name = "SelectorNotBuildableError";

  constructor(readonly selector: string) {
    super(
      `a simulated device cannot build a payload for "${selector}"; a pointer as /a/b or a JSONPath of plain names and indices, as $.a.b[0], is needed`,
    );
  }
}

/** The canonical quantity (bar gauge, degC, g, ppm ...) in the unit in which the sensor speaks. */
export function inSpokenUnit(value: number, spoken: SpokenUnit): number {
  switch (spoken.measures) {
    case "pressure":
      return pressureFromBar(
        spoken.reference === "absolute" ? absoluteFromGauge_bar(value) : value,
        spoken.unit,
      );
    case "temperature":
      return temperatureFromCelsius(value, spoken.unit);
    case "mass":
      return spoken.unit === "kg" ? value / 1000 : value;
    case "pH":
    case "co2InAir":
    case "bubbleRate":
      return value;
  }
}

/** What a sensor shows that needs this calibration: the calibration turned round. */
export function uncalibrated(value: number, calibration: SpokenCalibration): number {
  if (calibration.kind === "linear") return (value - calibration.offset) / calibration.gain;
  const { 0: first, 1: second } = calibration.twoPoint;
  const rawPerTrue = (second.raw - first.raw) / (second.true - first.true);
  return first.raw + (value - first.true) * rawPerTrue;
}

type Step = string | number;

const pathStep = /\.([A-Za-z_\u0080-\uffff][\w\u0080-\uffff]*)|\[(\d+)\]|\['([^'\\]*)'\]|\["([^"\\]*)"\]/y;

/** @throws SelectorNotBuildableError for wildcards, filters, slices, descendants and escapes. */
function stepsOf(selector: string): readonly Step[] {
  if (selector.startsWith("/")) {
    return selector
      .slice(1)
      .split("/")
      .map((token) => token.replaceAll("~1", "/").replaceAll("~0", "~"));
  }
  if (!selector.startsWith("$")) throw new SelectorNotBuildableError(selector);
  const steps: Step[] = [];
  pathStep.lastIndex = 1;
  while (pathStep.lastIndex < selector.length) {
    const match = pathStep.exec(selector);
    if (match === null) throw new SelectorNotBuildableError(selector);
    const [, dotted, index, single, double] = match;
    steps.push(index === undefined ? (dotted ?? single ?? double ?? "") : Number(index));
  }
  return steps;
}

export interface PlacedValue {
  readonly selector: string;
  readonly value: number | string;
}

type Content = number | string | Map<Step, Content>;

function plain(content: Content): unknown {
  if (!(content instanceof Map)) return content;
  const keys = [...content.keys()];
  if (!keys.every((key) => typeof key === "number")) {
    return Object.fromEntries([...content].map(([key, inner]) => [String(key), plain(inner)]));
  }
  const length = Math.max(...keys) + 1;
  return Array.from({ length }, (_, index) => {
    const inner = content.get(index);
    return inner === undefined ? null : plain(inner);
  });
}

/**
 * The smallest JSON document in which each selector finds its value.
 * @throws SelectorNotBuildableError when a selector is not plain, or two of them contradict each other.
 */
export function documentOf(values: readonly PlacedValue[]): string {
  const root = new Map<Step, Content>();
  let whole: Content | undefined;
  for (const { selector, value } of values) {
    const steps = stepsOf(selector);
    const last = steps.at(-1);
    if (last === undefined) {
      whole = value;
      continue;
    }
    let here = root;
    for (const step of steps.slice(0, -1)) {
      const there = here.get(step) ?? new Map<Step, Content>();
      if (!(there instanceof Map)) throw new SelectorNotBuildableError(selector);
      here.set(step, there);
      here = there;
    }
    if (here.has(last)) throw new SelectorNotBuildableError(selector);
    here.set(last, value);
  }
  if (whole !== undefined && root.size > 0) throw new SelectorNotBuildableError("$");
  return JSON.stringify(plain(whole ?? root));
}
