import Database from "better-sqlite3";
import type { SimulatedFault } from "../../lib/simulation/simulated-fault.js";
import type { Household } from "./household.js";

/** A fault as it is drawn: where it bites, how it begins, and how it ends. */
export interface DrawnFault {
  readonly name: string;
  /** The name of the sensor, relay, valve or vessel; empty for the whole home. */
  readonly subject: string;
  readonly onset_epochMs: number;
  /** Ends by itself; undefined: only a person ends it. */
  readonly lasts_ms: number | undefined;
  /** A person who was never told finds it by chance after this time. */
  readonly foundAfter_ms: number;
  /** Beginnings of ids of which one must be told, and how soon; undefined: nobody needs to act. */
  readonly told: { readonly by: readonly string[]; readonly within_min: number } | undefined;
  /** Beginnings of ids that it may bring about, now and for a while after its end. */
  readonly explains: readonly string[];
  /** Valves that it may keep from dosing. */
  readonly valves: readonly string[];
  /** Gas may go on though the valve is told to close. */
  readonly keepsGasOn: boolean;
  begin(household: Household): Promise<void> | void;
  end(household: Household): Promise<void> | void;
}

export interface FaultSubjects {
  readonly random: () => number;
  readonly databaseFile: string;
  readonly valves: readonly {
    readonly valveId: string;
    readonly vesselId: string;
    readonly tankIds: readonly string[];
  }[];
}

const minute_ms = 60_000;
const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
/** Four days and more lie between two faults: each is told apart from the one before. */
const leastPause_ms = 4 * day_ms;

type Plan = Omit<DrawnFault, "onset_epochMs" | "begin" | "end" | "lasts_ms" | "keepsGasOn"> & {
  readonly lasts_ms?: number;
  readonly keepsGasOn?: boolean;
  readonly begin?: DrawnFault["begin"];
  readonly end?: DrawnFault["end"];
  /** What the simulated home knows of it. */
  readonly simulated?: (onset_epochMs: number) => SimulatedFault;
};

