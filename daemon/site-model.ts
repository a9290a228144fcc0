import type { TankLimits, ValveRules } from "../lib/control/valve-rules.js";
import {
  sensorRulesFrom,
  type CalibrationDescription,
  type SensorRules,
} from "../lib/readings/sensor-rules.js";
import { createDosingCalendar, type DosingCalendar } from "../lib/schedule/dosing-calendar.js";
import type { DateOff, DosingRule } from "../lib/schedule/dosing-windows.js";
import type { Co2Limits } from "../lib/tank/co2-bands.js";
import type { DegassedBaseline } from "../lib/tank/co2-from-ph-drop.js";
import { timeConstantFromDepth_h, type DropChecker } from "../lib/tank/drop-checker.js";
import type { WaterSalts } from "../lib/tank/ionic-strength.js";
import type { LearntLeadLimits } from "../lib/tank/learnt-lead.js";
import type { UpkeepIntervals } from "../lib/upkeep/upkeep-catalogue.js";
import type { UsedLead } from "../lib/tank/tank-learning-state.js";
import { ruleWithLead } from "../lib/tank/window-leads.js";
import type {
  RelayConfig,
  SensorConfig,
  SiteConfig,
  TankConfig,
  ValveConfig,
  VesselConfig,
} from "./config/config-schema.js";
import type { TenderAnimal } from "./config/tank-schema.js";
import { compileSelector, type ValueSelector } from "./mqtt/value-selector.js";
import type { RelayModel } from "./relay-link.js";

export interface SensorModel {
  readonly rules: SensorRules;
  readonly topic: string;
  readonly selector: ValueSelector;
  readonly timestampSelector: Exclude<ValueSelector, { kind: "bare" }> | undefined;
  readonly battery: BatteryModel | undefined;
}

/** Where a sensor tells how full its battery is, and from where on that is low. */
export interface BatteryModel {
  readonly topic: string;
  readonly selector: ValueSelector;
  readonly unit: "percent" | "volt";
  /** In that unit. */
  readonly low: number;
}

export interface TankModel {
  readonly tankId: string;
  readonly volume_L: number;
  readonly kh_dKH: number;
  readonly phSensorId: string | undefined;
  readonly temperatureSensorId: string | undefined;
  readonly limits: TankLimits & Co2Limits;
  readonly roomCo2SensorId: string | undefined;
  /** To begin with, until one stands in the journal. */
  readonly degassedPh: DegassedBaseline | undefined;
  readonly salts: WaterSalts;
  readonly phosphate_mgPerL: number | undefined;
  readonly dropChecker: DropChecker | undefined;
  readonly animals: readonly TenderAnimal[];
  /** When its lights are on, days without gas included. */
  readonly lights: DosingCalendar;
  /** When it may have gas, with the lead that the config gives it. */
  readonly dosing: DosingRule;
  /** Within these the lead may be learnt; undefined: it is only shown. */
  readonly useLearntLead: LearntLeadLimits | undefined;
}

export interface ValveModel {
  readonly rules: ValveRules;
  readonly vesselId: string;
  readonly feeds: readonly { readonly tank: string; readonly share: number }[];
  /** Of the air of the rooms of its vessel and tanks, and of its guards. */
  readonly roomCo2SensorIds: readonly string[];
  readonly calendar: DosingCalendar;
}

/** The config in the form in which the daemon works with it: compiled once, never changed. */
export interface SiteModel {
  readonly siteId: string;
  readonly timeZone: string;
  readonly baseTopic: string;
  /** Dates on which nobody is home. */
  readonly away: readonly DateOff[];
  readonly sensors: ReadonlyMap<string, SensorModel>;
  readonly relays: ReadonlyMap<string, RelayModel>;
  readonly tanks: ReadonlyMap<string, TankModel>;
  readonly vessels: ReadonlyMap<string, VesselConfig>;
  readonly valves: ReadonlyMap<string, ValveModel>;
  readonly upkeep: UpkeepIntervals;
}

