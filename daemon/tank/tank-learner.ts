import { isConfirmedClosed, reportedState, type ValveMemory } from "../../lib/control/control-step.js";
import type { ValveRules } from "../../lib/control/valve-rules.js";
import { normalQuantile80 } from "../../lib/numerics/normal-distribution.js";
import type { DosingCalendar } from "../../lib/schedule/dosing-calendar.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import { runLearningJob, type LearningJob, type LearningResult } from "../../lib/tank/tank-learning-job.js";
import { learntTank } from "../../lib/tank/learnt-tank.js";
import type { ScaledDynamics } from "../../lib/tank/flow-outlook.js";
import { co2InSilence, followSilence, type ProbeSilence } from "../../lib/tank/probe-silence.js";
import { tankDynamics } from "../../lib/tank/tank-learning-knowledge.js";
import { isSameLead, leadsWithin, nextUsedLead } from "../../lib/tank/learnt-lead.js";
import { ruleWithLead, shortPauses_min } from "../../lib/tank/window-leads.js";
import type { LearningMinute } from "../../lib/tank/learning-minute.js";
import { withLearningResult } from "../../lib/tank/learning-results.js";
import { stepLearning } from "../../lib/tank/tank-learning.js";
import {
  emptyTankLearning,
  type LearntNight,
  type TankLearning,
  type UsedLead,
} from "../../lib/tank/tank-learning-state.js";
import { learningConditions, stuckValveReason } from "./learning-alarms.js";
import { learningFrom, storedLearning } from "./learning-memory.js";
import type { JobRunner } from "../ports/job-runner.js";
import type { Logger } from "../ports/logger.js";
import type { SiteStore } from "../ports/site-store.js";
import type { SiteModel, TankModel } from "../site-model.js";
import type { ValveStatus } from "../site-status.js";
import type { TankEstimate } from "./estimated-tank.js";
import type { LearntTankStatus } from "./learnt-tank-status.js";
import { lightsAround, type LightsAround } from "./tank-lights.js";

/** What a control pass has found, for the learning after it. */
export interface PassedTick {
  readonly now_epochMs: number;
  readonly now_monotonicMs: number;
  readonly model: SiteModel;
  readonly tanks: readonly TankEstimate[];
  readonly valves: readonly ValveStatus[];
  readonly memories: ReadonlyMap<string, ValveMemory>;
}

export interface TankLearner {
  /** Takes a minute into every tank, once a minute, and has fits made. Returns whether one was taken. */
  follow(tick: PassedTick): boolean;
  views(model: SiteModel, now_epochMs: number): readonly LearntTankStatus[];
  /** How the tank answers to gas, on the scale of its estimate; the reason where that is not known. */
  dynamicsOf(tankId: string, now_epochMs: number): ScaledDynamics | { readonly because: string };
  /** The nights that were looked at, oldest first. */
  nightsOf(tankId: string): readonly LearntNight[];
  /** The leads in use; undefined where the config's holds. */
  usedLead(tankId: string): UsedLead | undefined;
  /** The lead that is to be used from now on, by what was learnt; undefined where nothing is to move. */
  movedLead(tank: TankModel, now_epochMs: number): UsedLead | undefined;
  takeLead(tankId: string, lead: UsedLead): void;
  /** Another config: what the lead begins from, and its limits, may have changed. */
  reconcile(model: SiteModel): void;
  save(): void;
}

export const learningSnapshotName = "learning";

const everyMinute_ms = 60_000;
const waterChangesFrom_ms = 48 * 3_600_000;
const hour_ms = 3_600_000;

/** Does the fits where they hold up no control pass; a job that could not be done is dropped. */
export type LearningRunner = JobRunner<LearningJob, LearningResult>;

/** Fits in the caller's own thread: for a program without one of its own for them. */
export const learningHere: LearningRunner = {
  run: (job, done) => {
    done(runLearningJob(job));
  },
  stop: () => Promise.resolve(),
};

