import type { ValidRange } from "../quantities/valid-range.js";
import { calibrated, type LinearCalibration } from "../readings/calibration.js";
import {
  bufferNames,
  subjectOf,
  type FactOf,
  type JournalEntry,
  type JournalFact,
  type SubjectKind,
} from "./journal-entry.js";
import { judgeCharge, type ChargeRemark } from "./judge-charge.js";

/** What the site has that an entry can be about. */
export interface JournalSite {
  /** With the KH that the config gives, against which a first test is held. */
  readonly tanks: ReadonlyMap<string, { readonly volume_L: number; readonly kh_dKH?: number }>;
  readonly sensors: ReadonlyMap<string, { readonly isPhSensor: boolean }>;
  readonly valves: ReadonlyMap<string, unknown>;
  readonly vessels: ReadonlyMap<string, JournalVessel>;
}

export interface JournalVessel {
  readonly kind: "generator" | "liquid";
  readonly volume_L: number;
  readonly ratedPressureGauge_bar: number | undefined;
  readonly reliefOpeningGauge_bar: number | undefined;
}

/** Why an entry is not taken. Nothing of it is kept. */
export type EntryRefusal =
  /** Possible, and more likely a slip: it is taken where the person says so once more. */
  | ({ readonly kind: "unusual"; readonly value: number } & ValidRange)
  | ({ readonly kind: "out of range"; readonly value: number } & ValidRange)
  | {
      readonly kind: "unknown subject";
      readonly subjectKind: SubjectKind;
      readonly given: string;
      readonly known: readonly string[];
    }
  | { readonly kind: "in the future"; readonly ahead_min: number }
  | { readonly kind: "too old"; readonly age_days: number; readonly most_days: number }
  | { readonly kind: "contradictory"; readonly reason: string };

/** What a person should know of an entry that is taken. */
export type EntryRemark =
  | {
      readonly kind: "unlike the last";
      readonly quantity: string;
      readonly value: number;
      readonly last: number;
      readonly unit: string;
      /** Undefined: it is the config's value. */
      readonly lastAt_epochMs: number | undefined;
    }
  | { readonly kind: "not above the present pH"; readonly pH: number; readonly presentPh: number }
  | {
      readonly kind: "above the rating";
      readonly which: "rated pressure" | "relief opening pressure";
      readonly pressureGauge_bar: number;
      readonly limitGauge_bar: number;
    }
  | {
      readonly kind: "far from the buffer";
      readonly buffer: string;
      readonly shown: number;
      /** By which the calibration would move the probe in this buffer. */
      readonly shiftPh: number;
    }
  | ChargeRemark;

export type EntryVerdict =
  | { readonly kind: "accepted"; readonly remarks: readonly EntryRemark[] }
  | { readonly kind: "refused"; readonly refusal: EntryRefusal };

/** Two clocks of a home differ by less. */
const futureSlack_ms = 5 * 60_000;
const oldest_days = 400;
const day_ms = 86_400_000;
/** Between two tests of one water a drop or two; a factor 2 is another water, another kit or a slip of the pen. */
const unlikeBy_ratio = 2;
/**
 * A calibration that moves the probe by so much or more looks unlike the one before: the probe stood in another buffer, or is at
 * its end. Half a pH is a factor 3 of CO2. Common practice, no source.
 */
const farFromBufferPh = 0.5;
/** Digits of a display are no exact binary numbers. */
const rounding = 1e-6;

const temperatureOfVessel = { quantity: "temperature_degC", unit: "degC", minimum: -20, maximum: 60 };
const outletRange = { quantity: "outletGauge_bar", unit: "bar", minimum: 0, maximum: 15 };

export interface EntryContext {
  readonly now_epochMs: number;
  readonly site: JournalSite;
  readonly last: JournalEntry | undefined;
  /** "local" where nothing is said: at the daemon's own machine. */
  readonly source?: JournalEntry["source"];
  /** Of a calibration: what the probe's readings are corrected by now, and were by the last that was entered at this machine. */
  readonly corrections?: readonly LinearCalibration[];
  /** The person has been told that it is unusual, and stands by it. */
  readonly isSure?: boolean;
  /** Of a degassed pH: what the tank's probe shows now; undefined while that is not known. */
  readonly presentPh?: number | undefined;
}

/**
 * Whether a fact can be so, and what is odd about it. Ranges are those within which a formula of lib/ or the config takes
 * the quantity; they catch a slipped decimal point, not a wrong reading.
 * @param last the latest entry of the same kind and subject, where there is one
 */
export function judgeEntry(fact: JournalFact, at_epochMs: number, context: EntryContext): EntryVerdict {
  const refusal =
    unknownSubject(fact, context.site) ??
    wrongTime(at_epochMs, context.now_epochMs) ??
    outOfRange(fact, context.site) ??
    contradiction(fact, context.site) ??
    notFromAfar(fact, context) ??
    unusual(fact, context);
  if (refusal !== undefined) return { kind: "refused", refusal };
  if (fact.kind === "charge closed") {
    const vessel = context.site.vessels.get(fact.vesselId);
    const judged = vessel === undefined ? [] : judgeCharge(fact, vessel);
    return "kind" in judged ? { kind: "refused", refusal: judged } : { kind: "accepted", remarks: judged };
  }
  return { kind: "accepted", remarks: remarksOn(fact, context) };
}