/** Every kind of fault, with the chances that one of its kind has; those of the fault suite that an injected clock can play. */
export const faultKinds: Readonly<Record<string, (of: FaultSubjects) => Plan>> = {
  "pH sensor silent": (of) => {
    const { tankId, valveId } = anyTank(of);
    const sensorId = `${tankId}-ph`;
    return {
      ...aboutSensor(tankId, valveId, sensorId),
      name: "pH sensor silent",
      told: { by: [`guard-silent/${sensorId}`], within_min: 30 },
      simulated: (onset_epochMs) => ({ kind: "sensor-silent", sensorId, onset_epochMs }),
    };
  },
  "pH sensor stuck": (of) => {
    const { tankId, valveId } = anyTank(of);
    const sensorId = `${tankId}-ph`;
    return {
      ...aboutSensor(tankId, valveId, sensorId),
      name: "pH sensor stuck",
      told: { by: [`guard-silent/${sensorId}`], within_min: 180 },
      simulated: (onset_epochMs) => ({ kind: "sensor-stuck", sensorId, onset_epochMs }),
    };
  },
  "pH sensor absurd": (of) => {
    const { tankId, valveId } = anyTank(of);
    const sensorId = `${tankId}-ph`;
    return {
      ...aboutSensor(tankId, valveId, sensorId),
      name: "pH sensor absurd",
      told: { by: [`guard-silent/${sensorId}`], within_min: 30 },
      simulated: (onset_epochMs) => ({ kind: "sensor-implausible", value: 14.2, sensorId, onset_epochMs }),
    };
  },
  "pH sensor spikes": (of) => {
    const { tankId, valveId } = anyTank(of);
    const sensorId = `${tankId}-ph`;
    return {
      ...aboutSensor(tankId, valveId, sensorId),
      name: "pH sensor spikes",
      told: undefined,
      lasts_ms: 12 * hour_ms,
      simulated: (onset_epochMs) => ({
        kind: "sensor-spikes",
        size: 1,
        spike_ratio: 0.1,
        sensorId,
        onset_epochMs,
      }),
    };
  },
  "pH probe drifts": (of) => {
    const { tankId, valveId } = anyTank(of);
    const sensorId = `${tankId}-ph`;
    return {
      ...aboutSensor(tankId, valveId, sensorId),
      name: "pH probe drifts",
      explains: [...ofTank(tankId), `probe/${sensorId}`, `calibration-due/${sensorId}`],
      told: undefined,
      lasts_ms: 10 * day_ms,
      simulated: (onset_epochMs) => ({ kind: "sensor-drifts", driftPerDay: 0.03, sensorId, onset_epochMs }),
    };
  },
  "thermometer silent": (of) => {
    const { tankId, valveId } = anyTank(of);
    const sensorId = `${tankId}-temperature`;
    return {
      ...aboutSensor(tankId, valveId, sensorId),
      name: "thermometer silent",
      told: { by: [`tank-sensor/${sensorId}`], within_min: 60 },
      simulated: (onset_epochMs) => ({ kind: "sensor-silent", sensorId, onset_epochMs }),
    };
  },
  "gauge silent": (of) => {
    const { vesselId, valveId } = anyOf(of.random, of.valves);
    return {
      ...aboutVessel(vesselId, valveId),
      name: "gauge silent",
      told: undefined,
      lasts_ms: 2 * day_ms,
      simulated: (onset_epochMs) => ({
        kind: "sensor-silent",
        sensorId: `${vesselId}-gauge`,
        onset_epochMs,
      }),
    };
  },
  "relay reports nothing": (of) => relayPlan(of, "relay reports nothing", "relay-mute"),
  "relay ignores commands": (of) => relayPlan(of, "relay ignores commands", "relay-ignores-commands"),
  "relay without power": (of) => relayPlan(of, "relay without power", "relay-without-power"),
  "relay flaps": (of) => {
    const { valveId, tankIds } = anyOf(of.random, of.valves);
    return {
      ...aboutRelay(valveId, tankIds),
      name: "relay flaps",
      simulated: (onset_epochMs) => ({ kind: "relay-flaps", period_s: 20, relayId: valveId, onset_epochMs }),
    };
  },
  "relay lies": (of) => {
    const { valveId, vesselId, tankIds } = anyOf(of.random, of.valves);
    return {
      ...gasGoesOn(valveId, vesselId, tankIds),
      name: "relay lies",
      simulated: (onset_epochMs) => ({ kind: "relay-lies", relayId: valveId, onset_epochMs }),
    };
  },
  "valve welded": (of) => {
    const { valveId, vesselId, tankIds } = anyOf(of.random, of.valves);
    return {
      ...gasGoesOn(valveId, vesselId, tankIds),
      name: "valve welded",
      simulated: (onset_epochMs) => ({
        kind: "relay-welded",
        reports: "coil",
        relayId: valveId,
        onset_epochMs,
      }),
    };
  },
  "seat leaks": (of) => {
    const { valveId, vesselId, tankIds } = anyOf(of.random, of.valves);
    const about = gasGoesOn(valveId, vesselId, tankIds);
    return {
      ...about,
      name: "seat leaks",
      told: { ...about.told, within_min: 72 * 60 },
      simulated: (onset_epochMs) => ({ kind: "valve-seat-leaks", leak_ratio: 0.3, valveId, onset_epochMs }),
    };
  },
  "vessel leaks": (of) => {
    const { valveId, vesselId } = anyOf(of.random, of.valves);
    return {
      ...aboutVessel(vesselId, valveId),
      name: "vessel leaks",
      told: { by: [`leak-while-closed/${vesselId}`, `charge-runs-out/${vesselId}`], within_min: 5 * 24 * 60 },
      foundAfter_ms: 10 * day_ms,
      // About 2 g a day at 10 bar.
      simulated: (onset_epochMs) => ({
        kind: "vessel-leaks",
        leak_molPerHBar: 1.8e-4,
        vesselId,
        onset_epochMs,
      }),
    };
  },
  "broker lost": ({ random, valves }) => ({
    ...aboutHome(valves),
    name: "broker lost",
    lasts_ms: between(random, 2, 8) * hour_ms,
    told: { by: ["broker"], within_min: 20 },
    begin: (household) => household.loseBroker("connection refused"),
    end: (household) => household.findBroker(),
  }),
  "broker restarted": ({ random, valves }) => ({
    ...aboutHome(valves),
    name: "broker restarted",
    lasts_ms: between(random, 5, 120) * 1000,
    told: undefined,
    begin: (household) => household.loseBroker("connection closed"),
    end: (household) => household.findBroker(),
  }),
  "daemon killed": ({ random, valves }) => ({
    ...aboutHome(valves),
    name: "daemon killed",
    lasts_ms: between(random, 0.1, 10) * minute_ms,
    told: undefined,
    begin: (household) => household.killDaemon(),
    end: (household) => household.startDaemon(),
  }),
  "power cut": ({ random, valves }) => {
    let relays: readonly SimulatedFault[] = [];
    return {
      ...aboutHome(valves),
      name: "power cut",
      lasts_ms: between(random, 0.2, 3) * hour_ms,
      told: undefined,
      begin: async (household) => {
        household.sensorsHavePower = false;
        relays = valves.map(({ valveId }) => ({
          kind: "relay-without-power",
          relayId: valveId,
          onset_epochMs: household.now_epochMs,
        }));
        relays.forEach((fault) => household.addFault(fault));
        household.loseBroker("power cut");
        await household.killDaemon();
      },
      end: async (household) => {
        household.sensorsHavePower = true;
        relays.forEach((fault) => household.endFault(fault));
        household.findBroker();
        await household.startDaemon();
      },
    };
  },
  "clock steps": ({ random, valves }) => {
    const step_ms = Math.round((random() < 0.5 ? -1 : 1) * between(random, 1, 5) * hour_ms);
    return {
      ...aboutHome(valves),
      name: "clock steps",
      lasts_ms: between(random, 0.5, 3) * hour_ms,
      told: { by: ["clock"], within_min: 20 },
      begin: (household) => {
        if (household.life !== undefined) household.life.time.civilOffset_ms = step_ms;
      },
      end: (household) => {
        if (household.life !== undefined) household.life.time.civilOffset_ms = 0;
      },
    };
  },
  "database locked": ({ random, valves, databaseFile }) => {
    let lock: Database.Database | undefined;
    return {
      ...aboutHome(valves),
      name: "database locked",
      lasts_ms: between(random, 0.3, 2) * hour_ms,
      told: { by: ["store"], within_min: 60 },
      begin: () => {
        lock = new Database(databaseFile);
        lock.exec("BEGIN IMMEDIATE");
      },
      end: () => {
        lock?.exec("ROLLBACK");
        lock?.close();
      },
    };
  },
  "retained rubbish": (of) => {
    const { tankId, valveId } = anyTank(of);
    return {
      ...aboutSensor(tankId, valveId, `${tankId}-ph`),
      name: "retained rubbish",
      told: undefined,
      lasts_ms: 10 * minute_ms,
      begin: ({ broker }) => {
        broker.publish(`${valveId}/relay/command`, "ON", { retain: true });
        broker.publish(`${tankId}/ph`, "4.2", { retain: true });
        broker.publish(`${tankId}/temperature`, "rubbish", { retain: true });
      },
      end: ({ broker }) => {
        for (const topic of [`${valveId}/relay/command`, `${tankId}/ph`, `${tankId}/temperature`])
          broker.publish(topic, "", { retain: true });
      },
    };
  },
};

