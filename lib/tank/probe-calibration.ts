import type { BufferReading } from "../journal/journal-entry.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { nernstSlope_mVPerPH, type LinearCalibration } from "../readings/calibration.js";
import { bufferPh, bufferPhSigma } from "./buffer-solutions.js";
import {
  equalReadings,
  readingsRefusal,
  refused,
  slopeRefusal,
  stuckSlope_ratio,
  swappedBuffers,
  type RefusedCalibration,
} from "./calibration-refusal.js";

/** What the probe's topic carries: pH of a meter that knows the Nernst slope, the electrode's mV, or something else, as volts. */
export type ProbeScale = "pH" | "mV" | "other";

export interface ProbeCalibration {
  readonly kind: "calibrated";
  readonly at_epochMs: number;
  readonly scale: ProbeScale;
  /** Mean temperature of the buffers. */
  readonly temperature_degC: number;
  /** What is shown at pH 7, in the scale shown: 7 or 0 mV of an ideal probe. */
  readonly shownAt7: number;
  /** Change of what is shown for one pH, at `temperature_degC`. */
  readonly shownPerPh: number;
  /** Of the Nernst slope; undefined for a scale whose gain is not known. */
  readonly slope_ratio: number | undefined;
  /** The slope was carried over from an earlier calibration: only one buffer was read. */
  readonly slopeIsCarriedOver: boolean;
  /** Electrode's offset at pH 7; undefined for a scale whose gain is not known. */
  readonly offset_mV: number | undefined;
  readonly points: readonly CalibrationLinePoint[];
}

export interface CalibrationLinePoint {
  readonly bufferPh: number;
  /** Standard deviation of the buffer and of its reading together, pH. */
  readonly phSigma: number;
  /** Shown less the line, in pH. */
  readonly residualPh: number;
}

export interface CalibrationEntry {
  readonly at_epochMs: number;
  readonly buffers: readonly BufferReading[];
  /** Found from the readings where it is not told. */
  readonly scale?: ProbeScale;
}

/** Spread of a settled reading in a buffer, pH. From memory. */
const readingSigma = 0.02;
/** A slope kept from an earlier calibration may have changed by this much. From memory. */
const carriedSlopeSigma_ratio = 0.03;
/** Buffers as close as 6.86 and 7.00, or 9.18 and 10.01, give no slope. DIN 19268 prefers more than 2 pH apart. */
const leastSpanPh = 1.5;
/** No working electrode is so far off at pH 7; two units of pH. */
const largestOffset_mV = 120;
/** One buffer that moves the probe by more than this was rather another buffer. */
const largestJumpPh = 1;
/** Three buffers that miss their line by more than this: one of them is wrong. */
const largestResidualPh = 0.12;

interface SlopePoint {
  readonly reading: BufferReading;
  readonly bufferPh: number;
  /** Distance from pH 7 as the electrode sees it: the slope grows with the absolute temperature. */
  readonly steps: number;
}

interface Line {
  readonly shownAt7: number;
  readonly shownPerPh: number;
}

const mean = (values: readonly number[]): number =>
  values.reduce((sum, value) => sum + value, 0) / values.length;

function lineThrough(points: readonly SlopePoint[]): Line {
  const steps = mean(points.map((point) => point.steps));
  const shown = mean(points.map(({ reading }) => reading.shown));
  let squares = 0;
  let products = 0;
  for (const point of points) {
    squares += (point.steps - steps) ** 2;
    products += (point.steps - steps) * (point.reading.shown - shown);
  }
  const shownPerPh = products / squares;
  return { shownAt7: shown - shownPerPh * steps, shownPerPh };
}

/** Of a pH scale 1, of millivolts the Nernst slope with its sign. */
function idealPerPh(scale: "pH" | "mV", temperature_degC: number): number {
  return scale === "pH" ? 1 : -nernstSlope_mVPerPH(temperature_degC);
}

/** The scale for which the readings are those of a working, or of a dead or swapped, electrode. */
function scaleOf(line: Line, points: readonly SlopePoint[], temperature_degC: number): ProbeScale {
  const looksLikePh =
    Math.abs(line.shownPerPh) <= 1.6 &&
    points.every(({ reading }) => reading.shown > 1 && reading.shown < 13) &&
    (Math.abs(line.shownPerPh) >= 0.4 ||
      points.some(({ reading, bufferPh: pH }) => Math.abs(reading.shown - pH) < 0.5));
  if (looksLikePh) return "pH";
  const ratio = Math.abs(line.shownPerPh / idealPerPh("mV", temperature_degC));
  const looksLike_mV =
    ratio >= 0.4 && ratio <= 1.6 && points.every(({ reading }) => Math.abs(reading.shown) < 500);
  return looksLike_mV ? "mV" : "other";
}

