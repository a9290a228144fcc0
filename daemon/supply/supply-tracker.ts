import type { UsedLead } from "../../lib/tank/tank-learning-state.js";
import { ruleWithLead } from "../../lib/tank/window-leads.js";
import { reportedState, type ValveMemory } from "../../lib/control/control-step.js";
import type { Override } from "../../lib/control/decide.js";
import { believedComponent, supplyBelief } from "../../lib/estimation/supply-belief.js";
import { component } from "../../lib/estimation/supply-state.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import { settledFrom_epochMs } from "../../lib/supply-watch/supply-watch.js";
import { releaseAbove_bar, type EndHold } from "../../lib/supply-watch/end-of-charge.js";
import { refillDefaults } from "../config/refill-schema.js";
import type { ClosedVessel } from "../leak-tests/leak-test-keeper.js";
import type { JobRunner } from "../ports/job-runner.js";
import type { Logger } from "../ports/logger.js";
import type { SiteEvent, SiteStore } from "../ports/site-store.js";
import type { SensorView } from "../sensor-inbox.js";
import type { SiteModel } from "../site-model.js";
import type { FollowedSupply } from "./branch-outlook.js";
import { chargeInUse, type ChargeInUse } from "./charge-in-use.js";
import { enteredReadings } from "./entered-readings.js";
import { endedCharge, newlyTold, runOutEvent, summaryOf } from "./supply-events.js";
import { createSupplyWorkshop, type SupplyJob, type SupplyResult } from "./supply-job.js";
import { emptySupplyMemory, storedSupplies, suppliesFrom, type SupplyMemory } from "./supply-memory.js";
import type { RefillWishes } from "./refill-advice.js";
import type { EnteredReading } from "./supply-rows.js";
import { createLiquidEnds, endOfVessel, type EndOfVessel } from "./vessel-ends.js";
import { surgeSigns, withDoses, type LearntDose } from "./surge-signs.js";
import { watchedVessel } from "./watched-vessel.js";
import type { SupplySource, ToldSupply, VesselSupply } from "./vessel-supply.js";
import { steppedLimits } from "./supply-limits.js";
import { hearing, rowsSince, withoutReadings, type HeardReading } from "./vessel-ear.js";

export type SupplyRunner = JobRunner<SupplyJob, SupplyResult>;

/** What a control pass has found, for the supply after it. */
export interface SupplyTick {
  readonly now_epochMs: number;
  readonly now_monotonicMs: number;
  readonly model: SiteModel;
  readonly sensors: readonly SensorView[];
  readonly memories: ReadonlyMap<string, ValveMemory>;
  /** What people wish of the valves until an end. */
  readonly overrides?: readonly Override[];
  /** What each tank's mornings have taught. */
  readonly learnt?: readonly LearntDose[];
  /** The lead in use; undefined where the config's holds. */
  readonly usedLead: (tankId: string) => UsedLead | undefined;
}

export interface SupplyTracker {
  follow(tick: SupplyTick): void;
  views(): readonly VesselSupply[];
  /** What the vessel has shown while closed; undefined where its charge is not followed. */
  closedVessel(vesselId: string): ClosedVessel | undefined;
  /** Where the charge of each vessel stands against its end, as far as a pressure was read. */
  ends(model: SiteModel): readonly EndOfVessel[];
  /** What is believed of its charge; undefined until an estimate has been made. */
  followed(vesselId: string): FollowedSupply | undefined;
  save(): void;
}

export const supplySnapshotName = "supply";

/** Estimates in the caller's own thread: for a program without one of its own for them. */
export function createSupplyHere(): SupplyRunner {
  const workshop = createSupplyWorkshop();
  return {
    run: (job, done) => {
      done(workshop.run(job));
    },
    stop: () => Promise.resolve(),
  };
}