/** Faults over a span, in order: every kind comes once before any comes again. */
export function drawFaults(
  of: FaultSubjects,
  span: { readonly from_epochMs: number; readonly to_epochMs: number },
  perYear: number,
): readonly DrawnFault[] {
  const { random } = of;
  const lasts_ms = span.to_epochMs - span.from_epochMs;
  const count = Math.round((perYear * lasts_ms) / (365 * day_ms));
  const every_ms = lasts_ms / count;
  const faults: DrawnFault[] = [];
  let kinds: string[] = [];
  for (let index = 0; index < count; index += 1) {
    if (kinds.length === 0) kinds = Object.keys(faultKinds);
    const [kind = ""] = kinds.splice(Math.floor(random() * kinds.length), 1);
    const slack_ms = Math.max(0, every_ms - leastPause_ms);
    const onset_epochMs =
      Math.round((span.from_epochMs + index * every_ms + random() * slack_ms) / 1000) * 1000;
    faults.push(drawn(kind, of, onset_epochMs));
  }
  return faults;
}

/** One fault of a kind, at an instant. */
export function drawn(kind: string, of: FaultSubjects, onset_epochMs: number): DrawnFault {
  const make = faultKinds[kind];
  if (make === undefined) throw new RangeError(`there is no fault "${kind}"`);
  const { simulated, begin, end, ...plan } = make(of);
  const fault = simulated?.(onset_epochMs);
  return {
    keepsGasOn: false,
    ...plan,
    // A civil clock knows no parts of a millisecond.
    lasts_ms: plan.lasts_ms === undefined ? undefined : Math.round(plan.lasts_ms),
    onset_epochMs,
    begin: begin ?? ((household) => (fault === undefined ? undefined : household.addFault(fault))),
    end: end ?? ((household) => (fault === undefined ? undefined : household.endFault(fault))),
  };
}

