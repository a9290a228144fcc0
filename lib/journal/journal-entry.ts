import type { PressureUnit } from "../quantities/units.js";
import type { RecordedTask } from "../upkeep/recorded-task.js";
import type { WeighedAcid } from "../vessel/charge.js";

/** Colours of bromothymol blue in trade words, from no CO2 to much. */
export const dropCheckerColours = ["blue", "blue-green", "green", "yellow-green", "yellow"] as const;
export type DropCheckerColour = (typeof dropCheckerColours)[number];

/** How the water was rid of its CO2 before the pH was read: it sets how far the baseline can be trusted. */
export const degassingMethods = [
  "aerated a day",
  "aerated an hour",
  "stood in a glass",
  "not known",
] as const;
export type DegassingMethod = (typeof degassingMethods)[number];

export const bufferNames = ["4.01", "6.86", "7.00", "9.18", "10.01"] as const;

/** What a probe showed in one buffer. */
export interface BufferReading {
  readonly buffer: (typeof bufferNames)[number];
  readonly shown: number;
  readonly temperature_degC: number;
}

/** A pressure as the gauge's face shows it: what a person looks for when a line of the journal seems wrong. */
export interface PressureAsRead {
  readonly value: number;
  readonly unit: PressureUnit;
}

/** What a person saw, measured or did, each with the subject it concerns. */
export type JournalFact =
  | {
      readonly kind: "kh test";
      readonly tankId: string;
      readonly kh_dKH: number;
      /** Standard uncertainty of the test kit; half a drop's worth where nothing is said. */
      readonly khUncertainty_dKH?: number;
    }
  | {
      readonly kind: "degassed pH";
      readonly tankId: string;
      readonly pH: number;
      readonly how: DegassingMethod;
      /** Of the air it was degassed with, where a room monitor tells. */
      readonly roomCo2_ppm?: number;
      readonly temperature_degC?: number;
    }
  | { readonly kind: "drop checker"; readonly tankId: string; readonly colour: DropCheckerColour }
  | { readonly kind: "calibration"; readonly sensorId: string; readonly buffers: readonly BufferReading[] }
  | { readonly kind: "water change"; readonly tankId: string; readonly changed_L: number }
  | { readonly kind: "bubble count"; readonly valveId: string; readonly bubbles_perMin: number }
  | {
      readonly kind: "gauge reading";
      readonly vesselId: string;
      readonly pressureGauge_bar: number;
      readonly asRead: PressureAsRead;
      readonly temperature_degC?: number;
    }
  | { readonly kind: "weighing"; readonly vesselId: string; readonly vesselMass_g: number }
  | {
      /** A refill; the entry's instant is when the vessel was closed. */
      readonly kind: "charge closed";
      readonly vesselId: string;
      readonly acid: WeighedAcid;
      readonly sodiumBicarbonate_g: number;
      /** Water, ice, or both together. */
      readonly water_kg: number;
      readonly closedWith: "water" | "ice";
      /** Liquor of the charge before that was left in. */
      readonly residualLiquor_L?: number;
      readonly sealedAt_degC: number;
      /** What the plan said to weigh, both or neither; the acid in the form that was weighed. */
      readonly plannedBicarbonate_g?: number;
      readonly plannedAcid_g?: number;
    }
  | {
      readonly kind: "regulator set";
      readonly vesselId: string;
      /** Behind the regulator, with gas flowing. */
      readonly outletGauge_bar: number;
      readonly asRead: PressureAsRead;
    }
  | {
      /** Something that wears or ages was seen to. */
      readonly kind: "upkeep done";
      readonly task: RecordedTask;
      readonly subjectKind: SubjectKind;
      readonly subjectId: string;
    };

export type JournalKind = JournalFact["kind"];
export type FactOf<Kind extends JournalKind> = Extract<JournalFact, { readonly kind: Kind }>;

/** One line of the journal. An entry is never changed: a wrong one is withdrawn by a later one. */
export interface JournalEntry<Fact extends JournalFact = JournalFact> {
  readonly entryId: number;
  /** When it was seen or done. */
  readonly at_epochMs: number;
  readonly enteredAt_epochMs: number;
  readonly source: "local" | "remote";
  readonly note: string;
  readonly fact: Fact;
  readonly withdrawn: boolean;
  /** Of a withdrawn one: since when it counts no more. */
  readonly withdrawnAt_epochMs?: number | undefined;
}

export const subjectKinds = ["tank", "sensor", "valve", "vessel"] as const;
export type SubjectKind = (typeof subjectKinds)[number];

export interface JournalSubject {
  readonly kind: SubjectKind;
  readonly id: string;
}

/** What a fact is about, by its name in the config. */
export function subjectOf(fact: JournalFact): JournalSubject {
  switch (fact.kind) {
    case "kh test":
    case "degassed pH":
    case "drop checker":
    case "water change":
      return { kind: "tank", id: fact.tankId };
    case "calibration":
      return { kind: "sensor", id: fact.sensorId };
    case "bubble count":
      return { kind: "valve", id: fact.valveId };
    case "gauge reading":
    case "weighing":
    case "charge closed":
    case "regulator set":
      return { kind: "vessel", id: fact.vesselId };
    case "upkeep done":
      return { kind: fact.subjectKind, id: fact.subjectId };
  }
}

/** What control and estimators may read, without waiting. Withdrawn entries are never given. */
export interface JournalView {
  /** The one that was seen or done last. */
  latest<Kind extends JournalKind>(kind: Kind, subjectId: string): JournalEntry<FactOf<Kind>> | undefined;
  /** Those with at >= since, oldest first. */
  entriesOf<Kind extends JournalKind>(
    kind: Kind,
    subjectId: string,
    since_epochMs: number,
  ): readonly JournalEntry<FactOf<Kind>>[];
  /** Those that were withdrawn since, oldest first: what stood before a change that is doubted. Absent: none ever was. */
  withdrawnOf?<Kind extends JournalKind>(
    kind: Kind,
    subjectId: string,
    since_epochMs: number,
  ): readonly JournalEntry<FactOf<Kind>>[];
}
