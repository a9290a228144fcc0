import { z } from "zod";
import {
  bufferNames,
  degassingMethods,
  dropCheckerColours,
  subjectKinds,
  subjectOf,
  type JournalEntry,
  type JournalFact,
} from "../../lib/journal/journal-entry.js";
import { recordedTasks } from "../../lib/upkeep/recorded-task.js";
import { pressureUnits, type PressureUnit } from "../../lib/quantities/units.js";
import type { StoredJournalRow } from "../ports/site-store.js";

const pressureUnitNames = pressureUnits as readonly [PressureUnit, ...PressureUnit[]];
const number = z.number();
const name = z.string();
const asRead = z.object({ value: number, unit: z.enum(pressureUnitNames) });

/** A fact as it lies in the store. What a later program wrote besides is passed over. */
const storedFact = z.discriminatedUnion("kind", [
  z.object({
    kind: z.literal("kh test"),
    tankId: name,
    kh_dKH: number,
    khUncertainty_dKH: number.exactOptional(),
  }),
  z.object({
    kind: z.literal("degassed pH"),
    tankId: name,
    pH: number,
    how: z.enum(degassingMethods),
    roomCo2_ppm: number.exactOptional(),
    temperature_degC: number.exactOptional(),
  }),
  z.object({ kind: z.literal("drop checker"), tankId: name, colour: z.enum(dropCheckerColours) }),
  z.object({
    kind: z.literal("calibration"),
    sensorId: name,
    buffers: z.array(z.object({ buffer: z.enum(bufferNames), shown: number, temperature_degC: number })),
  }),
  z.object({ kind: z.literal("water change"), tankId: name, changed_L: number }),
  z.object({ kind: z.literal("bubble count"), valveId: name, bubbles_perMin: number }),
  z.object({
    kind: z.literal("gauge reading"),
    vesselId: name,
    pressureGauge_bar: number,
    asRead,
    temperature_degC: number.exactOptional(),
  }),
  z.object({ kind: z.literal("weighing"), vesselId: name, vesselMass_g: number }),
  z.object({
    kind: z.literal("charge closed"),
    vesselId: name,
    acid: z.object({ kind: z.enum(["citric-acid-anhydrous", "citric-acid-monohydrate"]), mass_g: number }),
    sodiumBicarbonate_g: number,
    water_kg: number,
    closedWith: z.enum(["water", "ice"]),
    residualLiquor_L: number.exactOptional(),
    sealedAt_degC: number,
    plannedBicarbonate_g: number.exactOptional(),
    plannedAcid_g: number.exactOptional(),
  }),
  z.object({ kind: z.literal("regulator set"), vesselId: name, outletGauge_bar: number, asRead }),
  z.object({
    kind: z.literal("upkeep done"),
    task: z.enum(recordedTasks),
    subjectKind: z.enum(subjectKinds),
    subjectId: name,
  }),
]);

/** The entry of a row, or undefined where its fact is none that this program knows. */
export function entryFromRow(row: StoredJournalRow): JournalEntry | undefined {
  const fact = factFromJson(row.factJson);
  if (fact === undefined || fact.kind !== row.kind) return undefined;
  const { entryId, at_epochMs, enteredAt_epochMs, source, note, withdrawn, withdrawnAt_epochMs } = row;
  const entry = { entryId, at_epochMs, enteredAt_epochMs, source, note, fact, withdrawn };
  return withdrawnAt_epochMs === undefined ? entry : { ...entry, withdrawnAt_epochMs };
}

/** A fact as a restart will read it (JSON knows no -0), so that memory and disk never differ. */
export function asStored(fact: JournalFact): JournalFact {
  return storedFact.parse(JSON.parse(JSON.stringify(fact)));
}

/** How a fact is written into the store. */
export function columnsOfFact(fact: JournalFact): {
  readonly kind: string;
  readonly subject: string;
  readonly factJson: string;
} {
  return { kind: fact.kind, subject: subjectOf(fact).id, factJson: JSON.stringify(fact) };
}

function factFromJson(json: string): JournalFact | undefined {
  try {
    return storedFact.parse(JSON.parse(json));
  } catch (error) {
    if (error instanceof SyntaxError || error instanceof z.ZodError) return undefined;
    throw error;
  }
}
