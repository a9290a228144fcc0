import {
  faultsAt,
  isGasFault,
  isSensorFault,
  type SimulatedFault,
} from "../../lib/simulation/simulated-fault.js";
import {
  readSensor,
  type SensorMemory,
  type SensorModelSpec,
} from "../../lib/simulation/simulated-sensor.js";
import {
  createSimulatedSite,
  type SimulatedSiteSpec,
  type SimulatedSiteState,
} from "../../lib/simulation/simulated-site.js";
import type { Logger } from "../ports/logger.js";
import { documentOf, type PlacedValue } from "./payload-encoding.js";
import type { SensorDescription, SiteDescription } from "./site-description.js";
import { createSimulatedRelays, type RelayMoment, type Report } from "./simulated-relays.js";
import { observationOf, sensorModelFor, shownFor, type Observation } from "./simulated-sensors.js";
import { simulatedSiteFor } from "./site-physics.js";

export interface SimulatedHomeOptions {
  readonly site: SiteDescription;
  readonly random: () => number;
  /** True time of the simulated home. The daemon's clock may be wrong; this one is not. */
  readonly startAt_epochMs: number;
  /** The same instant on the monotonic clock by which it is brought forward. */
  readonly startAt_monotonicMs: number;
  readonly lightsOnAt: (tankId: string, at_epochMs: number) => boolean;
  readonly faults?: readonly SimulatedFault[];
  /** Where sensors and relays speak. */
  readonly say: (reports: readonly Report[]) => void;
  /** The physics; left out, what the demo takes for a home of this description. */
  readonly physics?: SimulatedSiteSpec;
  /** After a leap the missed time is gone through in parts of this length; left out, ten seconds. */
  readonly longestPart_s?: number;
  readonly logger?: Logger;
}

/** The devices of a home with the physics behind them, brought forward from outside, whatever carries their messages. */
export interface SimulatedHome {
  /** Topics on which its relays listen. */
  readonly topics: readonly string[];
  /** Brings everything to an instant, stopping where a relay acts by itself. */
  advanceTo(now_monotonicMs: number): void;
  /** Every sensor speaks. */
  sample(): void;
  receive(topic: string, payload: string): void;
  /** Every relay reports itself, as when it joins the broker. */
  announce(): void;
  /** When a relay will do something by itself. */
  relaysDueAt_monotonicMs(): number;
  reached_monotonicMs(): number;
  /** Replaces the faults, from now on. */
  setFaults(faults: readonly SimulatedFault[]): void;
  /** What people change at once: a vessel refilled, water changed. */
  change(by: (state: SimulatedSiteState) => SimulatedSiteState): void;
  /** What a sensor would show for a true value right now, in its own unit, without noise; as in a buffer. */
  shown(sensorId: string, trueValue: number): number;
  /** A probe was cleaned: what has crept away since it was new is gone. */
  renewSensor(sensorId: string): void;
  /** How things really are, which no sensor tells. */
  truth(): SimulatedSiteState;
  contactClosed(): Readonly<Record<string, boolean>>;
}

interface SimulatedSensor {
  readonly sensorId: string;
  readonly description: SensorDescription;
  readonly observe: Observation;
  readonly model: SensorModelSpec;
}

function sensorsOf(
  site: SiteDescription,
  spec: SimulatedSiteSpec,
  logger: Logger | undefined,
): readonly SimulatedSensor[] {
  return Object.entries(site.sensors).flatMap(([sensorId, description]) => {
    const observe = observationOf(sensorId, description, site, spec);
    if (observe === undefined) {
      logger?.warn({ sensor: sensorId }, "this sensor hangs at nothing that is simulated and stays silent");
      return [];
    }
    return [{ sensorId, description, observe, model: sensorModelFor(description) }];
  });
}

/** Bare numbers each in a message of their own; values that select from JSON on one topic share a document. */
function messagesFor(
  samples: readonly { readonly description: SensorDescription; readonly value: number }[],
  at_epochMs: number,
): readonly Report[] {
  const bare: Report[] = [];
  const documents = new Map<string, PlacedValue[]>();
  for (const { description, value } of samples) {
    const { topic, value: selector, timestamp } = description;
    if (selector === undefined) {
      bare.push({ topic, payload: String(value) });
      continue;
    }
    const placed = documents.get(topic) ?? [];
    placed.push({ selector, value });
    if (timestamp !== undefined && !placed.some((other) => other.selector === timestamp)) {
      placed.push({ selector: timestamp, value: new Date(at_epochMs).toISOString() });
    }
    documents.set(topic, placed);
  }
  return [...bare, ...[...documents].map(([topic, values]) => ({ topic, payload: documentOf(values) }))];
}