/** Charges and entries are looked for this often: a person who enters one waits for what it does. */
const lookEvery_ms = 5000;
const saveEvery_ms = 30 * 60_000;
/** Advice takes some tenths of a second of a thread, and moves slowly. */
const adviseEvery_ms = 6 * 3_600_000;
/** Three days of rows; beyond that the older half is folded into the checkpoint. */
const mostRows = 432;
/** Two entries so near are one filling, corrected. */
const sameFilling_ms = 12 * 3_600_000;

/** What follows from the memory, and is made anew after a restart. */
interface Running {
  charge: ChargeInUse;
  /** Latest result, with what it was made from. */
  latest: SupplyResult | undefined;
  takenRows: number;
  takenEntries: string;
  suppliedKey: string;
  failure: string | undefined;
  isDue: boolean;
  told: ToldSupply | undefined;
  valves: SupplyJob["valves"];
  advised_epochMs: number | undefined;
}

/** What is left in every vessel. Nothing of it is in the way of a control pass; a valve asks for the end of its charge only. */
export function createSupplyTracker(
  ports: {
    readonly store: Pick<SiteStore, "saveSnapshot">;
    readonly journal: JournalView;
    readonly runner: SupplyRunner;
    readonly logger: Logger;
    readonly record: (event: SiteEvent) => void;
  },
  restored: unknown,
): SupplyTracker {
  const { store, journal, runner, logger, record } = ports;
  const memories = suppliesFrom(restored);
  const running = new Map<string, Running>();
  /** Vessels whose charge is not one that can be followed, with the reason. */
  const unusable = new Map<string, string>();
  /** Since when each running override has been known, by what it says: so long its valve has not followed its windows. */
  let overridesSince = new Map<string, number>();
  let looked_monotonicMs = Number.NEGATIVE_INFINITY;
  let saved_monotonicMs: number | undefined;
  let isBusy = false;

  const liquids = createLiquidEnds(restored);

  return { follow, views, closedVessel, followed, ends, save };

  function follow(tick: SupplyTick): void {
    const isLooking = tick.now_monotonicMs - looked_monotonicMs >= lookEvery_ms;
    if (isLooking) {
      looked_monotonicMs = tick.now_monotonicMs;
      for (const vesselId of [...memories.keys(), ...unusable.keys()]) {
        if (!tick.model.vessels.has(vesselId)) forget(vesselId);
      }
      overridesSince = new Map(
        (tick.overrides ?? []).map((override) => {
          const key = JSON.stringify(override);
          return [key, overridesSince.get(key) ?? tick.now_epochMs];
        }),
      );
      for (const vesselId of tick.model.vessels.keys()) lookAtCharge(vesselId, tick);
    }
    for (const vesselId of running.keys()) hear(vesselId, tick);
    if (liquids.hear(tick, journal)) save();
    if (!isLooking) return;
    saved_monotonicMs ??= tick.now_monotonicMs;
    if (tick.now_monotonicMs - saved_monotonicMs >= saveEvery_ms) {
      saved_monotonicMs = tick.now_monotonicMs;
      save();
    }
    runNext(tick);
  }

  function forget(vesselId: string): void {
    running.delete(vesselId);
    memories.delete(vesselId);
    unusable.delete(vesselId);
  }

  function lookAtCharge(vesselId: string, tick: SupplyTick): void {
    let charge: ChargeInUse | undefined;
    try {
      charge = chargeInUse(tick.model, vesselId, journal);
    } catch (error) {
      refuse(vesselId, reasonOf(error));
      return;
    }
    unusable.delete(vesselId);
    const known = memories.get(vesselId);
    if (charge === undefined) {
      const isHeld = (known?.end.held ?? known?.heldBefore) !== undefined;
      // To strike the charge out brings no gas.
      if (isHeld && tick.model.vessels.get(vesselId)?.kind === "generator") running.delete(vesselId);
      else forget(vesselId);
      return;
    }
    if (known?.chargeKey !== charge.key) changeCharge(vesselId, charge, tick);
    const current = running.get(vesselId);
    const suppliedKey = JSON.stringify([charge.supplied, valvesOf(vesselId, tick, overridesSince)]);
    if (current === undefined) {
      running.set(vesselId, { ...newlyRunning(charge), suppliedKey });
      return;
    }
    current.charge = charge;
    if (current.suppliedKey !== suppliedKey) current.isDue = true;
    current.suppliedKey = suppliedKey;
    if (entriesKey(entriesOf(vesselId, tick.now_epochMs)) !== current.takenEntries) current.isDue = true;
  }

  function changeCharge(vesselId: string, charge: ChargeInUse, tick: SupplyTick): void {
    const before = memories.get(vesselId);
    const isRefill =
      before !== undefined && charge.closedAt_epochMs - before.closedAt_epochMs > sameFilling_ms;
    if (isRefill && before.summary !== undefined) {
      record(endedCharge(vesselId, before, before.summary, charge.closedAt_epochMs, tick.now_epochMs));
    }
    const fresh = emptySupplyMemory(charge);
    memories.set(vesselId, {
      ...fresh,
      rows: rowsSince(charge.closedAt_epochMs, before?.rows ?? []),
      heard: before === undefined ? fresh.heard : withoutReadings(before.heard),
      heldBefore: before?.end.held ?? before?.heldBefore,
    });
    running.set(vesselId, newlyRunning(charge));
    save();
  }

  function hear(vesselId: string, tick: SupplyTick): void {
    const memory = memories.get(vesselId);
    const current = running.get(vesselId);
    const vessel = tick.model.vessels.get(vesselId);
    if (memory === undefined || current === undefined || vessel === undefined) return;
    const readingOf = (id: string | undefined): HeardReading | undefined => {
      const view = tick.sensors.find(({ sensorId }) => sensorId === id);
      return view?.freshness.kind === "fresh" ? view.lastAccepted : undefined;
    };
    const { heard, rows } = hearing(
      memory.heard,
      memory.rows.at(-1)?.at_epochMs ?? memory.checkpoint?.upTo_epochMs,
      {
        now_epochMs: tick.now_epochMs,
        now_monotonicMs: tick.now_monotonicMs,
        valves: valvesState(vesselId, tick),
        pressure: readingOf(vessel.pressureSensor),
        temperature: readingOf(vessel.temperatureSensor),
        mass: readingOf(vessel.massSensor),
      },
    );
    memories.set(vesselId, {
      ...memory,
      heard,
      doses: withDoses(memory.doses, vesselId, tick),
      heldBefore: stillHeld(vesselId, memory, {
        hasSensor: vessel.pressureSensor !== undefined,
        pressure: readingOf(vessel.pressureSensor),
        from: current.charge.from,
      }),
      rows: rows.length === 0 ? memory.rows : [...memory.rows, ...rows],
    });
    // A change of the valve alone waits for the next row of means.
    if (
      rows.some(({ pressureGauge_bar, temperature_degC, vesselMass_g }) =>
        [pressureGauge_bar, temperature_degC, vesselMass_g].some((value) => value !== undefined),
      )
    ) {
      current.isDue = true;
    } else if (rows.length > 0 && heard.pressureCount + heard.temperatureCount + heard.massCount === 0)
      current.isDue = true;
  }

  /** One estimate at a time; the vessels take turns. */
  function runNext(tick: SupplyTick): void {
    if (isBusy) return;
    for (const [vesselId, current] of running) {
      if (!current.isDue) continue;
      // The next turn is another's.
      running.delete(vesselId);
      running.set(vesselId, current);
      current.isDue = false;
      runFor(vesselId, current, tick);
      return;
    }
  }

  function runFor(vesselId: string, current: Running, tick: SupplyTick): void {
    const memory = memories.get(vesselId);
    if (memory === undefined) return;
    const entries = entriesOf(vesselId, tick.now_epochMs);
    const { latest } = current;
    const isFull =
      latest === undefined ||
      memory.rows.length > mostRows ||
      entriesKey(entriesUpTo(entries, latest.latest.upTo_epochMs)) !== current.takenEntries;
    if (isFull || entriesKey(entries) !== current.takenEntries) current.advised_epochMs = undefined;
    const start = isFull ? memory.checkpoint : latest.latest;
    const from_epochMs = start?.upTo_epochMs ?? -Infinity;
    const job: SupplyJob = {
      vesselId,
      charge: current.charge.supplied,
      valves: valvesOf(vesselId, tick, overridesSince),
      vessel: watchedVessel(vesselId, tick.model),
      start,
      rows: isFull ? memory.rows : memory.rows.slice(current.takenRows),
      entries: entries.filter(({ at_epochMs }) => at_epochMs > from_epochMs),
      at_epochMs: tick.now_epochMs,
      checkpointAt_epochMs:
        memory.rows.length > mostRows ? memory.rows[Math.floor(mostRows / 2)]?.at_epochMs : undefined,
      surgeSigns: surgeSigns(vesselId, memory, tick, journal),
      refill: !isFull && isAdviceDue(current, tick.now_epochMs) ? wishesOf(vesselId, tick.model) : undefined,
    };
    const rowCount = memory.rows.length;
    isBusy = true;
    const done = (result: SupplyResult | undefined, failure?: string): void => {
      isBusy = false;
      // The charge may have been changed meanwhile.
      if (running.get(vesselId) !== current) return;
      if (result === undefined) {
        current.failure = failure ?? "the estimate could not be made";
        return;
      }
      current.failure = undefined;
      current.latest = result;
      current.valves = job.valves;
      current.takenRows = rowCount;
      current.takenEntries = entriesKey(entries);
      take(vesselId, current, { result, job, entries }, tick);
    };
    try {
      runner.run(job, done);
    } catch (error) {
      logger.error(
        { reason: reasonOf(error), vessel: vesselId },
        "what is left in a vessel could not be estimated",
      );
      done(undefined, reasonOf(error));
    }
  }

  function take(
    vesselId: string,
    current: Running,
    {
      result,
      job,
      entries,
    }: {
      readonly result: SupplyResult;
      readonly job: SupplyJob;
      readonly entries: readonly EnteredReading[];
    },
    tick: SupplyTick,
  ): void {
    const memory = memories.get(vesselId);
    if (memory === undefined) return;
    const { estimate, use, pressureRead_epochMs, checkpoint } = result;
    const vessel = tick.model.vessels.get(vesselId);
    const limits = steppedLimits(
      memory.limits,
      estimate,
      vessel?.kind === "generator" ? vessel.refill : refillDefaults,
    );
    // A run from the checkpoint follows upon something new; the estimate does not wait for advice on it.
    if (job.refill !== undefined) current.advised_epochMs = tick.now_epochMs;
    current.told = {
      estimate,
      source: sourceOf(result),
      removed_g: believedComponent(supplyBelief(result.latest.state), component.removed),
      pressureRead_epochMs,
      use: {
        total_gPerDay: use.dosing_gPerDay + estimate.leak_gPerDay.value,
        byTank: byTank(tick.model, use.byValve),
      },
      surge: result.surge,
      pressurising: result.pressurising,
      limits,
      refill: job.refill === undefined ? current.told?.refill : result.refill,
    };
    if (isAdviceDue(current, tick.now_epochMs)) current.isDue = true;
    const told = newlyTold(memory.told, estimate);
    if (told !== memory.told) record(runOutEvent(vesselId, current.told, tick.model.timeZone));
    let { rows } = memory;
    if (checkpoint !== undefined) {
      rows = rows.filter(({ at_epochMs }) => at_epochMs > checkpoint.upTo_epochMs);
      current.takenRows -= memory.rows.length - rows.length;
      current.takenEntries = entriesKey(
        entries.filter(({ at_epochMs }) => at_epochMs > checkpoint.upTo_epochMs),
      );
    }
    memories.set(vesselId, {
      ...memory,
      limits,
      told,
      end: result.latest.end,
      summary: summaryOf(current.told),
      rows,
      checkpoint: checkpoint ?? memory.checkpoint,
    });
    // Whether the valve is held must not wait for the next saving.
    if (JSON.stringify(result.latest.end.held) !== JSON.stringify(memory.end.held)) save();
  }

  function refuse(vesselId: string, reason: string): void {
    if (unusable.get(vesselId) === reason) return;
    unusable.set(vesselId, reason);
    running.delete(vesselId);
    logger.error({ vessel: vesselId, reason }, "the charge of a vessel cannot be followed");
  }

  function entriesOf(vesselId: string, now_epochMs: number): readonly EnteredReading[] {
    const memory = memories.get(vesselId);
    const folded_epochMs = memory?.checkpoint?.upTo_epochMs;
    const since_epochMs =
      folded_epochMs === undefined ? (memory?.closedAt_epochMs ?? now_epochMs) : folded_epochMs + 1;
    return enteredReadings(journal, vesselId, since_epochMs).filter(
      ({ at_epochMs }) => at_epochMs <= now_epochMs,
    );
  }

  function ends(model: SiteModel): readonly EndOfVessel[] {
    return [...model.vessels].map(([vesselId, { endOfCharge }]) => {
      const memory = memories.get(vesselId);
      const end = memory?.end ?? liquids.of(vesselId);
      const known = memory?.heldBefore === undefined || end?.held !== undefined ? end : undefined;
      return endOfVessel(vesselId, endOfCharge, known, memory?.heldBefore);
    });
  }

  /**
   * A person has written down the new charge: it counts from where the sensor sees it come up. One that is silent, as after a
   * restart, changes nothing; then a gauge read by eye since the filling tells. Where no sensor looks, the word of the person
   * at this machine is enough; what comes from afar lets no gas flow.
   */
  function stillHeld(
    vesselId: string,
    { heldBefore, closedAt_epochMs }: SupplyMemory,
    seen: {
      readonly hasSensor: boolean;
      readonly pressure: HeardReading | undefined;
      readonly from: ChargeInUse["from"];
    },
  ): EndHold | undefined {
    if (heldBefore === undefined) return undefined;
    const isWrittenHere =
      seen.from === "config" || journal.latest("charge closed", vesselId)?.source === "local";
    if (!seen.hasSensor && isWrittenHere) return undefined;
    const byEye_bar = journal
      .entriesOf("gauge reading", vesselId, closedAt_epochMs + 1)
      .filter(({ source }) => source === "local")
      .at(-1)?.fact.pressureGauge_bar;
    const gauge_bar = seen.pressure?.value ?? byEye_bar;
    return gauge_bar !== undefined && gauge_bar > heldBefore.gauge_bar + releaseAbove_bar
      ? undefined
      : heldBefore;
  }

  function views(): readonly VesselSupply[] {
    const followed = [...running].map(([vesselId, { charge, told, failure }]) => ({
      vesselId,
      charge: {
        from: charge.from,
        closedAt_epochMs: charge.closedAt_epochMs,
        supplied: charge.supplied,
      },
      told,
      failure,
    }));
    const refused = [...unusable].map(([vesselId, failure]) => ({
      vesselId,
      charge: undefined,
      told: undefined,
      failure,
    }));
    return [...followed, ...refused].sort((a, b) => (a.vesselId < b.vesselId ? -1 : 1));
  }

  function closedVessel(vesselId: string): ClosedVessel | undefined {
    const current = running.get(vesselId);
    if (current === undefined) return undefined;
    const charge = current.charge.supplied;
    const latest = current.latest?.latest;
    const watch = latest?.watch;
    return {
      charge,
      loss: watch?.closed,
      sensor_epochMs: latest?.sensor_epochMs,
      settledFrom_epochMs: Math.max(settledFrom_epochMs(charge), watch?.quietUntil_epochMs ?? 0),
    };
  }

  function followed(vesselId: string): FollowedSupply | undefined {
    const { charge, latest, told, valves = [] } = running.get(vesselId) ?? {};
    if (charge === undefined || latest === undefined || told === undefined) return undefined;
    return { charge: charge.supplied, state: latest.latest.state, told, valves };
  }

  function save(): void {
    void store.saveSnapshot(supplySnapshotName, { ...storedSupplies(memories), ...liquids.stored() });
  }
}

