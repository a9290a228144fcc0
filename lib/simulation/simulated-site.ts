import { UnknownNameError } from "../errors.js";
import { needleFlow_molPerH, regulatorOutletGauge_bar } from "./gas-path.js";
import type { RegulatorSpec } from "./gas-path.js";
import { drawNormal } from "./random-source.js";
import type { GasFault } from "./simulated-fault.js";
import { advanceTank } from "./simulated-tank.js";
import type { SimulatedTankSpec, SimulatedTankState } from "./simulated-tank.js";
import type { VesselModel, Withdrawal } from "./vessel-model.js";

export interface RoomSpec {
  readonly mean_degC: number;
  /** Half of the daily swing. */
  readonly swing_K: number;
  readonly warmestAtUtc_h: number;
  /** Standard deviation of the weather's slow wander around the swing. */
  readonly wander_K: number;
  readonly co2_ppm: number;
}

export interface SimulatedVesselSpec {
  /** Any model: the site only advances it and reads its pressure. */
  readonly initial: VesselModel;
  /** Every joint leaks a little: for each bar of absolute pressure. */
  readonly leak_molPerHBar: number;
}

export interface SimulatedValveSpec {
  readonly vessel: string;
  readonly regulator: RegulatorSpec;
  readonly needle_molPerHBar: number;
  /** Back pressure of diffuser, check valve and water column. */
  readonly diffuserGauge_bar: number;
  readonly feeds: readonly { readonly tank: string; readonly share: number }[];
}

export interface SimulatedSiteSpec {
  readonly startAt_epochMs: number;
  readonly room: RoomSpec;
  readonly vessels: Readonly<Record<string, SimulatedVesselSpec>>;
  readonly valves: Readonly<Record<string, SimulatedValveSpec>>;
  readonly tanks: Readonly<
    Record<string, { readonly physics: SimulatedTankSpec; readonly initial: SimulatedTankState }>
  >;
}

export interface SimulatedSiteState {
  readonly at_epochMs: number;
  readonly room_degC: number;
  readonly roomWander_K: number;
  readonly vessels: Readonly<Record<string, VesselModel>>;
  readonly tanks: Readonly<Record<string, SimulatedTankState>>;
  /** Flow through each valve in the last step, all gases. */
  readonly flow_molPerH: Readonly<Record<string, number>>;
  /** All that ever left: through each valve, and by leaks out of each vessel. */
  readonly delivered: Readonly<Record<string, Withdrawal>>;
  readonly leaked: Readonly<Record<string, Withdrawal>>;
}

/** What the people and devices of the site do during a step. A valve, lamp or pump not named is closed or off. */
export interface SimulatedSiteInput {
  readonly duration_s: number;
  readonly valveOpen: Readonly<Record<string, boolean>>;
  readonly lightsOn: Readonly<Record<string, boolean>>;
  readonly aerating: Readonly<Record<string, boolean>>;
  /** Those that hold during the step. */
  readonly faults: readonly GasFault[];
}

export interface SimulatedSite {
  readonly initial: SimulatedSiteState;
  advance(state: SimulatedSiteState, input: SimulatedSiteInput): SimulatedSiteState;
}

/** Longer steps are cut: flow follows pressure and uptake follows CO2 by steps of this length. */
const longestStep_s = 60;

/** How long the wander of the weather remembers. Invented. */
const wanderMemory_h = 6;

const millisecondsPerHour = 3_600_000;
const nothing: Withdrawal = { co2_mol: 0, air_mol: 0 };

function mapValues<A, B>(
  record: Readonly<Record<string, A>>,
  change: (value: A, key: string) => B,
): Readonly<Record<string, B>> {
  return Object.fromEntries(Object.entries(record).map(([key, value]) => [key, change(value, key)]));
}

function namedIn<T>(record: Readonly<Record<string, T>>, kindOfName: string, key: string): T {
  const value = record[key];
  if (value === undefined) throw new UnknownNameError(kindOfName, key, Object.keys(record));
  return value;
}

function plus(sum: Withdrawal, left: Withdrawal, share: number): Withdrawal {
  return { co2_mol: sum.co2_mol + left.co2_mol * share, air_mol: sum.air_mol + left.air_mol * share };
}

function roomTemperature_degC(room: RoomSpec, at_epochMs: number, wander_K: number): number {
  const hourUtc = (at_epochMs / millisecondsPerHour) % 24;
  const phase = ((hourUtc - room.warmestAtUtc_h) / 24) * 2 * Math.PI;
  return room.mean_degC + room.swing_K * Math.cos(phase) + wander_K;
}

function valveFlow_molPerH(
  valve: SimulatedValveSpec,
  id: string,
  inletGauge_bar: number,
  input: SimulatedSiteInput,
): number {
  const moved = input.faults.find((fault) => fault.kind === "needle-moved" && fault.valveId === id);
  const leaking = input.faults.find((fault) => fault.kind === "valve-seat-leaks" && fault.valveId === id);
  const opening_ratio = moved?.kind === "needle-moved" ? moved.opening_ratio : 1;
  const seatLeak_ratio = leaking?.kind === "valve-seat-leaks" ? leaking.leak_ratio : 0;
  const open_molPerH = needleFlow_molPerH({
    conductance_molPerHBar: valve.needle_molPerHBar * opening_ratio,
    inletGauge_bar: regulatorOutletGauge_bar(valve.regulator, inletGauge_bar),
    outletGauge_bar: valve.diffuserGauge_bar,
  });
  return open_molPerH * (input.valveOpen[id] === true ? 1 : seatLeak_ratio);
}

