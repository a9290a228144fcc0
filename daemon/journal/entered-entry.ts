import { z } from "zod";
import {
  bufferNames,
  degassingMethods,
  dropCheckerColours,
  type JournalFact,
  type SubjectKind,
} from "../../lib/journal/journal-entry.js";
import type { JournalSite } from "../../lib/journal/judge-entry.js";
import { pressureToBar, pressureUnits, type PressureUnit } from "../../lib/quantities/units.js";
import { recordedTasks } from "../../lib/upkeep/recorded-task.js";
import { taskDescriptions } from "../../lib/upkeep/upkeep-catalogue.js";
import type { WeighedAcid } from "../../lib/vessel/charge.js";
import { readRequest, type RequestRead } from "../read-request.js";

const pressureUnitNames = pressureUnits as readonly [PressureUnit, ...PressureUnit[]];
const number = z.number();
const subjectName = z.string().min(1).max(60).exactOptional();
/** It is printed on terminals: nothing that moves their cursor may stand in it. */
const oneLine = z
  .string()
  .max(500)
  .regex(/^[^\p{Cc}\p{Cs}\u2028\u2029]*$/u, { error: "one line without control characters" });

const common = {
  at: z.string().max(40).exactOptional(),
  note: oneLine.exactOptional(),
  /** Stands by what was refused as unusual. */
  sure: z.boolean().exactOptional(),
};
/** As people write them: "Green", " yellow green". */
const colour = z.preprocess(
  (written) => (typeof written === "string" ? asColour(written) : written),
  z.enum(dropCheckerColours),
);
const ofTank = { tank: subjectName, ...common };
const ofVessel = { vessel: subjectName, ...common };
const pressure = { pressure: number, unit: z.enum(pressureUnitNames) };

/**
 * An entry as a person's command or a message writes it. The subject may be left out where the site has only one of its
 * kind; `at` is local time, or RFC 3339; left out, now.
 */
const enteredEntry = z.discriminatedUnion("kind", [
  z.strictObject({
    kind: z.literal("kh test"),
    kh_dKH: number,
    khUncertainty_dKH: number.exactOptional(),
    ...ofTank,
  }),
  z.strictObject({
    kind: z.literal("degassed pH"),
    pH: number,
    how: z.enum(degassingMethods),
    roomCo2_ppm: number.exactOptional(),
    temperature_degC: number.exactOptional(),
    ...ofTank,
  }),
  z.strictObject({ kind: z.literal("drop checker"), colour, ...ofTank }),
  z.strictObject({
    kind: z.literal("calibration"),
    sensor: subjectName,
    buffers: z
      .array(z.strictObject({ buffer: z.enum(bufferNames), shown: number, temperature_degC: number }))
      .max(10),
    ...common,
  }),
  z.strictObject({ kind: z.literal("water change"), changed_L: number, ...ofTank }),
  z.strictObject({ kind: z.literal("bubble count"), bubbles_perMin: number, valve: subjectName, ...common }),
  z.strictObject({
    kind: z.literal("gauge reading"),
    ...pressure,
    temperature_degC: number.exactOptional(),
    ...ofVessel,
  }),
  z.strictObject({ kind: z.literal("weighing"), vesselMass_g: number, ...ofVessel }),
  // The keys of a vessel's charge in the config, but for closedAt, which is `at`.
  z
    .strictObject({
      kind: z.literal("charge closed"),
      sodiumBicarbonate_g: number,
      citricAcidAnhydrous_g: number.exactOptional(),
      citricAcidMonohydrate_g: number.exactOptional(),
      water_kg: number,
      closedWith: z.enum(["water", "ice"]).default("water"),
      residualLiquor_L: number.exactOptional(),
      sealedAt_degC: number,
      plannedBicarbonate_g: number.exactOptional(),
      plannedAcid_g: number.exactOptional(),
      ...ofVessel,
    })
    .refine(({ plannedBicarbonate_g: b, plannedAcid_g: a }) => (b === undefined) === (a === undefined), {
      error: "plannedBicarbonate_g and plannedAcid_g: both or neither",
    })
    .refine(
      ({ citricAcidAnhydrous_g: a, citricAcidMonohydrate_g: m }) => (a === undefined) !== (m === undefined),
      {
        error: "either citricAcidAnhydrous_g or citricAcidMonohydrate_g",
      },
    ),
  z.strictObject({ kind: z.literal("regulator set"), ...pressure, ...ofVessel }),
  // The task says whether it is about a vessel, a valve or a tank.
  z.strictObject({
    kind: z.literal("upkeep done"),
    task: z.enum(recordedTasks),
    subject: subjectName,
    ...common,
  }),
]);

/** The name of a colour however it is written; what is none stays as it is. */
export function asColour(written: string): string {
  return written
    .trim()
    .toLowerCase()
    .replace(/[\s_-]+/g, "-");
}

export type EnteredEntry = z.output<typeof enteredEntry>;

