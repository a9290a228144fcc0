import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import { deliverableCo2_mol, type SimulatedVessel } from "../../lib/simulation/simulated-vessel.js";
import type { VesselModel } from "../../lib/simulation/vessel-model.js";
import { timeZone, workingPressureGauge_bar, type HomeVessel } from "./home-config.js";
import { setFlow_molPerH } from "./home-physics.js";
import type { Household } from "./household.js";
import { missCauses, type ChargeLife, type DosingDay, type MissCause } from "./year-record.js";

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
/** A charge is at its end where the daemon holds the valve: the working pressure and the config's margin. */
export const endGauge_bar = workingPressureGauge_bar + 1;
/** Less than this share of the flow that was set is no dosing. */
const dosingShare_ratio = 0.5;
/** Of the crystals: with less the charge still comes on. */
const settled_ratio = 0.98;
/** After gas has begun to push CO2 above the close limit: two readings of a sensor and a tick. */
const closeLag_ms = 5 * 60_000;
/** A use of the last days, with which a charge would have gone on. */
const lookedBack_days = 7;

interface GrowingDay {
  readonly valveId: string;
  readonly date: string;
  wanted_s: number;
  dosed_s: number;
  readonly missed_s: Record<MissCause, number>;
  readonly reasons: Map<string, number>;
}

interface GrowingCharge {
  readonly recipe: HomeVessel;
  readonly closed_epochMs: number;
  readonly weighed_ratio: number;
  ranOut_epochMs: number | undefined;
  leakOnset_epochMs: number | undefined;
  warned_epochMs: number | undefined;
  readonly runOutWarnings: { at_epochMs: number; left_days: number }[];
  /** CO2 that had left at the end of each of the last days. */
  readonly used_g: number[];
}

/** What happens to a valve that the keeper or a drawn fault explains. */
export interface Explained {
  /** The valves that a fault, or what is left of it, keeps from dosing. */
  readonly faultyValves: ReadonlySet<string>;
  /** Vessels that are open or have just been closed again. */
  readonly refilledVessels: ReadonlySet<string>;
  /** Gas goes on though the valve was told to close: nothing but a person can help. */
  readonly stuckOpenValves: ReadonlySet<string>;
}

/** One that is open has no charge. */
function closedVessel(vessel: VesselModel | undefined): SimulatedVessel | undefined {
  return vessel !== undefined && "reacted_ratio" in vessel ? (vessel as SimulatedVessel) : undefined;
}

/** Looks at the truth of each leap and adds it up. */
export class YearObserver {
  readonly #household: Household;
  readonly #days = new Map<string, GrowingDay>();
  readonly #charges = new Map<string, GrowingCharge>();
  readonly ended: ChargeLife[] = [];
  readonly grams = { held: 0, looked: 0 };
  aboveAlarm_h = 0;
  aboveClose_h = 0;
  aboveCloseBeyondLag_h = 0;
  readonly #aboveSince = new Map<string, number>();
  #looked_epochMs: number;
  #hour = 0;
  #date = "";

  constructor(household: Household, recipes: readonly HomeVessel[]) {
    this.#household = household;
    this.#looked_epochMs = household.now_epochMs;
    for (const recipe of recipes) this.beginCharge(recipe, household.now_epochMs, 1);
  }