function unknownSubject(fact: JournalFact, site: JournalSite): EntryRefusal | undefined {
  const { kind, id } = subjectOf(fact);
  const known = { tank: site.tanks, sensor: site.sensors, valve: site.valves, vessel: site.vessels }[kind];
  if (known.has(id)) return undefined;
  return { kind: "unknown subject", subjectKind: kind, given: id, known: [...known.keys()] };
}

function wrongTime(at_epochMs: number, now_epochMs: number): EntryRefusal | undefined {
  const age_ms = now_epochMs - at_epochMs;
  if (!(age_ms >= -futureSlack_ms)) {
    return { kind: "in the future", ahead_min: Math.ceil(-age_ms / 60_000) };
  }
  if (age_ms <= oldest_days * day_ms) return undefined;
  return { kind: "too old", age_days: Math.floor(age_ms / day_ms), most_days: oldest_days };
}

interface Measured extends ValidRange {
  readonly value: number | undefined;
}

function outOfRange(fact: JournalFact, site: JournalSite): EntryRefusal | undefined {
  for (const { value, ...range } of measuredIn(fact, site)) {
    if (value === undefined || (value >= range.minimum && value <= range.maximum)) continue;
    return { kind: "out of range", value, ...range };
  }
  return undefined;
}

function measuredIn(fact: JournalFact, site: JournalSite): readonly Measured[] {
  const measured = (
    quantity: string,
    value: number | undefined,
    unit: string,
    minimum: number,
    maximum: number,
  ) => ({
    quantity,
    value,
    unit,
    minimum,
    maximum,
  });
  switch (fact.kind) {
    case "kh test":
      return [
        measured("kh_dKH", fact.kh_dKH, "dKH", 0.1, 40),
        measured("khUncertainty_dKH", fact.khUncertainty_dKH, "dKH", 0.05, 5),
      ];
    case "degassed pH":
      return [
        measured("pH", fact.pH, "", 4, 10),
        measured("roomCo2_ppm", fact.roomCo2_ppm, "ppm", 300, 10_000),
        measured("temperature_degC", fact.temperature_degC, "degC", 0, 45),
      ];
    case "drop checker":
    case "upkeep done":
      return [];
    case "calibration":
      return fact.buffers.flatMap(({ shown, temperature_degC }) => [
        measured("shown pH", shown, "", 0, 14),
        measured("temperature_degC", temperature_degC, "degC", 5, 40),
      ]);
    case "water change":
      return [measured("changed_L", fact.changed_L, "L", 0.1, site.tanks.get(fact.tankId)?.volume_L ?? 0)];
    case "bubble count":
      return [measured("bubbles_perMin", fact.bubbles_perMin, "bubbles per minute", 0, 1000)];
    case "gauge reading":
      return [
        measured("pressureGauge_bar", fact.pressureGauge_bar, "bar", 0, 400),
        { value: fact.temperature_degC, ...temperatureOfVessel },
      ];
    case "weighing":
      return [measured("vesselMass_g", fact.vesselMass_g, "g", 100, 200_000)];
    case "charge closed":
      return [
        measured("sodiumBicarbonate_g", fact.sodiumBicarbonate_g, "g", 1, 5000),
        measured("citricAcid_g", fact.acid.mass_g, "g", 1, 5000),
        measured(`${fact.closedWith}_kg`, fact.water_kg, "kg", 0.01, 40),
        measured("residualLiquor_L", fact.residualLiquor_L, "L", 0, 20),
        measured("sealedAt_degC", fact.sealedAt_degC, "degC", -20, 50),
        measured("plannedBicarbonate_g", fact.plannedBicarbonate_g, "g", 1, 5000),
        measured("plannedAcid_g", fact.plannedAcid_g, "g", 1, 5000),
      ];
    case "regulator set":
      return [{ value: fact.outletGauge_bar, ...outletRange }];
  }
}

function contradiction(fact: JournalFact, site: JournalSite): EntryRefusal | undefined {
  const because = (reason: string): EntryRefusal => ({ kind: "contradictory", reason });
  if (fact.kind === "charge closed" && site.vessels.get(fact.vesselId)?.kind === "liquid") {
    return because(
      `${fact.vesselId} is a bought cylinder in the config; only a generator takes acid and bicarbonate`,
    );
  }
  if (fact.kind !== "calibration") return undefined;
  if (site.sensors.get(fact.sensorId)?.isPhSensor !== true) {
    return because(`${fact.sensorId} does not measure pH; buffers calibrate a pH sensor`);
  }
  if (fact.buffers.length === 0 || fact.buffers.length > bufferNames.length) {
    return because("a calibration has one reading for each buffer, and at least one");
  }
  const twice = fact.buffers.find(
    ({ buffer }, index) => fact.buffers.findIndex((other) => other.buffer === buffer) !== index,
  );
  return twice === undefined ? undefined : because(`the buffer ${twice.buffer} stands in it twice`);
}