function vesselLeak_molPerH(
  spec: SimulatedVesselSpec,
  id: string,
  pressureGauge_bar: number,
  faults: readonly GasFault[],
): number {
  let conductance_molPerHBar = spec.leak_molPerHBar;
  for (const fault of faults) {
    if (fault.kind === "vessel-leaks" && fault.vesselId === id)
      conductance_molPerHBar += fault.leak_molPerHBar;
  }
  return needleFlow_molPerH({
    conductance_molPerHBar,
    inletGauge_bar: pressureGauge_bar,
    outletGauge_bar: 0,
  });
}

function advanceOnce(
  spec: SimulatedSiteSpec,
  state: SimulatedSiteState,
  input: SimulatedSiteInput,
  random: () => number,
): SimulatedSiteState {
  const { duration_s } = input;
  const duration_h = duration_s / 3600;
  const memory = Math.exp(-duration_h / wanderMemory_h);
  const roomWander_K =
    state.roomWander_K * memory + spec.room.wander_K * Math.sqrt(1 - memory ** 2) * drawNormal(random);
  const at_epochMs = state.at_epochMs + duration_s * 1000;
  const room_degC = roomTemperature_degC(spec.room, at_epochMs, roomWander_K);

  const flow_molPerH = mapValues(spec.valves, (valve, id) =>
    valveFlow_molPerH(valve, id, namedIn(state.vessels, "vessel", valve.vessel).pressureGauge_bar, input),
  );
  const delivered = { ...state.delivered };
  const leaked = { ...state.leaked };
  const injectedCo2_mol = new Map<string, number>();
  const vessels = mapValues(state.vessels, (vessel, vesselId) => {
    const leak_molPerH = vesselLeak_molPerH(
      namedIn(spec.vessels, "vessel", vesselId),
      vesselId,
      vessel.pressureGauge_bar,
      input.faults,
    );
    const outlets = Object.entries(spec.valves).filter(([, valve]) => valve.vessel === vesselId);
    const total_molPerH = outlets.reduce((sum, [id]) => sum + (flow_molPerH[id] ?? 0), leak_molPerH);
    const { vessel: next, left } = vessel.advance({
      duration_s,
      room_degC,
      withdrawn_mol: total_molPerH * duration_h,
    });
    if (total_molPerH <= 0) return next;
    leaked[vesselId] = plus(leaked[vesselId] ?? nothing, left, leak_molPerH / total_molPerH);
    for (const [valveId, valve] of outlets) {
      const share = (flow_molPerH[valveId] ?? 0) / total_molPerH;
      delivered[valveId] = plus(delivered[valveId] ?? nothing, left, share);
      for (const feed of valve.feeds) {
        const arriving_mol = left.co2_mol * share * feed.share;
        injectedCo2_mol.set(feed.tank, (injectedCo2_mol.get(feed.tank) ?? 0) + arriving_mol);
      }
    }
    return next;
  });
  const tanks = mapValues(state.tanks, (tank, id) =>
    advanceTank(namedIn(spec.tanks, "tank", id).physics, tank, {
      duration_s,
      injectedCo2_mol: injectedCo2_mol.get(id) ?? 0,
      lightsOn: input.lightsOn[id] === true,
      aerating: input.aerating[id] === true,
      room_degC,
      roomCo2_ppm: spec.room.co2_ppm,
    }),
  );
  return { at_epochMs, room_degC, roomWander_K, vessels, tanks, flow_molPerH, delivered, leaked };
}

/**
 * One home: a room, vessels, valves with their splitters, tanks. The state is plain immutable data apart from the
 * vessels, which bring their own model.
 * @throws UnknownNameError when a valve names a vessel or tank that the site does not have
 */
export function createSimulatedSite(spec: SimulatedSiteSpec, random: () => number): SimulatedSite {
  for (const valve of Object.values(spec.valves)) {
    namedIn(spec.vessels, "vessel", valve.vessel);
    for (const feed of valve.feeds) namedIn(spec.tanks, "tank", feed.tank);
  }
  const initial: SimulatedSiteState = {
    at_epochMs: spec.startAt_epochMs,
    room_degC: roomTemperature_degC(spec.room, spec.startAt_epochMs, 0),
    roomWander_K: 0,
    vessels: mapValues(spec.vessels, (vessel) => vessel.initial),
    tanks: mapValues(spec.tanks, (tank) => tank.initial),
    flow_molPerH: mapValues(spec.valves, () => 0),
    delivered: mapValues(spec.valves, () => nothing),
    leaked: mapValues(spec.vessels, () => nothing),
  };
  return {
    initial,
    advance(state, input) {
      if (!(input.duration_s > 0)) return state;
      const parts = Math.max(1, Math.ceil(input.duration_s / longestStep_s));
      let next = state;
      for (let part = 0; part < parts; part += 1) {
        next = advanceOnce(spec, next, { ...input, duration_s: input.duration_s / parts }, random);
      }
      return next;
    },
  };
}
