import { z } from "zod";
import type { SupplyReading } from "../../lib/estimation/supply-trace.js";
import {
  firstEndOfChargeState,
  type EndHold,
  type EndOfChargeState,
} from "../../lib/supply-watch/end-of-charge.js";
import type { DoseSeen } from "../../lib/supply-watch/surge-verdict.js";
import type { SupplyCheckpoint } from "./supply-job.js";
import { nothingHeard, type Heard } from "./vessel-ear.js";

/** What was told of a run-out, so that it is not told again. */
export interface ToldRunOut {
  readonly at_epochMs: number;
  readonly median_epochMs: number;
}

/** Days left have fallen below a limit and not yet risen above it by more than a deadband. */
export interface RunOutLimits {
  readonly isLow: boolean;
  readonly isVeryLow: boolean;
}

/** What was known of the charge at the last estimate: the record of it, once another takes its place. */
export interface SupplySummary {
  readonly at_epochMs: number;
  readonly charge_g: number;
  readonly gave_g: number;
  readonly gaveLow80_g: number;
  readonly gaveHigh80_g: number;
  readonly leak_gPerDay: number;
  readonly pressureFrom: string;
}

/** What the estimate of one vessel goes on from. Everything else follows from it. */
export interface SupplyMemory {
  readonly chargeKey: string;
  readonly closedAt_epochMs: number;
  /** Undefined: the rows reach back to where the following began. */
  readonly checkpoint: SupplyCheckpoint | undefined;
  readonly rows: readonly SupplyReading[];
  readonly heard: Heard;
  readonly limits: RunOutLimits;
  readonly told: ToldRunOut | undefined;
  readonly summary: SupplySummary | undefined;
  /** Where the end of this charge stands by the last estimate: it holds from the first pass after a restart. */
  readonly end: EndOfChargeState;
  /** A hold of the charge before, until the gauge has seen the new one come up. */
  readonly heldBefore: EndHold | undefined;
  /** What mornings of this charge have taught of the doses of its tanks, oldest first. */
  readonly doses: readonly DoseSeen[];
}

export const supplyMemoryVersion = 1;

/** A month of rows. So many come together only while no estimate can be made; what holds a valve shut has to outlive that. */
const mostStoredRows = 5000;

export function emptySupplyMemory(charge: {
  readonly key: string;
  readonly closedAt_epochMs: number;
}): SupplyMemory {
  return {
    chargeKey: charge.key,
    closedAt_epochMs: charge.closedAt_epochMs,
    checkpoint: undefined,
    rows: [],
    heard: nothingHeard,
    limits: { isLow: false, isVeryLow: false },
    told: undefined,
    summary: undefined,
    end: firstEndOfChargeState,
    heldBefore: undefined,
    doses: [],
  };
}

const number = z.number();
const maybe = number.nullable();
const row = z.tuple([number, z.union([z.literal(0), z.literal(1)]), maybe, maybe, maybe]);
const look = z.object({
  at_epochMs: number,
  gauge_bar: number,
  closeBelowGauge_bar: number,
  from: z.enum(["sensor", "by eye", "by eye, from afar", "by eye, long ago"]),
});
const hold = z.object({
  since_epochMs: number,
  gauge_bar: number,
  closeBelowGauge_bar: number,
  from: z.enum(["sensor", "by eye"]),
});
export const endState = z
  .object({
    version: z.literal(1),
    last: look.optional(),
    lowSince_epochMs: number.optional(),
    highSince_epochMs: number.optional(),
    held: hold.optional(),
  })
  .transform((read): EndOfChargeState => ({ ...firstEndOfChargeState, ...read }));