/** @throws NotSimulatedError, SelectorNotBuildableError when the site is one that cannot be played. */
export function createSimulatedHome(options: SimulatedHomeOptions): SimulatedHome {
  const { random, site: description, say, startAt_epochMs, longestPart_s = 10 } = options;
  const spec = options.physics ?? simulatedSiteFor(description, startAt_epochMs);
  const site = createSimulatedSite(spec, random);
  const sensors = sensorsOf(description, spec, options.logger);
  // Shows right away, not at the first value, that every payload can be built.
  messagesFor(
    sensors.map((sensor) => ({ description: sensor.description, value: 0 })),
    startAt_epochMs,
  );
  const memories = new Map<string, SensorMemory>();
  let faults = options.faults ?? [];
  let state = site.initial;
  let stateAt_monotonicMs = options.startAt_monotonicMs;
  const relays = createSimulatedRelays(description, stateAt_monotonicMs);

  const moment = (): RelayMoment => ({
    now_monotonicMs: stateAt_monotonicMs,
    at_epochMs: state.at_epochMs,
    faults,
  });

  const advanceBy = (part_ms: number): void => {
    const lightsOn = Object.fromEntries(
      Object.keys(description.tanks).map((tankId) => [tankId, options.lightsOnAt(tankId, state.at_epochMs)]),
    );
    state = site.advance(state, {
      duration_s: part_ms / 1000,
      valveOpen: relays.valveOpen(),
      lightsOn,
      aerating: relays.aerating(),
      faults: faultsAt(faults.filter(isGasFault), state.at_epochMs),
    });
    stateAt_monotonicMs += part_ms;
  };

  const shownBy = (sensor: SimulatedSensor, value: number, model: SensorModelSpec, chance: () => number) => {
    const own = faults.filter(isSensorFault).filter((fault) => fault.sensorId === sensor.sensorId);
    const memory = memories.get(sensor.sensorId) ?? {
      startedAt_epochMs: startAt_epochMs,
      lastSent: undefined,
    };
    return readSensor(
      model,
      memory,
      {
        truth: shownFor(value, sensor.description),
        at_epochMs: state.at_epochMs,
        faults: faultsAt(own, state.at_epochMs),
      },
      chance,
    );
  };

  return {
    topics: relays.topics,
    advanceTo(now_monotonicMs) {
      for (;;) {
        const behind_ms = now_monotonicMs - stateAt_monotonicMs;
        if (behind_ms <= 0) return;
        const untilRelay_ms = Math.max(relays.dueAt_monotonicMs() - stateAt_monotonicMs, 0);
        advanceBy(Math.min(behind_ms, untilRelay_ms > 0 ? untilRelay_ms : behind_ms, longestPart_s * 1000));
        say(relays.elapse(moment()));
      }
    },
    sample() {
      const taken = sensors.flatMap((sensor) => {
        const result = shownBy(sensor, sensor.observe(state), sensor.model, random);
        memories.set(sensor.sensorId, result.memory);
        return result.sample.kind === "value"
          ? [{ description: sensor.description, value: result.sample.value }]
          : [];
      });
      say(messagesFor(taken, state.at_epochMs));
    },
    receive: (topic, payload) => say(relays.receive(topic, payload, moment())),
    announce: () => say(relays.announce(moment())),
    relaysDueAt_monotonicMs: () => relays.dueAt_monotonicMs(),
    reached_monotonicMs: () => stateAt_monotonicMs,
    setFaults(next) {
      faults = next;
    },
    change(by) {
      state = by(state);
    },
    shown(sensorId, trueValue) {
      const sensor = sensors.find((candidate) => candidate.sensorId === sensorId);
      if (sensor === undefined) return NaN;
      const exact = { ...sensor.model, noise: 0, dropout_ratio: 0 };
      const { sample } = shownBy(sensor, trueValue, exact, () => 0.5);
      return sample.kind === "value" ? sample.value : NaN;
    },
    renewSensor(sensorId) {
      const lastSent = memories.get(sensorId)?.lastSent;
      memories.set(sensorId, { startedAt_epochMs: state.at_epochMs, lastSent });
    },
    truth: () => state,
    contactClosed: () => relays.contactClosed(),
  };
}