function refusalOfLine(
  scale: ProbeScale,
  line: Line,
  temperature_degC: number,
  earlier: ProbeCalibration | undefined,
): RefusedCalibration | undefined {
  if (scale !== "other") return slopeRefusal(line.shownPerPh / idealPerPh(scale, temperature_degC));
  const runsAgainstEarlier = earlier?.scale === "other" && line.shownPerPh * earlier.shownPerPh < 0;
  return runsAgainstEarlier ? swappedBuffers() : undefined;
}

/** Two neighbours that run the other way than the whole line: two of three buffers changed places. */
function runsBackwards(points: readonly SlopePoint[], line: Line): boolean {
  const ordered = [...points].sort((a, b) => a.bufferPh - b.bufferPh);
  return ordered.some((point, index) => {
    const before = ordered[index - 1];
    return (
      before !== undefined &&
      point.bufferPh - before.bufferPh >= leastSpanPh &&
      (point.reading.shown - before.reading.shown) * Math.sign(line.shownPerPh) <=
        -stuckSlope_ratio * Math.abs(line.shownPerPh)
    );
  });
}

/**
 * Slope and offset of a pH probe from what it showed in one, two or three buffers, each at its own temperature. Readings are
 * those of the probe's topic before any correction. One buffer moves the offset only and needs an earlier slope.
 * A calibration that cannot be right is a value saying why, not an error.
 * @see [Buck2002] for the slope, [Hetzer1977] for the 4.01 buffer
 */
export function calibrateProbe(
  entry: CalibrationEntry,
  earlier?: ProbeCalibration,
): ProbeCalibration | RefusedCalibration {
  const refusal = readingsRefusal(entry.buffers);
  if (refusal !== undefined) return refusal;
  const temperature_degC = mean(entry.buffers.map((reading) => reading.temperature_degC));
  const points = entry.buffers.map((reading): SlopePoint => {
    const pH = bufferPh(reading.buffer, reading.temperature_degC);
    return {
      reading,
      bufferPh: pH,
      steps: ((pH - 7) * kelvinFromCelsius(reading.temperature_degC)) / kelvinFromCelsius(temperature_degC),
    };
  });
  const phs = points.map((point) => point.bufferPh);
  const spanPh = Math.max(...phs) - Math.min(...phs);
  if (spanPh < leastSpanPh) {
    if (new Set(entry.buffers.map(({ buffer }) => buffer)).size > 1) {
      return refused(
        "buffers too close",
        "The buffers lie too close together to give a slope: take 7.00 or 6.86 together with 4.01, which spans a tank's pH.",
      );
    }
    return calibrateOffset(entry, points, temperature_degC, earlier);
  }
  const line = lineThrough(points);
  const scale = entry.scale ?? scaleOf(line, points, temperature_degC);
  const shown = entry.buffers.map((reading) => reading.shown);
  if (Math.max(...shown) - Math.min(...shown) < 1e-6 * Math.max(...shown.map(Math.abs)))
    return equalReadings();
  const wrongSlope = refusalOfLine(scale, line, temperature_degC, earlier);
  if (wrongSlope?.reason === "equal readings" || wrongSlope?.reason === "buffers swapped") return wrongSlope;
  if (runsBackwards(points, line)) return swappedBuffers();
  if (wrongSlope !== undefined) return wrongSlope;
  const calibration = fromLine(entry.at_epochMs, scale, line, points, temperature_degC, false);
  const wrongOffset = offsetRefusal(calibration);
  if (wrongOffset !== undefined) return wrongOffset;
  const worst = [...calibration.points].sort((a, b) => Math.abs(b.residualPh) - Math.abs(a.residualPh))[0];
  if (worst !== undefined && Math.abs(worst.residualPh) > largestResidualPh) {
    return refused(
      "not on a line",
      `The buffers do not lie on one line; the one of pH ${worst.bufferPh.toFixed(2)} misses it by ${Math.abs(worst.residualPh).toFixed(2)}: a buffer is old or mixed up.`,
    );
  }
  return calibration;
}

function offsetRefusal({ offset_mV }: ProbeCalibration): RefusedCalibration | undefined {
  if (offset_mV === undefined || Math.abs(offset_mV) <= largestOffset_mV) return undefined;
  return refused(
    "offset too large",
    `The probe would be off by ${offset_mV.toFixed(0)} mV at pH 7, more than any working probe: check which buffer is in which cup.`,
  );
}