export function siteModelFrom(config: SiteConfig): SiteModel {
  const relays = new Map<string, RelayModel>();
  const valves = new Map<string, ValveModel>();
  for (const [valveId, valve] of Object.entries(config.valves)) {
    const add = (relayId: string, relay: RelayConfig): RelayModel => {
      const model = relayModelFrom(relayId, relay);
      relays.set(relayId, model);
      return model;
    };
    const gasRelays = [add(valveId, valve.relay)];
    if (valve.seriesRelay !== undefined) gasRelays.push(add(`${valveId}-series`, valve.seriesRelay));
    const airPump = valve.airPump === undefined ? undefined : add(`${valveId}-air-pump`, valve.airPump);
    const tankIds = valve.feeds.map((feed) => feed.tank);
    valves.set(valveId, {
      vesselId: valve.vessel,
      feeds: valve.feeds,
      roomCo2SensorIds: roomSensorsOf(valve, config),
      calendar: createDosingCalendar(
        tankIds.flatMap((tankId) => config.tanks[tankId] ?? []),
        config.site.timeZone,
      ),
      rules: {
        valveId,
        tankIds,
        guardSensorIds: valve.guardSensors,
        longestOpen_min: valve.longestOpen_min,
        gasRelays: gasRelays.map((relay) => relay.rules),
        airPumpRelay: airPump?.rules,
        acceptedWithoutAutoOff: valve.relay.acceptWithoutAutoOff !== undefined,
      },
    });
  }
  return {
    siteId: config.site.id,
    timeZone: config.site.timeZone,
    baseTopic: config.broker.baseTopic,
    away: config.site.away,
    sensors: new Map(
      Object.entries(config.sensors).map(([id, sensor]) => [
        id,
        sensorModelFrom(id, sensor, smallestTankOf(id, config)),
      ]),
    ),
    relays,
    tanks: new Map(
      Object.entries(config.tanks).map(([tankId, tank]) => [
        tankId,
        {
          tankId,
          volume_L: tank.volume_L,
          kh_dKH: tank.kh_dKH,
          phSensorId: tank.phSensor,
          temperatureSensorId: tank.temperatureSensor,
          limits: tank.limits,
          roomCo2SensorId: tank.roomCo2Sensor,
          degassedPh: tank.degassedPh,
          salts: {
            ...(tank.conductivity_uSPerCm === undefined
              ? {}
              : { conductivity_uSPerCm: tank.conductivity_uSPerCm }),
            ...(tank.salinity_gPerKg === undefined ? {} : { salinity_gPerKg: tank.salinity_gPerKg }),
          },
          phosphate_mgPerL: tank.phosphate_mgPerL,
          dropChecker: tank.dropChecker === undefined ? undefined : dropCheckerFrom(tank.dropChecker),
          animals: tank.animals,
          dosing: tank,
          useLearntLead: tank.useLearntLead,
          lights: createDosingCalendar(
            [{ ...tank, lead_min: 0, earlyClose_min: 0, datesOff: [] }],
            config.site.timeZone,
          ),
        },
      ]),
    ),
    vessels: new Map(Object.entries(config.vessels)),
    upkeep: config.upkeep,
    valves,
  };
}

function roomSensorsOf(
  { vessel, guardSensors, feeds }: ValveConfig,
  { vessels, tanks, sensors }: SiteConfig,
): readonly string[] {
  const named = [
    vessels[vessel]?.roomCo2Sensor,
    ...feeds.map(({ tank }) => tanks[tank]?.roomCo2Sensor),
    ...guardSensors.filter((id) => sensors[id]?.measures === "co2InAir"),
  ];
  return [...new Set(named.filter((id) => id !== undefined))];
}

