import { z } from "zod";
import {
  emptyTankLearning,
  tankLearningVersion,
  type TankLearning,
} from "../../lib/tank/tank-learning-state.js";

/** A file may have been changed by hand: each number that is reckoned with is looked at before it is. */
const instant = z.number().min(-8.64e15).max(8.64e15);
const finite = z.number().min(-1e12).max(1e12);
const positive = z.number().min(1e-9).max(1e6);
/** Standard deviations of logarithms. */
const sigma_ln = z.number().min(0).max(10);
const correlation = z.number().min(-1).max(1);
const text = z.string().max(2000);
const sample = z.tuple([instant, z.number().min(-2).max(16), z.number().min(-20).max(100).nullable()]);
const aeration = z.enum(["running", "off"]);
const evidence = z.object({
  watched_h: finite,
  fromCo2_mgPerL: finite,
  toCo2_mgPerL: finite,
  expectedCo2_mgPerL: finite,
  likelihoodRatio: z.number().min(0),
});
const gasStopped = z.object({
  kind: z.literal("gas stopped"),
  // Written before the limit was stated: so much as could be said then.
  leakAtMost_ratio: z.number().min(0).max(1).default(0.7),
  evidence,
});
const notFalling = z.object({ kind: z.literal("not falling"), because: text, evidence });
const gasDidNotStop = z.object({
  kind: z.literal("gas did not stop"),
  suspicion: z.enum(["stuck valve", "leaking seat", "stuck valve or leaking seat"]),
  leak_ratio: finite,
  leakLow80_ratio: finite,
  leakHigh80_ratio: finite,
  alsoPossible: text,
  evidence,
});
const proof = z.discriminatedUnion("kind", [
  gasStopped,
  gasDidNotStop,
  notFalling,
  z.object({ kind: z.literal("not yet"), stuckTold_h: finite, evidence: evidence.optional() }),
  z.object({ kind: z.literal("cannot be told"), because: text, evidence: evidence.optional() }),
]);
const nightFit = z.discriminatedUnion("kind", [
  z.object({
    kind: z.literal("fitted"),
    k_perH: positive,
    kLow80_perH: positive,
    kHigh80_perH: positive,
    kLow90_perH: positive,
    kHigh90_perH: positive,
    kSigma_ln: sigma_ln,
    settledCo2_mgPerL: positive,
    settledSigma_ln: sigma_ln,
    correlation,
    startCo2_mgPerL: positive,
    temperature_degC: z.number().min(-20).max(100).optional(),
    night_h: positive,
    misfit_ratio: finite,
  }),
  z.object({
    kind: z.literal("bounded"),
    kAtLeast_perH: z.number().min(0).max(1e6),
    kAtMost_perH: positive,
    temperature_degC: z.number().min(-20).max(100).optional(),
    night_h: positive,
    because: text,
  }),
  z.looseObject({ kind: z.literal("rejected"), reason: text, because: text }),
  z.object({ kind: z.literal("not used"), because: text }),
]);
const morningRise = z.discriminatedUnion("kind", [
  z.object({
    kind: z.literal("fitted"),
    dose_mgPerLPerH: positive,
    doseSigma_ln: sigma_ln,
    doseWithK: correlation,
    doseWithSettled: correlation,
    doseLow80_mgPerLPerH: z.number().min(0).max(1e6),
    doseHigh80_mgPerLPerH: positive,
    span_h: positive,
  }),
  z.looseObject({ kind: z.literal("rejected"), reason: text, because: text }),
]);
const readings = {
  from_epochMs: instant,
  until_epochMs: instant,
  samples: z.array(sample).max(2000),
  water: z.looseObject({ kh_dKH: positive, salts: z.looseObject({}) }),
};
const job = z.discriminatedUnion("kind", [
  z.looseObject({ kind: z.literal("night"), ...readings, waterChanges_epochMs: z.array(instant).max(1000) }),
  z.looseObject({
    kind: z.literal("morning"),
    ...readings,
    startCo2_mgPerL: finite.optional(),
    known: z.object({
      k_perH: positive,
      kSigma_ln: sigma_ln,
      settledCo2_mgPerL: positive,
      settledSigma_ln: sigma_ln,
    }),
  }),
]);
const stored = z.looseObject({
  version: z.literal(tankLearningVersion),
  lastStep_epochMs: instant.optional(),
  correction: z.string(),
  minutes: z.array(sample).max(100),
  samples: z.array(sample).max(2000),
  lastReading_epochMs: instant.optional(),
  scale_ratio: z.number().min(1e-3).max(1e3),
  night: z
    .looseObject({
      from_epochMs: instant,
      seen_epochMs: instant,
      aeration,
      watchFrom_epochMs: instant,
      proof: proof.optional(),
      proofDue_epochMs: instant,
      againFrom_epochMs: instant.optional(),
    })
    .optional(),
  morning: z.looseObject({ from_epochMs: instant, seen_epochMs: instant, aeration }).optional(),
  lit: z.object({ from_epochMs: instant, seen_epochMs: instant }).optional(),
  uptake: z
    .object({
      at_epochMs: instant,
      kh_dKH: positive,
      uptake: z.discriminatedUnion("kind", [
        z.object({
          kind: z.literal("estimate"),
          uptake_mgPerLPerH: positive,
          uptakeLow80_mgPerLPerH: positive,
          uptakeHigh80_mgPerLPerH: positive,
        }),
        z.object({
          kind: z.literal("at most"),
          uptakeAtMost_mgPerLPerH: z.number().min(0).max(1e6),
          because: text,
        }),
      ]),
    })
    .optional(),
  startCo2_mgPerL: finite.optional(),
  darkBefore: z.object({ until_epochMs: instant, duration_ms: z.number().min(0).max(1e9) }).optional(),
  nights: z
    .array(
      z.looseObject({
        from_epochMs: instant,
        until_epochMs: instant,
        aeration,
        kh_dKH: positive,
        fit: nightFit,
        rest: z
          .object({
            leakOverBreathing_ln: finite,
            aboveAir_mgPerL: positive,
            release_mgPerLPerH: positive,
            usuallyUnder_mgPerL: positive,
          })
          .optional(),
      }),
    )
    .max(100),
  mornings: z
    .array(
      z.looseObject({
        from_epochMs: instant,
        kh_dKH: positive,
        startCo2_mgPerL: finite.optional(),
        rise: morningRise,
      }),
    )
    .max(100),
  verdict: z
    .looseObject({
      at_epochMs: instant,
      nightFrom_epochMs: instant,
      proof: z.discriminatedUnion("kind", [gasStopped, gasDidNotStop, notFalling]),
      isSurelyStuck: z.boolean(),
    })
    .optional(),
  usedLead: z
    .object({
      lead_min: z.number().min(0).max(240).transform(Math.round),
      configured_min: z.number().min(0).max(240),
      moved_epochMs: instant.optional(),
      afterPauses: z
        .array(
          z.object({
            pause_min: z.number().min(0).max(10_080),
            lead_min: z.number().min(0).max(240).transform(Math.round),
          }),
        )
        .max(100)
        .optional(),
    })
    .optional(),
  due: z.array(job).max(100),
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
export function learningFrom(
  state: unknown,
  dropped: (tankId: string, reason: string) => void = () => undefined,
): Map<string, TankLearning> {
  const read = z.record(z.string(), z.unknown()).safeParse(state);
  const states = new Map<string, TankLearning>();
  for (const [tankId, one] of Object.entries(read.success ? read.data : {})) {
    const parsed = stored.safeParse(one);
    if (!parsed.success) {
      const [issue] = parsed.error.issues;
      dropped(tankId, `${issue?.path.join(".") ?? ""}: ${issue?.message ?? ""}`);
      continue;
    }
    states.set(tankId, { ...emptyTankLearning, ...(parsed.data as unknown as TankLearning) });
  }
  return states;
}