function newlyRunning(charge: ChargeInUse): Running {
  return {
    charge,
    latest: undefined,
    takenRows: 0,
    valves: [],
    takenEntries: "",
    suppliedKey: "",
    failure: undefined,
    isDue: true,
    told: undefined,
    advised_epochMs: undefined,
  };
}

function isAdviceDue({ advised_epochMs, told }: Running, now_epochMs: number): boolean {
  if (told === undefined) return false;
  return advised_epochMs === undefined || now_epochMs - advised_epochMs >= adviseEvery_ms;
}

function wishesOf(vesselId: string, { vessels, away }: SiteModel): RefillWishes | undefined {
  const vessel = vessels.get(vesselId);
  if (vessel?.kind !== "generator") return undefined;
  const { days, from, until, handling_min, closedWith, acceptedLoss_percent, spareVessel } = vessel.refill;
  return {
    habits: { days, from, until, handling_min },
    away,
    acceptedLoss_ratio: acceptedLoss_percent / 100,
    hasSpareVessel: spareVessel,
    closedWith,
  };
}

function valvesState(vesselId: string, { model, memories }: SupplyTick): "open" | "closed" | "unknown" {
  const states = [...model.valves.values()]
    .filter((valve) => valve.vesselId === vesselId)
    .map(({ rules }) => {
      const memory = memories.get(rules.valveId);
      return memory === undefined ? ("unknown" as const) : reportedState(rules, memory);
    });
  if (states.includes("open")) return "open";
  return states.includes("unknown") ? "unknown" : "closed";
}