const stored = z.object({
  version: z.literal(supplyMemoryVersion),
  chargeKey: z.string(),
  closedAt_epochMs: number,
  checkpoint: z
    .object({
      upTo_epochMs: number,
      sensor_epochMs: number.optional(),
      doubt: z.object({ id: z.string(), text: z.string() }).optional(),
      watch: z.looseObject({ version: z.literal(1) }),
      end: endState.default(firstEndOfChargeState),
      // Written by this very version of the filter; its own version tells.
      state: z.looseObject({
        version: z.literal(1),
        at_epochMs: number,
        hypotheses: z.array(z.looseObject({ mean: z.array(number), covariance: z.array(number) })).min(1),
        gathered: z.looseObject({ last_epochMs: number }),
        use: z.looseObject({ mean_ratio: number }),
      }),
    })
    .optional(),
  rows: z.array(row).max(mostStoredRows),
  heard: z.object({
    seen_epochMs: number.optional(),
    isOpen: z.boolean(),
    pressureSum_bar: number,
    pressureCount: number,
    pressureTaken_epochMs: number.optional(),
    temperatureSum_degC: number,
    temperatureCount: number,
    temperatureTaken_epochMs: number.optional(),
    massSum_g: number.default(0),
    massCount: number.default(0),
    massTaken_epochMs: number.optional(),
  }),
  limits: z.object({ isLow: z.boolean(), isVeryLow: z.boolean() }),
  told: z.object({ at_epochMs: number, median_epochMs: number }).optional(),
  summary: z
    .object({
      at_epochMs: number,
      charge_g: number,
      gave_g: number,
      gaveLow80_g: number,
      gaveHigh80_g: number,
      leak_gPerDay: number,
      pressureFrom: z.string(),
    })
    .optional(),
  end: endState.default(firstEndOfChargeState),
  heldBefore: hold.optional(),
  doses: z
    .array(
      z.object({
        tankId: z.string(),
        at_epochMs: number,
        dose_mgPerLPerH: number,
        doseLow80_mgPerLPerH: number,
        doseHigh80_mgPerLPerH: number,
      }),
    )
    .default([]),
});

/** As plain data that JSON takes without a loss. */
export function storedSupplies(
  memories: ReadonlyMap<string, SupplyMemory>,
): Readonly<Record<string, unknown>> {
  return Object.fromEntries(
    [...memories].map(([vesselId, memory]) => [
      vesselId,
      {
        version: supplyMemoryVersion,
        ...memory,
        heard: { ...memory.heard, unknownSince_monotonicMs: undefined },
        rows: memory.rows
          .slice(-mostStoredRows)
          .map((one) => [
            one.at_epochMs,
            one.valveOpen ? 1 : 0,
            one.pressureGauge_bar ?? null,
            one.temperature_degC ?? null,
            one.vesselMass_g ?? null,
          ]),
      },
    ]),
  );
}

/** What an earlier run left; nothing of a vessel of which it cannot be read, or is of another version. */
export function suppliesFrom(state: unknown): Map<string, SupplyMemory> {
  const read = z.record(z.string(), z.unknown()).safeParse(state);
  const memories = new Map<string, SupplyMemory>();
  for (const [vesselId, one] of Object.entries(read.success ? read.data : {})) {
    const parsed = stored.safeParse(one);
    if (!parsed.success) continue;
    const {
      chargeKey,
      closedAt_epochMs,
      checkpoint,
      rows,
      heard,
      limits,
      told,
      summary,
      end,
      heldBefore,
      doses,
    } = parsed.data;
    memories.set(vesselId, {
      chargeKey,
      closedAt_epochMs,
      limits,
      told,
      summary,
      end,
      heldBefore,
      doses,
      checkpoint: checkpoint as SupplyCheckpoint | undefined,
      rows: rows.map(readingOf),
      heard: { ...nothingHeard, ...heard },
    });
  }
  return memories;
}

function readingOf([at_epochMs, open, pressure, temperature, mass]: z.output<typeof row>): SupplyReading {
  return {
    at_epochMs,
    valveOpen: open === 1,
    ...(pressure === null ? {} : { pressureGauge_bar: pressure }),
    ...(temperature === null ? {} : { temperature_degC: temperature }),
    ...(mass === null ? {} : { vesselMass_g: mass }),
  };
}
