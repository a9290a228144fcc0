import { z } from "zod";
import {
  emptyTankLearning,
  tankLearningVersion,
  type TankLearning,
} from "../../lib/tank/tank-learning-state.js";

/** Enough to know the form; what stands in it was written by this very version of the state. */
const instant = z.number();
const sample = z.tuple([instant, z.number(), z.number().nullable()]);
const kindOf = z.looseObject({ kind: z.string() });
const aeration = z.enum(["running", "off"]);
const stored = z.looseObject({
  version: z.literal(tankLearningVersion),
  lastStep_epochMs: instant.optional(),
  correction: z.string(),
  minutes: z.array(sample).max(100),
  samples: z.array(sample).max(2000),
  lastReading_epochMs: instant.optional(),
  scale_ratio: z.number().positive(),
  night: z
    .looseObject({
      from_epochMs: instant,
      seen_epochMs: instant,
      aeration,
      watchFrom_epochMs: instant,
      proof: kindOf.optional(),
      proofDue_epochMs: instant,
      againFrom_epochMs: instant.optional(),
    })
    .optional(),
  morning: z.looseObject({ from_epochMs: instant, seen_epochMs: instant, aeration }).optional(),
  startCo2_mgPerL: z.number().optional(),
  nights: z
    .array(
      z.looseObject({
        from_epochMs: instant,
        until_epochMs: instant,
        aeration,
        kh_dKH: z.number().positive(),
        fit: kindOf,
      }),
    )
    .max(100),
  mornings: z
    .array(z.looseObject({ from_epochMs: instant, kh_dKH: z.number().positive(), rise: kindOf }))
    .max(100),
  verdict: z
    .looseObject({
      at_epochMs: instant,
      nightFrom_epochMs: instant,
      proof: kindOf,
      isSurelyStuck: z.boolean(),
    })
    .optional(),
  usedLead: z
    .object({
      lead_min: z.number().min(0).max(240),
      configured_min: z.number(),
      moved_epochMs: instant.optional(),
    })
    .optional(),
  due: z.array(kindOf).max(100),
});

/** As plain data. What is worked out again within the first minutes is left out: it may hold what JSON cannot say. */
export function storedLearning(states: ReadonlyMap<string, TankLearning>): unknown {
  return Object.fromEntries(
    [...states].map(([tankId, state]) => {
      const due = state.due.filter(({ kind }) => kind === "night" || kind === "morning");
      return [tankId, { ...state, due, outlook: undefined, overdose: undefined }];
    }),
  );
}

/** What an earlier run left; of a tank that cannot be read, or is of another version, nothing. */
export function learningFrom(state: unknown): Map<string, TankLearning> {
  const read = z.record(z.string(), z.unknown()).safeParse(state);
  const states = new Map<string, TankLearning>();
  for (const [tankId, one] of Object.entries(read.success ? read.data : {})) {
    const parsed = stored.safeParse(one);
    if (!parsed.success) continue;
    states.set(tankId, { ...emptyTankLearning, ...(parsed.data as unknown as TankLearning) });
  }
  return states;
}
