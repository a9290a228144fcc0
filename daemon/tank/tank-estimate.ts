import { agedColour } from "../../lib/tank/aged-colour.js";
import { colourWitness } from "../../lib/tank/colour-witness.js";
import { fastRise, stepShownBand, type Co2Band, type Co2BandState } from "../../lib/tank/co2-bands.js";
import type { Co2Jump } from "../../lib/tank/co2-jump.js";
import { probeNow, type ProbeNow } from "../../lib/tank/probe-record.js";
import type { RateOfRise } from "../../lib/tank/rate-of-rise.js";
import { tankCautions } from "../../lib/tank/tank-cautions.js";
import { tankCo2, type TankCo2Estimate, type TankKnowledge } from "../../lib/tank/tank-co2.js";
import type { FreshnessInstant } from "../../lib/readings/sensor-freshness.js";
import type { SiteStore } from "../ports/site-store.js";
import type { DoubtedPh, ProbeCorrections } from "./probe-corrections.js";
import { widthReasonOf, withDoubt, type DoubtedEstimate } from "./doubted-estimate.js";
import type { SensorInbox } from "../sensor-inbox.js";
import type { SiteModel, TankModel } from "../site-model.js";
import {
  baselineOf,
  hardnessOf,
  knownBaseline,
  knownHardness,
  seenColour,
  type BaselineInUse,
  type HardnessInUse,
  type TankJournal,
  type ToldColour,
} from "./tank-facts.js";
import { dropCheckerStatus, pastOf, withFollowedLiquid } from "./tank-drop-checker.js";
import { lightsAround, type LightsAround } from "./tank-lights.js";
import { emptyTankMemory, memoriesFrom, storedMemories, type TankMemory } from "./tank-memory.js";
import { assumedTemperature, type DropCheckerStatus, type TankEstimate } from "./estimated-tank.js";
import { probeStatus } from "./probe-status.js";
import {
  jumpOf,
  riseOf,
  waterChangeOf,
  withCorrection,
  withTracePoint,
  type TimedRise,
} from "./tank-trace.js";
import { unknownTank } from "./unknown-tank.js";

export interface TankEstimator {
  /** Every tank at this instant. Works anew only what has changed, or is a minute old. */
  estimate(model: SiteModel, inbox: SensorInbox, now: FreshnessInstant): readonly TankEstimate[];
  /** Brings what a restart goes on from to the disk. */
  save(): void;
}

export interface TankEstimatorPorts {
  readonly journal: TankJournal;
  readonly corrections: ProbeCorrections;
  readonly store: Pick<SiteStore, "saveSnapshot">;
}

export const tankSnapshotName = "tanks";

const thermometerUncertainty_K = 0.5;
/** An estimate is worked out again when its inputs have moved by more than noise, or after this time: what ages, ages slowly. */
const recompute_ms = 60_000;
const moved = { pH: 0.005, temperature_K: 0.2 } as const;
/** A restart loses at most so much of the trace; on a memory card every writing counts. */
const save_ms = 300_000;
/** Longer ago, the room's air says nothing of the day on which the sample was read. */
const degassedNow_ms = 30 * 60_000;

/** What one estimate was worked out from. */
interface Inputs {
  readonly at_monotonicMs: number;
  readonly pH: number | undefined;
  readonly temperature_degC: number | undefined;
  readonly journal: string;
  readonly tank: TankModel;
}

interface TankState {
  memory: TankMemory;
  inputs: Inputs | undefined;
  worked: Worked | undefined;
  rise: TimedRise | undefined;
  lights: LightsAround | undefined;
  /** Of the band beside the value, which has no delay. A restart needs none: a first estimate counts at once. */
  presentBand: Co2BandState | undefined;
}

/** What is worked out anew only now and then. */
interface Worked {
  readonly hardness: HardnessInUse;
  readonly baseline: BaselineInUse | undefined;
  readonly probe: ProbeNow | undefined;
  readonly estimate: DoubtedEstimate | undefined;
  readonly rise: RateOfRise | undefined;
  readonly jump: Co2Jump | undefined;
  readonly dropChecker: DropCheckerStatus | undefined;
  readonly lights: LightsAround;
}

const newState: TankState = {
  memory: emptyTankMemory,
  inputs: undefined,
  worked: undefined,
  rise: undefined,
  lights: undefined,
  presentBand: undefined,
};