/** What each tank's nights and mornings teach. Nothing of it is in the way of a control pass. */
export function createTankLearner(
  ports: {
    readonly store: Pick<SiteStore, "saveSnapshot">;
    readonly journal: Pick<JournalView, "entriesOf">;
    readonly runner: LearningRunner;
    readonly logger: Logger;
    /** Another text as soon as another calibration counts. */
    readonly correctionOf: (sensorId: string) => string;
  },
  restored: unknown,
): TankLearner {
  const { store, journal, runner, logger } = ports;
  const states = learningFrom(restored, (tankId, reason) => {
    logger.error({ tank: tankId, reason }, "what was learnt of a tank cannot be read and is forgotten");
  });
  /** A restart bridges nothing: what gas did meanwhile is not known. */
  const silences = new Map<string, ProbeSilence | undefined>();
  /** That each tank's CO2 was reckoned with in its last minute. */
  const hardness = new Map<string, number>();
  const lightsOf = new Map<string, { readonly calendar: DosingCalendar; readonly lights: LightsAround }>();
  let taken_monotonicMs = Number.NEGATIVE_INFINITY;
  let savedKey = keyOf();
  let isBusy = false;
  let views: readonly LearntTankStatus[] | undefined;

  return {
    follow(tick) {
      const isDue = tick.now_monotonicMs - taken_monotonicMs >= everyMinute_ms;
      if (isDue) {
        taken_monotonicMs = tick.now_monotonicMs;
        for (const tankId of states.keys()) if (!tick.model.tanks.has(tankId)) states.delete(tankId);
        for (const tank of tick.model.tanks.values()) {
          orForget(tank.tankId, () => {
            takeMinute(tank, tick);
          });
        }
        views = undefined;
        saveIfChanged();
      }
      runNext();
      return isDue;
    },
    views(model, now_epochMs) {
      views ??= [...model.tanks.values()].flatMap(
        (tank) => orForget(tank.tankId, () => viewOf(tank, model, now_epochMs)) ?? [],
      );
      return views;
    },
    dynamicsOf(tankId, now_epochMs) {
      const state = states.get(tankId);
      if (state === undefined) return { because: "nothing has been learnt of this tank yet" };
      const water = {
        kh_dKH: hardness.get(tankId) ?? state.nights.at(-1)?.kh_dKH ?? 0,
        temperature_degC: state.samples.at(-1)?.[2] ?? null,
      };
      const tank = tankDynamics(state, water, now_epochMs);
      return "because" in tank ? tank : { tank, scale_ratio: state.scale_ratio };
    },
    nightsOf: (tankId) => states.get(tankId)?.nights ?? [],
    usedLead: (tankId) => states.get(tankId)?.usedLead,
    movedLead(tank, now_epochMs) {
      const state = states.get(tank.tankId);
      if (state === undefined || tank.useLearntLead === undefined) return undefined;
      const next = orForget(tank.tankId, () => nextLeadOf(tank, state, now_epochMs));
      if (next === undefined) return undefined;
      return movesGas(tank, state.usedLead, next) ? next : undefined;
    },
    takeLead(tankId, usedLead) {
      const state = states.get(tankId);
      if (state !== undefined) states.set(tankId, { ...state, usedLead });
      views = undefined;
      saveIfChanged();
    },
    reconcile(model) {
      views = undefined;
      for (const { tankId, dosing, useLearntLead: limits } of model.tanks.values()) {
        const state = states.get(tankId);
        const used = state?.usedLead;
        if (state === undefined || used === undefined) continue;
        const holds = limits !== undefined && used.configured_min === dosing.lead_min;
        const usedLead = holds ? leadsWithin(used, limits) : undefined;
        states.set(tankId, { ...state, usedLead });
      }
    },
    save,
  };

  function nextLeadOf(tank: TankModel, state: TankLearning, now_epochMs: number): UsedLead {
    const nights = state.nights.filter(({ fit, aeration }) => fit.kind === "fitted" && aeration === "off");
    const offer =
      state.outlook === undefined ? undefined : { lead: state.outlook.lead, nights: nights.length };
    const { dosing, useLearntLead } = tank;
    const pauses_min = shortPauses_min(dosing);
    return nextUsedLead(state.usedLead, dosing.lead_min, useLearntLead, offer, now_epochMs, pauses_min);
  }

  function movesGas({ dosing }: TankModel, before: UsedLead | undefined, next: UsedLead): boolean {
    if (before === undefined) return ruleWithLead(dosing, next) !== dosing;
    return !isSameLead(before, next);
  }

  /** What was learnt of a tank and cannot be worked with is forgotten: a control pass never fails by it. */
  function orForget<Result>(tankId: string, work: () => Result): Result | undefined {
    try {
      return work();
    } catch (error) {
      states.delete(tankId);
      logger.error(
        { tank: tankId, reason: error instanceof Error ? error.message : String(error) },
        "what was learnt of a tank cannot be used and is forgotten",
      );
      return undefined;
    }
  }

  function takeMinute(tank: TankModel, tick: PassedTick): void {
    const minute = minuteOf(tank, tick);
    if (minute === undefined) return;
    hardness.set(tank.tankId, minute.water.kh_dKH);
    silences.set(tank.tankId, followSilence(silences.get(tank.tankId), minute));
    states.set(tank.tankId, stepLearning(states.get(tank.tankId) ?? emptyTankLearning, minute));
  }

  function minuteOf(tank: TankModel, tick: PassedTick): LearningMinute | undefined {
    const { tankId, phSensorId } = tank;
    const { now_epochMs, model } = tick;
    const estimate = tick.tanks.find((candidate) => candidate.tankId === tankId);
    const valve = [...model.valves.values()].find(({ rules }) => rules.tankIds.includes(tankId));
    if (phSensorId === undefined || estimate === undefined || valve === undefined) return undefined;
    const memory = tick.memories.get(valve.rules.valveId);
    const window = tick.valves.find(({ valveId }) => valveId === valve.rules.valveId)?.window;
    const known = lightsOf.get(tankId);
    const lights = lightsAround(
      tank.lights,
      now_epochMs,
      known?.calendar === tank.lights ? known.lights : undefined,
    );
    lightsOf.set(tankId, { calendar: tank.lights, lights });
    const { gain, offset } = model.sensors.get(phSensorId)?.rules.calibration ?? { gain: 1, offset: 0 };
    const { co2 } = estimate;
    return {
      now_epochMs,
      pH: estimate.pH,
      temperature_degC: estimate.temperature_degC,
      correction: `${phSensorId} ${gain} ${offset} ${ports.correctionOf(phSensorId)}`,
      water: { kh_dKH: estimate.hardness.kh_dKH, salts: tank.salts },
      estimate:
        co2 === undefined
          ? undefined
          : {
              co2_mgPerL: co2.co2_mgPerL,
              co2Sigma_ln: Math.log(co2.co2High80_mgPerL / co2.co2Low80_mgPerL) / (2 * normalQuantile80),
            },
      gas: gasOf(valve.rules, memory),
      lightsAreOn: lights.lightsAreOn,
      lightsOn_epochMs:
        lights.untilLightsOn_h === undefined ? undefined : now_epochMs + lights.untilLightsOn_h * hour_ms,
      lightsOff_epochMs:
        lights.sinceLightsOff_h === undefined ? undefined : now_epochMs - lights.sinceLightsOff_h * hour_ms,
      opens_epochMs: window?.kind === "closed" ? window.opens_epochMs : undefined,
      aeration: aerationOf(valve.rules, memory),
      waterChanges_epochMs: journal
        .entriesOf("water change", tankId, now_epochMs - waterChangesFrom_ms)
        .map(({ at_epochMs }) => at_epochMs),
      limits: tank.limits,
    };
  }

  function viewOf(tank: TankModel, model: SiteModel, now_epochMs: number): readonly LearntTankStatus[] {
    const state = states.get(tank.tankId);
    if (state === undefined || tank.phSensorId === undefined) return [];
    const kh_dKH = hardness.get(tank.tankId) ?? tank.kh_dKH;
    const water = { kh_dKH, temperature_degC: state.samples.at(-1)?.[2] ?? null };
    const view: LearntTankStatus = {
      ...learntTank(state, kh_dKH, now_epochMs),
      inSilence: co2InSilence(silences.get(tank.tankId), state, water, now_epochMs),
      tankId: tank.tankId,
      usedLead_min: state.usedLead?.lead_min ?? tank.dosing.lead_min,
      leadsAfterPauses: state.usedLead?.afterPauses ?? [],
      configuredLead_min: tank.dosing.lead_min,
      useLearntLead: tank.useLearntLead,
    };
    // The pass words its alarm and its trip from this, with nothing between to catch what fails.
    learningConditions([view], model, []);
    stuckValveReason(view);
    return [view];
  }

  /** One fit at a time; the tanks take turns. */
  function runNext(): void {
    if (isBusy) return;
    for (const [tankId, { due }] of states) {
      const [job] = due;
      if (job === undefined) continue;
      isBusy = true;
      const done = (result: LearningResult | undefined): void => {
        isBusy = false;
        const state = states.get(tankId);
        if (state === undefined) return;
        const without = { ...state, due: state.due.filter((other) => other !== job) };
        orForget(tankId, () => {
          states.set(tankId, result === undefined ? without : withLearningResult(state, job, result));
        });
        views = undefined;
        saveIfChanged();
      };
      try {
        runner.run(job, done);
      } catch (error) {
        logger.error(
          { reason: error instanceof Error ? error.message : String(error), job: job.kind },
          "a fit of a tank failed",
        );
        done(undefined);
      }
      return;
    }
  }

  /** What is worth a writing: by day nothing changes, at night each five minutes. */
  function keyOf(): string {
    return [...states]
      .map(([tankId, state]) => {
        const isUnderWay = state.night !== undefined || state.morning !== undefined;
        const sample = isUnderWay ? state.samples.at(-1)?.[0] : undefined;
        const fits = state.nights.map(({ from_epochMs, fit }) => `${from_epochMs}${fit.kind}`);
        return [
          tankId,
          state.correction,
          sample,
          ...fits,
          state.mornings.at(-1)?.from_epochMs,
          state.verdict?.at_epochMs,
          state.uptake?.at_epochMs,
          JSON.stringify(state.usedLead),
        ].join("|");
      })
      .join(";");
  }

  function saveIfChanged(): void {
    if (keyOf() !== savedKey) save();
  }

  function save(): void {
    savedKey = keyOf();
    void store.saveSnapshot(learningSnapshotName, storedLearning(states));
  }
}

function gasOf(rules: ValveRules, memory: ValveMemory | undefined): LearningMinute["gas"] {
  if (memory === undefined) return "not known";
  if (reportedState(rules, memory) === "open") return "on";
  return isConfirmedClosed(rules, memory) ? "confirmed off" : "not known";
}

/** The pump runs when its relay has dropped; a tank without one has none. */
function aerationOf(rules: ValveRules, memory: ValveMemory | undefined): LearningMinute["aeration"] {
  if (rules.airPumpRelay === undefined) return "off";
  switch (memory?.relays[rules.airPumpRelay.relayId]?.reported) {
    case "on":
      return "off";
    case "off":
      return "running";
    case undefined:
      return "not known";
  }
}