/** The same site with other leads; the very same where no tank has a lead of its own. */
export function withLeads(model: SiteModel, usedLead: (tankId: string) => UsedLead | undefined): SiteModel {
  const rules = new Map(
    [...model.tanks].map(([tankId, { dosing }]) => [tankId, ruleWithLead(dosing, usedLead(tankId))]),
  );
  const isMoved = (tankId: string): boolean => rules.get(tankId) !== model.tanks.get(tankId)?.dosing;
  if (![...model.tanks.keys()].some(isMoved)) return model;
  const valves = [...model.valves].map(([valveId, valve]): readonly [string, ValveModel] => {
    const { tankIds } = valve.rules;
    if (!tankIds.some(isMoved)) return [valveId, valve];
    const calendar = createDosingCalendar(
      tankIds.flatMap((tankId) => rules.get(tankId) ?? []),
      model.timeZone,
    );
    return [valveId, { ...valve, calendar }];
  });
  return { ...model, valves: new Map(valves) };
}

function dropCheckerFrom(written: NonNullable<TankConfig["dropChecker"]>): DropChecker {
  const { referenceKh_dKH, fillDepth_mm, timeConstant_h } = written;
  const liquid = referenceKh_dKH === undefined ? {} : { referenceKh_dKH };
  if (fillDepth_mm !== undefined) {
    return { ...liquid, timeConstant_h: timeConstantFromDepth_h(fillDepth_mm / 10) };
  }
  return { ...liquid, ...(timeConstant_h === undefined ? {} : { timeConstant_h }) };
}

/** The smallest of the tanks whose water a thermometer measures; undefined: it hangs elsewhere. */
function smallestTankOf(sensorId: string, { tanks }: SiteConfig): number | undefined {
  const volumes_L = Object.values(tanks)
    .filter(({ temperatureSensor }) => temperatureSensor === sensorId)
    .map(({ volume_L }) => volume_L);
  return volumes_L.length === 0 ? undefined : Math.min(...volumes_L);
}

function sensorModelFrom(
  sensorId: string,
  sensor: SensorConfig,
  tankVolume_L: number | undefined,
): SensorModel {
  const timestampSelector = sensor.timestamp === undefined ? undefined : selectorOf(sensor.timestamp);
  return {
    rules: sensorRulesFrom({
      ...sensor,
      sensorId,
      tankVolume_L,
      calibration: calibrationFrom(sensor.calibration),
    }),
    topic: sensor.topic,
    selector: selectorOf(sensor.value),
    timestampSelector: timestampSelector?.kind === "bare" ? undefined : timestampSelector,
    battery:
      sensor.battery === undefined
        ? undefined
        : { ...sensor.battery, selector: selectorOf(sensor.battery.value) },
  };
}

function calibrationFrom(calibration: SensorConfig["calibration"]): CalibrationDescription {
  if (calibration.kind === "linear") return calibration;
  const { 0: first, 1: second } = calibration.twoPoint;
  return { twoPoint: [first, second] };
}

function relayModelFrom(relayId: string, relay: RelayConfig): RelayModel {
  const autoOff_s = relay.autoOff_s;
  return {
    rules: {
      relayId,
      confirmWithin_s: relay.confirmWithin_s,
      autoOff_s,
      answersStatusQuery: relay.statusQuery !== undefined,
    },
    commandTopic: relay.commandTopic,
    payloadOn:
      relay.payloadOnFor === undefined || autoOff_s === undefined
        ? relay.payloadOn
        : relay.payloadOnFor.replaceAll("{seconds}", String(autoOff_s)),
    payloadOff: relay.payloadOff,
    stateTopic: relay.stateTopic,
    stateSelector: selectorOf(relay.stateValue),
    stateOn: relay.stateOn,
    stateOff: relay.stateOff,
    statusQuery: relay.statusQuery,
    qosOn: relay.qosOn,
    qosOff: relay.qosOff,
    acceptedWithoutAutoOff: relay.acceptWithoutAutoOff !== undefined,
  };
}

function selectorOf(text: string | undefined): ValueSelector {
  const selector = compileSelector(text);
  // The config check has compiled every selector before.
  if (selector.kind === "invalid") throw new TypeError(selector.reason);
  return selector;
}