function calibrateOffset(
  entry: CalibrationEntry,
  points: readonly SlopePoint[],
  temperature_degC: number,
  earlier: ProbeCalibration | undefined,
): ProbeCalibration | RefusedCalibration {
  if (earlier === undefined) {
    return refused(
      "one buffer, no slope known",
      "One buffer moves the offset only, and no slope of this probe is known yet: read a second one, best 7 and 4.",
    );
  }
  const shownPerPh = earlier.shownPerPh * slopeGrowth(earlier, temperature_degC);
  const shownAt7 = mean(points.map(({ reading, steps }) => reading.shown - shownPerPh * steps));
  const jumpPh = Math.abs((shownAt7 - earlier.shownAt7) / shownPerPh);
  if (jumpPh > largestJumpPh) {
    return refused(
      "offset too large",
      `This buffer would move the probe by ${jumpPh.toFixed(1)} pH: was it the buffer named? Read two buffers to be sure.`,
    );
  }
  const line = { shownAt7, shownPerPh };
  const calibration = fromLine(entry.at_epochMs, earlier.scale, line, points, temperature_degC, true);
  return offsetRefusal(calibration) ?? calibration;
}

function fromLine(
  at_epochMs: number,
  scale: ProbeScale,
  line: Line,
  points: readonly SlopePoint[],
  temperature_degC: number,
  slopeIsCarriedOver: boolean,
): ProbeCalibration {
  const ideal = scale === "other" ? undefined : idealPerPh(scale, temperature_degC);
  return {
    kind: "calibrated",
    at_epochMs,
    scale,
    temperature_degC,
    ...line,
    slope_ratio: ideal === undefined ? undefined : line.shownPerPh / ideal,
    slopeIsCarriedOver,
    offset_mV:
      scale === "mV"
        ? line.shownAt7
        : scale === "pH"
          ? (7 - line.shownAt7) * nernstSlope_mVPerPH(temperature_degC)
          : undefined,
    points: points.map((point) => ({
      bufferPh: point.bufferPh,
      phSigma: Math.hypot(bufferPhSigma(point.reading.buffer), readingSigma),
      residualPh: (point.reading.shown - line.shownAt7) / line.shownPerPh - point.steps,
    })),
  };
}

/** A meter that shows pH has allowed for temperature; anything else grows with the absolute temperature. */
function slopeGrowth(calibration: ProbeCalibration, temperature_degC: number): number {
  return calibration.scale === "pH"
    ? 1
    : kelvinFromCelsius(temperature_degC) / kelvinFromCelsius(calibration.temperature_degC);
}

/** The calibration as gain and offset for the probe's topic, at the temperature of the tank: pH = gain x shown + offset. */
export function probeCorrection(calibration: ProbeCalibration, temperature_degC: number): LinearCalibration {
  const gain = 1 / (calibration.shownPerPh * slopeGrowth(calibration, temperature_degC));
  return { gain, offset: 7 - gain * calibration.shownAt7 };
}

/**
 * Standard uncertainty of a pH read right after the calibration: the buffers' and their readings' errors carried along the
 * line to this pH, widened by the misfit of three buffers. Far outside of the buffers it grows.
 * @see [JCGM100]
 */
export function calibrationPhSigma(calibration: ProbeCalibration, pH: number): number {
  const { points } = calibration;
  const centre = mean(points.map((point) => point.bufferPh));
  const squares = points.reduce((sum, point) => sum + (point.bufferPh - centre) ** 2, 0);
  const carriesSlope = !calibration.slopeIsCarriedOver;
  let variance = carriesSlope ? 0 : ((pH - centre) * carriedSlopeSigma_ratio) ** 2;
  let misfit = 0;
  for (const point of points) {
    const lever = carriesSlope ? ((pH - centre) * (point.bufferPh - centre)) / squares : 0;
    variance += ((1 / points.length + lever) * point.phSigma) ** 2;
    misfit += (point.residualPh / point.phSigma) ** 2;
  }
  const spare = points.length - (carriesSlope ? 2 : 1);
  return Math.sqrt(variance * (spare > 0 ? Math.max(1, misfit / spare) : 1));
}

/**
 * Standard uncertainty of the slope as a share of it: what a drop of the pH is wrong by, relatively, with the offset taken out.
 * @see [JCGM100]
 */
export function calibrationSlopeSigma_ratio(calibration: ProbeCalibration): number {
  if (calibration.slopeIsCarriedOver) return carriedSlopeSigma_ratio;
  const { points } = calibration;
  const centre = mean(points.map((point) => point.bufferPh));
  const squares = points.reduce((sum, point) => sum + (point.bufferPh - centre) ** 2, 0);
  const variance = points.reduce(
    (sum, point) => sum + (((point.bufferPh - centre) / squares) * point.phSigma) ** 2,
    0,
  );
  return Math.sqrt(variance);
}