  get days(): readonly DosingDay[] {
    return [...this.#days.values()].map(({ reasons, ...day }) => ({
      ...day,
      reasons: [...reasons]
        .sort((one, other) => other[1] - one[1])
        .map(([reason]) => reason)
        .slice(0, 3),
    }));
  }

  beginCharge(recipe: HomeVessel, closed_epochMs: number, weighed_ratio: number): void {
    this.#charges.set(recipe.vesselId, {
      recipe,
      closed_epochMs,
      weighed_ratio,
      ranOut_epochMs: undefined,
      leakOnset_epochMs: undefined,
      warned_epochMs: undefined,
      runOutWarnings: [],
      used_g: [],
    });
  }

  /** The charge is thrown out, or the year ends. */
  endCharge(vesselId: string, isRefilled: boolean): void {
    const charge = this.#charges.get(vesselId);
    if (charge === undefined) return;
    const now_epochMs = this.#household.now_epochMs;
    this.ended.push({
      vesselId,
      closed_epochMs: charge.closed_epochMs,
      closedWith: charge.recipe.closedWith,
      weighed_ratio: charge.weighed_ratio,
      ended_epochMs: now_epochMs,
      isRefilled,
      ranOut_epochMs: charge.ranOut_epochMs ?? this.runsOutAt(vesselId),
      leakOnset_epochMs: charge.leakOnset_epochMs,
      warned_epochMs: charge.warned_epochMs,
      runOutWarnings: charge.runOutWarnings,
    });
    this.#charges.delete(vesselId);
  }

  leakBegins(vesselId: string): void {
    const charge = this.#charges.get(vesselId);
    if (charge !== undefined) charge.leakOnset_epochMs = this.#household.now_epochMs;
  }

  /** An alarm that the keeper was told. */
  told(alarmId: string): void {
    const [kind, vesselId = ""] = alarmId.split("/");
    const charge = this.#charges.get(vesselId);
    if (charge === undefined || kind === undefined) return;
    const now_epochMs = this.#household.now_epochMs;
    if (["charge-runs-out", "refill-due", "charge-spent", "end-of-charge"].includes(kind))
      charge.warned_epochMs ??= now_epochMs;
    if (kind === "charge-runs-out") {
      const ends_epochMs = this.runsOutAt(vesselId) ?? Infinity;
      charge.runOutWarnings.push({
        at_epochMs: now_epochMs,
        left_days: (ends_epochMs - now_epochMs) / day_ms,
      });
    }
  }

  /** When the charge will truly end by the use of its last days; undefined where none was used yet. */
  runsOutAt(vesselId: string): number | undefined {
    const { home, now_epochMs } = this.#household;
    const charge = this.#charges.get(vesselId);
    const vessel = closedVessel(home.truth().vessels[vesselId]);
    if (charge === undefined || vessel === undefined) return undefined;
    if (charge.ranOut_epochMs !== undefined) return charge.ranOut_epochMs;
    const looked = charge.used_g.slice(-lookedBack_days - 1);
    const first_g = looked[0];
    const last_g = looked.at(-1);
    if (first_g === undefined || last_g === undefined || looked.length < 3 || last_g <= first_g)
      return undefined;
    const perDay_g = (last_g - first_g) / (looked.length - 1);
    const left_g = deliverableCo2_mol(vessel, endGauge_bar) * molarMass_gPerMol.co2;
    return now_epochMs + (left_g / perDay_g) * day_ms;
  }

  see(explained: Explained): void {
    const { now_epochMs } = this.#household;
    const step_s = (now_epochMs - this.#looked_epochMs) / 1000;
    if (step_s <= 0) return;
    const middle_epochMs = (this.#looked_epochMs + now_epochMs) / 2;
    this.#looked_epochMs = now_epochMs;
    this.#seeDosing(step_s, middle_epochMs, explained);
    this.#seeTanks(step_s, explained);
    const hour = Math.floor(now_epochMs / hour_ms);
    if (hour === this.#hour) return;
    this.#hour = hour;
    this.#seeGrams();
    const { date } = wallClockAt(now_epochMs, timeZone);
    if (date === this.#date) return;
    this.#date = date;
    for (const [vesselId, { used_g }] of this.#charges) used_g.push(this.#left_g(vesselId));
  }

  /** All CO2 that ever left a vessel, g. */
  #left_g(vesselId: string): number {
    const truth = this.#household.home.truth();
    const through_mol = Object.entries(this.#household.physics.valves)
      .filter(([, valve]) => valve.vessel === vesselId)
      .reduce((sum, [valveId]) => sum + (truth.delivered[valveId]?.co2_mol ?? 0), 0);
    return (through_mol + (truth.leaked[vesselId]?.co2_mol ?? 0)) * molarMass_gPerMol.co2;
  }

  #seeDosing(step_s: number, middle_epochMs: number, explained: Explained): void {
    const { home, model, physics, life } = this.#household;
    const truth = home.truth();
    for (const [valveId, { calendar, vesselId }] of model.valves) {
      const spec = physics.valves[valveId];
      if (spec === undefined || calendar.stateAt(middle_epochMs).kind !== "open") continue;
      const day = this.#dayOf(valveId, middle_epochMs);
      day.wanted_s += step_s;
      const flow_molPerH = truth.flow_molPerH[valveId] ?? 0;
      if (flow_molPerH >= dosingShare_ratio * setFlow_molPerH(spec)) {
        day.dosed_s += step_s;
        continue;
      }
      const vessel = truth.vessels[vesselId];
      const charge = this.#charges.get(vesselId);
      const isReacting = (closedVessel(vessel)?.reacted_ratio ?? 1) < settled_ratio;
      const isLow = (vessel?.pressureGauge_bar ?? 0) < endGauge_bar + 0.5;
      const cause: MissCause = explained.faultyValves.has(valveId)
        ? "fault"
        : isReacting
          ? charge?.recipe.closedWith === "ice"
            ? "ice"
            : "refill"
          : explained.refilledVessels.has(vesselId)
            ? "refill"
            : isLow
              ? "run-out"
              : "other";
      if (cause === "run-out" && charge !== undefined) charge.ranOut_epochMs ??= this.#looked_epochMs;
      day.missed_s[cause] += step_s;
      const valve = life?.app.status()?.valves.find((candidate) => candidate.valveId === valveId);
      const reason = life === undefined ? "no daemon" : (valve?.decision.gist ?? "no status");
      day.reasons.set(reason, (day.reasons.get(reason) ?? 0) + step_s);
    }
  }

  #dayOf(valveId: string, at_epochMs: number): GrowingDay {
    const { date } = wallClockAt(at_epochMs, timeZone);
    const key = `${date} ${valveId}`;
    const known = this.#days.get(key);
    if (known !== undefined) return known;
    const missed_s = Object.fromEntries(missCauses.map((cause) => [cause, 0])) as Record<MissCause, number>;
    const day = { valveId, date, wanted_s: 0, dosed_s: 0, missed_s, reasons: new Map<string, number>() };
    this.#days.set(key, day);
    return day;
  }

  #seeTanks(step_s: number, explained: Explained): void {
    const { home, model, physics, now_epochMs } = this.#household;
    const truth = home.truth();
    for (const [tankId, { limits }] of model.tanks) {
      const co2_mgPerL = truth.tanks[tankId]?.co2_mgPerL ?? 0;
      if (co2_mgPerL > limits.co2Alarm_mgPerL) this.aboveAlarm_h += step_s / 3600;
      if (!(co2_mgPerL > limits.co2Close_mgPerL)) {
        this.#aboveSince.delete(tankId);
        continue;
      }
      this.aboveClose_h += step_s / 3600;
      const since_epochMs = this.#aboveSince.get(tankId) ?? now_epochMs;
      this.#aboveSince.set(tankId, since_epochMs);
      const flows = Object.entries(physics.valves).some(
        ([valveId, { feeds }]) =>
          feeds.some(({ tank }) => tank === tankId) &&
          (truth.flow_molPerH[valveId] ?? 0) > 0 &&
          !explained.stuckOpenValves.has(valveId),
      );
      if (flows && now_epochMs - since_epochMs > closeLag_ms) this.aboveCloseBeyondLag_h += step_s / 3600;
    }
  }

  #seeGrams(): void {
    const { home, life } = this.#household;
    for (const { vesselId, told } of life?.app.status()?.supplies ?? []) {
      const vessel = home.truth().vessels[vesselId];
      if (vessel === undefined || told === undefined || told.estimate.phase === "settling") continue;
      const truly_g = vessel.co2_mol * molarMass_gPerMol.co2;
      const { low80_g, high80_g } = told.estimate.remaining;
      this.grams.looked += 1;
      if (truly_g >= low80_g && truly_g <= high80_g) this.grams.held += 1;
    }
  }
}