function between(random: () => number, low: number, high: number): number {
  return low + (high - low) * random();
}

function anyOf<T>(random: () => number, items: readonly T[]): T {
  const item = items[Math.floor(random() * items.length)];
  if (item === undefined) throw new RangeError("nothing to draw from");
  return item;
}

function anyTank({ random, valves }: FaultSubjects): { readonly tankId: string; readonly valveId: string } {
  return anyOf(
    random,
    valves.flatMap(({ valveId, tankIds }) => tankIds.map((tankId) => ({ valveId, tankId }))),
  );
}

const ofTank = (tankId: string): readonly string[] =>
  [
    "co2-",
    "not-falling",
    "night-rest",
    "gas-exchange",
    "methods-disagree",
    "trip/tank",
    "tank-not-judged",
  ].map((kind) => (kind.endsWith("-") ? kind : `${kind}/${tankId}`));

function aboutSensor(tankId: string, valveId: string, sensorId: string) {
  return {
    subject: sensorId,
    explains: [
      ...ofTank(tankId),
      `guard-silent/${sensorId}`,
      `tank-sensor/${sensorId}`,
      `probe/${sensorId}`,
      "flow-",
    ],
    valves: [valveId],
    foundAfter_ms: 2 * day_ms,
  };
}

function aboutVessel(vesselId: string, valveId: string) {
  return {
    subject: vesselId,
    explains: [
      "leak-while-closed",
      "valve-passes",
      "vessel-emptied",
      "flow-",
      "surge-",
      "charge-runs-out",
      "charge-spent",
      "end-of-charge",
      "pressure-not-believed",
      "pressure-silent",
      "gauge-stepped",
      "refill-detected",
    ].map((kind) => (kind.endsWith("-") ? kind : `${kind}/${vesselId}`)),
    valves: [valveId],
    foundAfter_ms: 4 * day_ms,
  };
}

function aboutRelay(valveId: string, tankIds: readonly string[]) {
  return {
    subject: valveId,
    explains: [
      ...tankIds.flatMap(ofTank),
      `relay/${valveId}`,
      `trip/valve/${valveId}`,
      `dead-man/${valveId}`,
      "flow-",
      "valve-passes",
      "leak-while-closed",
    ],
    told: { by: [`relay/${valveId}`], within_min: 24 * 60 },
    valves: [valveId],
    foundAfter_ms: 2 * day_ms,
  };
}

function relayPlan(
  of: FaultSubjects,
  name: string,
  kind: "relay-mute" | "relay-ignores-commands" | "relay-without-power",
): Plan {
  const { valveId, tankIds } = anyOf(of.random, of.valves);
  return {
    ...aboutRelay(valveId, tankIds),
    name,
    keepsGasOn: kind === "relay-ignores-commands",
    simulated: (onset_epochMs) => ({ kind, relayId: valveId, onset_epochMs }),
  };
}

/** No report shows it: what tells is the tank, which does not lose its CO2, or the gas that is gone. */
function gasGoesOn(valveId: string, vesselId: string, tankIds: readonly string[]) {
  const about = aboutRelay(valveId, tankIds);
  return {
    ...about,
    told: {
      by: [
        `relay/${valveId}`,
        `trip/valve/${valveId}`,
        `valve-passes/${vesselId}`,
        `leak-while-closed/${vesselId}`,
        ...tankIds.flatMap((tankId) => [
          `not-falling/${tankId}`,
          `night-rest/${tankId}`,
          `trip/tank/${tankId}`,
          `co2-alarm/${tankId}`,
          `co2-close/${tankId}`,
        ]),
      ],
      within_min: 30 * 60,
    },
    keepsGasOn: true,
  };
}

function aboutHome(valves: FaultSubjects["valves"]) {
  return {
    subject: "",
    explains: [
      "broker",
      "dead-man/",
      "clock",
      "store",
      "guard-silent/",
      "tank-sensor/",
      "pressure-silent/",
      "relay/",
      "not-falling/",
      "alert-channel/",
    ],
    valves: valves.map(({ valveId }) => valveId),
    foundAfter_ms: day_ms,
  };
}