export function readEnteredEntry(content: unknown): RequestRead<EnteredEntry> {
  return readRequest(enteredEntry, content);
}

export type FactRead =
  | { readonly kind: "fact"; readonly fact: JournalFact }
  /** More than one could be meant, or there is none. */
  | {
      readonly kind: "subject needed";
      readonly subjectKind: SubjectKind;
      readonly known: readonly string[];
    };

/** The fact of an entry, in the units of lib/, about the subject that it names or the only one there is. */
export function factOf(entry: EnteredEntry, site: JournalSite): FactRead {
  switch (entry.kind) {
    case "kh test": {
      const { kind, kh_dKH, khUncertainty_dKH } = entry;
      return about("tank", entry.tank, site.tanks, (tankId) => ({
        kind,
        tankId,
        kh_dKH,
        ...(khUncertainty_dKH === undefined ? {} : { khUncertainty_dKH }),
      }));
    }
    case "degassed pH": {
      const { kind, pH, how, roomCo2_ppm, temperature_degC } = entry;
      return about("tank", entry.tank, site.tanks, (tankId) => ({
        kind,
        tankId,
        pH,
        how,
        ...(roomCo2_ppm === undefined ? {} : { roomCo2_ppm }),
        ...(temperature_degC === undefined ? {} : { temperature_degC }),
      }));
    }
    case "drop checker": {
      const { kind, colour } = entry;
      return about("tank", entry.tank, site.tanks, (tankId) => ({ kind, tankId, colour }));
    }
    case "calibration": {
      const { kind, buffers } = entry;
      const phSensors = new Map([...site.sensors].filter(([, { isPhSensor }]) => isPhSensor));
      return about("sensor", entry.sensor, phSensors, (sensorId) => ({ kind, sensorId, buffers }));
    }
    case "water change": {
      const { kind, changed_L } = entry;
      return about("tank", entry.tank, site.tanks, (tankId) => ({ kind, tankId, changed_L }));
    }
    case "bubble count": {
      const { kind, bubbles_perMin } = entry;
      return about("valve", entry.valve, site.valves, (valveId) => ({ kind, valveId, bubbles_perMin }));
    }
    case "gauge reading": {
      const { kind, pressure: value, unit, temperature_degC } = entry;
      return about("vessel", entry.vessel, site.vessels, (vesselId) => ({
        kind,
        vesselId,
        pressureGauge_bar: pressureToBar(value, unit),
        asRead: { value, unit },
        ...(temperature_degC === undefined ? {} : { temperature_degC }),
      }));
    }
    case "weighing": {
      const { kind, vesselMass_g } = entry;
      return about("vessel", entry.vessel, site.vessels, (vesselId) => ({ kind, vesselId, vesselMass_g }));
    }
    case "charge closed": {
      const { kind, sodiumBicarbonate_g, water_kg, closedWith, residualLiquor_L, sealedAt_degC } = entry;
      const { plannedBicarbonate_g, plannedAcid_g } = entry;
      const acid: WeighedAcid =
        entry.citricAcidMonohydrate_g === undefined
          ? { kind: "citric-acid-anhydrous", mass_g: entry.citricAcidAnhydrous_g ?? 0 }
          : { kind: "citric-acid-monohydrate", mass_g: entry.citricAcidMonohydrate_g };
      const generators = new Map([...site.vessels].filter(([, vessel]) => vessel.kind === "generator"));
      return about("vessel", entry.vessel, generators, (vesselId) => ({
        kind,
        vesselId,
        acid,
        sodiumBicarbonate_g,
        water_kg,
        closedWith,
        ...(residualLiquor_L === undefined ? {} : { residualLiquor_L }),
        sealedAt_degC,
        ...(plannedBicarbonate_g === undefined || plannedAcid_g === undefined
          ? {}
          : { plannedBicarbonate_g, plannedAcid_g }),
      }));
    }
    case "regulator set": {
      const { kind, pressure: value, unit } = entry;
      return about("vessel", entry.vessel, site.vessels, (vesselId) => ({
        kind,
        vesselId,
        outletGauge_bar: pressureToBar(value, unit),
        asRead: { value, unit },
      }));
    }
    case "upkeep done": {
      const { kind, task } = entry;
      const { subjectKind } = taskDescriptions[task];
      const candidates = { tank: site.tanks, sensor: site.sensors, valve: site.valves, vessel: site.vessels };
      return about(subjectKind, entry.subject, candidates[subjectKind], (subjectId) => ({
        kind,
        task,
        subjectKind,
        subjectId,
      }));
    }
  }
}

function about(
  subjectKind: SubjectKind,
  given: string | undefined,
  candidates: ReadonlyMap<string, unknown>,
  factAbout: (id: string) => JournalFact,
): FactRead {
  const known = [...candidates.keys()];
  const [only] = known;
  const id = given ?? (known.length === 1 ? only : undefined);
  return id === undefined
    ? { kind: "subject needed", subjectKind, known }
    : { kind: "fact", fact: factAbout(id) };
}