function valvesOf(
  vesselId: string,
  { model, usedLead, overrides = [] }: SupplyTick,
  since: ReadonlyMap<string, number>,
): SupplyJob["valves"] {
  return [...model.valves.values()]
    .filter((valve) => valve.vesselId === vesselId)
    .map(({ rules }) => ({
      valveId: rules.valveId,
      overrides: overrides
        .filter(({ valveId }) => valveId === rules.valveId)
        .flatMap((override) => {
          const from_epochMs = since.get(JSON.stringify(override));
          const { action, source, until_epochMs } = override;
          return from_epochMs === undefined ? [] : [{ action, source, from_epochMs, until_epochMs }];
        }),
      rules: rules.tankIds.flatMap((tankId) => {
        const dosing = model.tanks.get(tankId)?.dosing;
        if (dosing === undefined) return [];
        const { photoperiods, earlyClose_min, datesOff, lead_min } = ruleWithLead(dosing, usedLead(tankId));
        return [{ photoperiods, earlyClose_min, datesOff, lead_min }];
      }),
    }));
}

function byTank(model: SiteModel, valves: SupplyResult["use"]["byValve"]): ToldSupply["use"]["byTank"] {
  const grams = new Map<string, number>();
  for (const { valveId, co2_gPerDay } of valves) {
    for (const { tank, share } of model.valves.get(valveId)?.feeds ?? []) {
      grams.set(tank, (grams.get(tank) ?? 0) + share * co2_gPerDay);
    }
  }
  return [...grams].map(([tankId, co2_gPerDay]) => ({ tankId, co2_gPerDay }));
}

function sourceOf({ latest, pressureRead_epochMs }: SupplyResult): SupplySource {
  if (pressureRead_epochMs === undefined) return "nothing yet";
  const { sensor_epochMs } = latest;
  return sensor_epochMs !== undefined && sensor_epochMs >= pressureRead_epochMs - 3_600_000
    ? "sensor"
    : "by eye";
}

function entriesUpTo(entries: readonly EnteredReading[], at_epochMs: number): readonly EnteredReading[] {
  return entries.filter((entry) => entry.at_epochMs <= at_epochMs);
}

function entriesKey(entries: readonly EnteredReading[]): string {
  return entries
    .map(({ entryId }) => entryId)
    .sort((a, b) => a - b)
    .join();
}

function reasonOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