function remarksOn(fact: JournalFact, context: EntryContext): readonly EntryRemark[] {
  switch (fact.kind) {
    case "kh test":
      return unlikeLast(fact, context);
    case "calibration":
      return farBuffers(fact, context);
    case "gauge reading":
      return aboveRating(fact.pressureGauge_bar, context.site.vessels.get(fact.vesselId));
    case "degassed pH":
      return context.presentPh === undefined || fact.pH > context.presentPh
        ? []
        : [{ kind: "not above the present pH", pH: fact.pH, presentPh: context.presentPh }];
    case "drop checker":
    case "water change":
    case "bubble count":
    case "weighing":
    case "charge closed":
    case "upkeep done":
    case "regulator set":
      return [];
  }
}

/** The buffers in which the calibration would move the probe by half a pH or more, with the largest shift of each. */
function farBuffers(
  { buffers }: FactOf<"calibration">,
  { corrections = [] }: EntryContext,
): readonly Extract<EntryRemark, { kind: "far from the buffer" }>[] {
  const before = corrections.length === 0 ? [{ gain: 1, offset: 0 }] : corrections;
  return buffers.flatMap(({ buffer, shown }) => {
    const [shiftPh = 0] = before
      .map((correction) => Number(buffer) - calibrated(shown, correction))
      .sort((a, b) => Math.abs(b) - Math.abs(a));
    return Math.abs(shiftPh) < farFromBufferPh - rounding
      ? []
      : [{ kind: "far from the buffer" as const, buffer, shown, shiftPh }];
  });
}

/** Whoever sends from afar does not stand at the tank: what would move the guard of its fish by much needs a second look. */
function notFromAfar(fact: JournalFact, context: EntryContext): EntryRefusal | undefined {
  if (fact.kind !== "calibration" || context.source !== "remote") return undefined;
  const [far] = farBuffers(fact, context);
  if (far === undefined) return undefined;
  const size = Math.abs(far.shiftPh).toFixed(2);
  return {
    kind: "contradictory",
    reason: `it would move the probe by ${size} pH in buffer ${far.buffer}, which looks unlike its last calibration: look at the probe and the buffer; where it is right, enter it at the daemon's own machine`,
  };
}

/** Tap water seldom has more; aerated fresh water lies within. Common practice, no source. */
const usualRanges = {
  kh: { quantity: "kh_dKH", unit: "dKH", minimum: 0, maximum: 30 },
  degassedPh: { quantity: "pH", unit: "", minimum: 6, maximum: 9.5 },
} as const;

/** What is so unusual that a slip is likelier, and would make too much CO2 look harmless, or the other way round. */
function unusual(fact: JournalFact, context: EntryContext): EntryRefusal | undefined {
  if (context.isSure === true) return undefined;
  const outside = (value: number, range: ValidRange): EntryRefusal | undefined =>
    value >= range.minimum && value <= range.maximum ? undefined : { kind: "unusual", value, ...range };
  if (fact.kind === "degassed pH") return outside(fact.pH, usualRanges.degassedPh);
  if (fact.kind !== "kh test") return undefined;
  // What a test before it has shown too is no slip.
  const isKnown = context.last?.fact.kind === "kh test" && unlikeLast(fact, context).length === 0;
  return isKnown ? undefined : outside(fact.kh_dKH, usualRanges.kh);
}

function unlikeLast(
  { tankId, kh_dKH }: FactOf<"kh test">,
  { last, site }: EntryContext,
): readonly EntryRemark[] {
  const lastTest = last?.fact.kind === "kh test" ? last : undefined;
  const before_dKH =
    lastTest?.fact.kind === "kh test" ? lastTest.fact.kh_dKH : site.tanks.get(tankId)?.kh_dKH;
  if (before_dKH === undefined) return [];
  const change_ratio = kh_dKH / before_dKH;
  if (change_ratio < unlikeBy_ratio && change_ratio > 1 / unlikeBy_ratio) return [];
  return [
    {
      kind: "unlike the last",
      quantity: "kh_dKH",
      value: kh_dKH,
      last: before_dKH,
      unit: "dKH",
      lastAt_epochMs: lastTest?.at_epochMs,
    },
  ];
}

/** A pressure above either plate is the more urgent to know of, so it is never refused. */
function aboveRating(pressureGauge_bar: number, vessel: JournalVessel | undefined): readonly EntryRemark[] {
  const remark = (
    which: "rated pressure" | "relief opening pressure",
    limitGauge_bar: number | undefined,
  ): readonly EntryRemark[] =>
    limitGauge_bar === undefined || pressureGauge_bar <= limitGauge_bar
      ? []
      : [{ kind: "above the rating", which, pressureGauge_bar, limitGauge_bar }];
  return [
    ...remark("rated pressure", vessel?.ratedPressureGauge_bar),
    ...remark("relief opening pressure", vessel?.reliefOpeningGauge_bar),
  ];
}
