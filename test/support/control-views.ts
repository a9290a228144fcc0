import { initialValveMemory, type ValveMemory, type ValveStepView } from "../../lib/control/control-step.js";
import type { InterlockView, TankView } from "../../lib/control/interlock.js";
import type { RelayRules, ValveRules } from "../../lib/control/valve-rules.js";

export const relayRules: RelayRules = {
  relayId: "outlet",
  confirmWithin_s: 5,
  autoOff_s: 120,
  answersStatusQuery: false,
};

export const valveRules: ValveRules = {
  valveId: "outlet",
  tankIds: ["loach"],
  guardSensorIds: ["loach-ph"],
  longestOpen_min: 720,
  gasRelays: [relayRules],
  airPumpRelay: undefined,
  acceptedWithoutAutoOff: false,
};

export const tankView: TankView = {
  tankId: "loach",
  limits: { co2Close_mgPerL: 60, co2Rise_mgPerLPer30Min: 10, pHFloor: 6, temperatureHigh_degC: 30 },
  pH: 6.8,
  temperature_degC: 24.5,
  co2High80_mgPerL: 30,
  co2RisesTooFast: undefined,
  gasDidNotStop: undefined,
  hasPHSensor: true,
  hasTemperatureSensor: true,
};

/** Nothing forbids gas. */
export const letThrough: InterlockView = {
  rules: valveRules,
  clock: { kind: "plausible" },
  brokerConnected: true,
  deadManArmed: true,
  store: { kind: "ok" },
  commissioned: true,
  guards: [{ sensorId: "loach-ph", state: { kind: "fresh", age_s: 12 } }],
  awaited: [],
  tanks: [tankView],
  trips: [],
  openFor_s: 0,
  restsFor_s: 0,
  relayFault: undefined,
  tanksHeldByTemperature: [],
  endOfCharge: undefined,
  holds: [],
  vessel: undefined,
  rooms: [],
  roomsHeld: [],
};

/** A tick inside a window in which nothing forbids gas. */
export function stepView(changes: Partial<ValveStepView> = {}): ValveStepView {
  const { rules, clock, brokerConnected, deadManArmed, store, commissioned, guards, tanks, trips, holds } =
    letThrough;
  const { awaited } = letThrough;
  const { vessel, rooms } = letThrough;
  return {
    rules,
    clock,
    brokerConnected,
    deadManArmed,
    store,
    commissioned,
    guards,
    awaited,
    tanks,
    trips,
    holds,
    vessel,
    rooms,
    now_epochMs: Date.parse("2026-05-04T10:00:00Z"),
    now_monotonicMs: 1_000_000,
    window: { kind: "open", closes_epochMs: Date.parse("2026-05-04T16:30:00Z") },
    override: undefined,
    endOfCharge: undefined,
    heldClosed: undefined,
    ...changes,
  };
}

export const noMemory: ValveMemory = initialValveMemory;