/** The CO2 of every tank, with what its estimate must remember from one minute to the next. */
export function createTankEstimator(
  ports: TankEstimatorPorts,
  restored: unknown,
  started: FreshnessInstant,
): TankEstimator {
  const { journal, corrections, store } = ports;
  const states = new Map<string, TankState>();
  for (const [tankId, memory] of memoriesFrom(restored, started)) {
    states.set(tankId, { ...newState, memory });
  }
  let saved_monotonicMs = started.now_monotonicMs;

  return {
    estimate(model, inbox, now) {
      for (const tankId of states.keys()) if (!model.tanks.has(tankId)) states.delete(tankId);
      const estimates = [...model.tanks.values()].map((tank) => estimateSafely(tank, model, inbox, now));
      if (now.now_monotonicMs - saved_monotonicMs >= save_ms) {
        saved_monotonicMs = now.now_monotonicMs;
        save();
      }
      return estimates;
    },
    save,
  };

  function save(): void {
    const memories = new Map([...states].map(([tankId, { memory }]) => [tankId, memory]));
    void store.saveSnapshot(tankSnapshotName, storedMemories(memories));
  }

  /** Whatever becomes of one tank, the others are judged. */
  function estimateSafely(
    tank: TankModel,
    model: SiteModel,
    inbox: SensorInbox,
    now: FreshnessInstant,
  ): TankEstimate {
    try {
      return estimateOne(tank, model, inbox, now);
    } catch (error) {
      // What was followed until now may be what fails.
      const state = states.get(tank.tankId);
      states.set(tank.tankId, {
        ...newState,
        memory: { ...emptyTankMemory, band: state?.memory.band, degassedIn: state?.memory.degassedIn },
      });
      return unknownTank(tank, {
        fault: error instanceof Error ? error.message : String(error),
        temperature_degC: inbox.freshValue(tank.temperatureSensorId, now),
        lastBand: bandOf(state?.memory.band),
      });
    }
  }

  function estimateOne(
    tank: TankModel,
    model: SiteModel,
    inbox: SensorInbox,
    now: FreshnessInstant,
  ): TankEstimate {
    const state = states.get(tank.tankId) ?? { ...newState };
    states.set(tank.tankId, state);
    const pH = inbox.freshValue(tank.phSensorId, now);
    const temperature_degC = inbox.freshValue(tank.temperatureSensorId, now);
    const roomCo2_ppm = inbox.freshValue(tank.roomCo2SensorId, now);
    const inputs: Inputs = {
      at_monotonicMs: now.now_monotonicMs,
      pH,
      temperature_degC,
      journal: journalKey(tank),
      tank,
    };
    const lastReading =
      tank.phSensorId === undefined ? undefined : inbox.view(tank.phSensorId, now)?.lastAccepted;
    let { worked } = state;
    if (worked === undefined || state.inputs === undefined || hasMoved(state.inputs, inputs)) {
      worked = workOut(
        state,
        model,
        { ...inputs, roomCo2_ppm, readAt_epochMs: lastReading?.at_epochMs },
        now,
      );
      state.inputs = inputs;
      state.worked = worked;
    }
    const { estimate, rise, jump } = worked;
    const widthReason = widthReasonOf(estimate, worked.probe, tank.limits);
    const band = stepShownBand(
      { held: state.memory.band, present: state.presentBand },
      { estimate, rise, jump, now_monotonicMs: now.now_monotonicMs },
      tank.limits,
    );
    state.memory = { ...state.memory, band: band.state.held };
    state.presentBand = band.state.present;
    return {
      tankId: tank.tankId,
      hardness: worked.hardness,
      baseline: worked.baseline,
      pH,
      pHForFloor:
        pH === undefined ? undefined : (pHBefore(state, tank, model, pH, now.now_epochMs)?.pH ?? pH),
      fault: undefined,
      temperature_degC,
      temperatureIsAssumed: temperature_degC === undefined,
      roomCo2_ppm,
      co2: estimate,
      co2At_epochMs: estimate === undefined ? undefined : lastReading?.at_epochMs,
      methods: estimate?.methods ?? [],
      agreement: estimate?.agreement,
      remarks: estimate?.remarks ?? [],
      band: band.band,
      lastBand: bandOf(band.state.held),
      bandReasons:
        band.band === "close" && widthReason !== undefined
          ? [...band.reasons, `${capital(widthReason)}.`]
          : band.reasons,
      widthReason,
      rise,
      jump,
      risesTooFast: fastRise({ estimate, rise, jump }, tank.limits),
      cautions: tankCautions({
        co2_mgPerL: estimate?.co2_mgPerL,
        limits: tank.limits,
        ...worked.lights,
        temperature_degC,
        keepsShrimp: tank.animals.includes("shrimp"),
        keepsFry: tank.animals.includes("fry"),
      }),
      dropChecker: worked.dropChecker,
      probe: worked.probe === undefined ? undefined : probeStatus(worked.probe),
    };
  }

  /** Another text as soon as an entry that the estimate rests on is added or withdrawn. */
  function journalKey(tank: TankModel): string {
    const { tankId, phSensorId } = tank;
    const newest = (["kh test", "degassed pH", "drop checker"] as const).map(
      (kind) => journal.latest(kind, tankId)?.entryId,
    );
    const changes = journal.entriesOf("water change", tankId, Number.NEGATIVE_INFINITY);
    return [
      ...newest,
      changes.map(({ entryId }) => entryId).join("."),
      phSensorId === undefined ? "" : corrections.keyOf(phSensorId),
    ].join("|");
  }

  function workOut(
    state: TankState,
    model: SiteModel,
    seen: Inputs & {
      readonly roomCo2_ppm: number | undefined;
      readonly readAt_epochMs: number | undefined;
    },
    now: FreshnessInstant,
  ): Worked {
    const { tank, pH } = seen;
    const { now_epochMs } = now;
    const lights = lightsAround(tank.lights, now_epochMs, state.lights);
    state.lights = lights;
    const hardness = hardnessOf(tank, journal);
    const baseline = withRoom(state, baselineOf(tank, journal), seen.roomCo2_ppm, now_epochMs);
    const probe = tank.phSensorId === undefined ? undefined : probeOf(tank.phSensorId, model, now_epochMs);
    if (pH === undefined || tank.phSensorId === undefined || probe === undefined) {
      const dropChecker = dropCheckerStatus(state.memory, tank, journal, undefined, now_epochMs);
      const unknown = { estimate: undefined, rise: undefined, jump: undefined };
      return { hardness, baseline, probe, ...unknown, dropChecker, lights };
    }
    const corrected = withCorrection(state.memory, correctionKey(tank.phSensorId, model), pH);
    if (corrected !== state.memory) state.rise = undefined;
    state.memory = withTracePoint(corrected, pH, seen.readAt_epochMs, now);
    const known = {
      pH,
      temperature_degC: seen.temperature_degC ?? assumedTemperature.temperature_degC,
      temperatureUncertainty_K:
        seen.temperature_degC === undefined ? assumedTemperature.uncertainty_K : thermometerUncertainty_K,
      salts: tank.salts,
      phosphate_mgPerL: tank.phosphate_mgPerL,
      hardness: knownHardness(tank, journal, hardness, now_epochMs),
      baseline:
        baseline === undefined ? undefined : knownBaseline(tank, journal, baseline, probe, now_epochMs),
      colour: seenColour(tank, journal, pastOf(state.memory, tank, pH, now_epochMs), now_epochMs),
      probe,
    };
    const believed = tankCo2(known);
    hearWitness(state, tank, model, known, believed, now_epochMs);
    const doubtedFrom = pHBefore(state, tank, model, pH, now_epochMs);
    const estimate = withDoubt(
      believed,
      doubtedFrom === undefined ? undefined : tankCo2({ ...known, pH: doubtedFrom.pH }),
      doubtedFrom?.because,
    );
    if (estimate !== undefined) {
      const water = { pH, byProbe_mgPerL: estimate.byProbe_mgPerL };
      state.memory = withFollowedLiquid(state.memory, tank, water, now_epochMs);
    }
    const temperature_degC = seen.temperature_degC ?? assumedTemperature.temperature_degC;
    const present =
      estimate === undefined
        ? undefined
        : {
            co2_mgPerL: estimate.co2_mgPerL,
            pH,
            waterChanged_monotonicMs: waterChangeOf(tank, journal, now),
          };
    if (present !== undefined) state.rise = riseOf(state.memory, state.rise, tank, present, now);
    return {
      hardness,
      baseline,
      probe,
      estimate,
      rise: present === undefined ? undefined : state.rise?.rise,
      jump: present === undefined ? undefined : jumpOf(state.memory, tank, present, now),
      dropChecker: dropCheckerStatus(
        state.memory,
        tank,
        journal,
        estimate === undefined ? undefined : { pH, co2_mgPerL: estimate.byProbe_mgPerL, temperature_degC },
        now_epochMs,
      ),
      lights,
    };
  }

  function pHBefore(
    state: TankState,
    tank: TankModel,
    model: SiteModel,
    pH: number,
    now_epochMs: number,
  ): DoubtedPh | undefined {
    const sensor = tank.phSensorId === undefined ? undefined : model.sensors.get(tank.phSensorId);
    return corrections.phBefore(sensor, pH, now_epochMs, isWitnessed(state, tank));
  }

  /** Another calibration, or the withdrawal of the colour, and it bears nothing out any more. */
  function isWitnessed({ memory: { witnessed } }: TankState, { tankId, phSensorId }: TankModel): boolean {
    if (witnessed === undefined || phSensorId === undefined) return false;
    return (
      witnessed.corrections === corrections.keyOf(phSensorId) &&
      journal
        .entriesOf("drop checker", tankId, Number.NEGATIVE_INFINITY)
        .some(({ entryId }) => entryId === witnessed.entryId)
    );
  }

  /** A colour that a person entered at the daemon's own machine may lift the doubt of a calibration from afar, or bring it back. */
  function hearWitness(
    state: TankState,
    tank: TankModel,
    model: SiteModel,
    known: TankKnowledge & { readonly colour: ToldColour | undefined },
    believed: TankCo2Estimate | undefined,
    now_epochMs: number,
  ): void {
    const { colour, pH, temperature_degC } = known;
    const { phSensorId, dropChecker } = tank;
    // In a liquid of which the config says nothing, a colour may mean anything.
    if (colour?.source !== "local" || dropChecker?.referenceKh_dKH === undefined) return;
    if (believed === undefined || phSensorId === undefined) return;
    const doubtedPh = corrections.phWithoutRemote(model.sensors.get(phSensorId), pH, now_epochMs);
    const doubted = doubtedPh === undefined ? undefined : tankCo2({ ...known, pH: doubtedPh });
    if (doubted === undefined) return;
    const aged = agedColour(colour, { pH, temperature_degC, co2_mgPerL: believed.byProbe_mgPerL });
    const says = colourWitness(aged, {
      lower_mgPerL: believed.byProbe_mgPerL,
      higher_mgPerL: doubted.byProbe_mgPerL,
    });
    if (says === "says nothing") return;
    const witnessed =
      says === "against the lower figure"
        ? undefined
        : { entryId: colour.entryId, corrections: corrections.keyOf(phSensorId) };
    state.memory = { ...state.memory, witnessed };
  }

  function correctionKey(sensorId: string, model: SiteModel): string {
    const { gain, offset } = model.sensors.get(sensorId)?.rules.calibration ?? { gain: 1, offset: 0 };
    return `${sensorId} ${gain} ${offset} ${corrections.keyOf(sensorId)}`;
  }

  function probeOf(sensorId: string, model: SiteModel, now_epochMs: number): ProbeNow {
    const rules = model.sensors.get(sensorId)?.rules;
    const { gain, offset } = rules?.calibration ?? { gain: 1, offset: 0 };
    return probeNow(
      corrections.recordOf(sensorId),
      { accuracyPh: rules?.accuracy, isCorrected: gain !== 1 || offset !== 0 },
      now_epochMs,
    );
  }

  /** The room's air as its sensor shows it when a degassed pH is entered, where the person did not say. */
  function withRoom(
    state: TankState,
    inUse: BaselineInUse | undefined,
    roomCo2_ppm: number | undefined,
    now_epochMs: number,
  ): BaselineInUse | undefined {
    if (inUse?.entryId === undefined || inUse.at_epochMs === undefined) return inUse;
    if (inUse.baseline.roomCo2_ppm !== undefined) return inUse;
    const { entryId, at_epochMs } = inUse;
    const isNew = state.memory.degassedIn?.entryId !== entryId;
    const isUsable = roomCo2_ppm !== undefined && roomCo2_ppm >= 300 && roomCo2_ppm <= 10_000;
    if (isNew && isUsable && Math.abs(now_epochMs - at_epochMs) <= degassedNow_ms) {
      state.memory = { ...state.memory, degassedIn: { entryId, roomCo2_ppm } };
    }
    const known = state.memory.degassedIn;
    return known?.entryId === entryId
      ? { ...inUse, baseline: { ...inUse.baseline, roomCo2_ppm: known.roomCo2_ppm } }
      : inUse;
  }
}

const capital = (words: string): string => words.charAt(0).toUpperCase() + words.slice(1);

function hasMoved(before: Inputs, now: Inputs): boolean {
  return (
    now.at_monotonicMs - before.at_monotonicMs >= recompute_ms ||
    now.tank !== before.tank ||
    now.journal !== before.journal ||
    differs(before.pH, now.pH, moved.pH) ||
    differs(before.temperature_degC, now.temperature_degC, moved.temperature_K)
  );
}

function differs(before: number | undefined, now: number | undefined, by: number): boolean {
  if (before === undefined || now === undefined) return before !== now;
  return Math.abs(now - before) >= by;
}

function bandOf(state: TankMemory["band"]): Co2Band {
  if (state === undefined) return "not known";
  if (state.close.isAbove) return "close";
  if (state.alarm.isAbove) return "alarm";
  if (state.caution.isAbove) return "caution";
  return state.target.isAbove ? "in target" : "below target";
}
