import { Socket } from "node:net";
import { connect, type MqttClient } from "mqtt";
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
import { createSimulatedSite, type SimulatedSiteState } from "../../lib/simulation/simulated-site.js";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import { documentOf, type PlacedValue } from "./payload-encoding.js";
import type { SensorDescription, SiteDescription } from "./site-description.js";
import { createSimulatedRelays, type RelayMoment, type Report } from "./simulated-relays.js";
import { observationOf, sensorModelFor, shownFor, type Observation } from "./simulated-sensors.js";
import { simulatedSiteFor } from "./site-physics.js";

export interface SimulatedDevicesOptions {
  readonly brokerAddress: string;
  readonly site: SiteDescription;
  readonly clock: Clock;
  readonly random: () => number;
  /** True time of the simulated home. The daemon's clock may be wrong; this one is not. */
  readonly startAt_epochMs: number;
  readonly lightsOnAt: (tankId: string, at_epochMs: number) => boolean;
  readonly faults?: readonly SimulatedFault[];
  /** How often each sensor sends. */
  readonly interval_s?: number;
  readonly logger?: Logger;
}

/** The devices of a home, as a broker sees them: sensors that send and relays that obey. */
export interface SimulatedDevices {
  /** Resolves once the relays listen and have reported themselves. */
  start(): Promise<void>;
  stop(): Promise<void>;
  /** Replaces the faults, from now on. */
  setFaults(faults: readonly SimulatedFault[]): void;
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

/** The physics, the relays' timers and faults are looked at this often, in simulated time. */
const step_s = 1;
/** After a leap of the clock the missed time is gone through in parts of this length. */
const longestPart_ms = 10_000;

function sensorsOf(
  site: SiteDescription,
  spec: ReturnType<typeof simulatedSiteFor>,
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

/**
 * Runs a simulated home against a real broker, with a connection of its own, on any clock.
 * @throws NotSimulatedError, SelectorNotBuildableError when the site is one that cannot be played.
 */
export function createSimulatedDevices(options: SimulatedDevicesOptions): SimulatedDevices {
  const { clock, random, site: description, interval_s = 10, logger } = options;
  const spec = simulatedSiteFor(description, options.startAt_epochMs);
  const site = createSimulatedSite(spec, random);
  const sensors = sensorsOf(description, spec, logger);
  // Shows right away, not at the first value, that every payload can be built.
  messagesFor(
    sensors.map((sensor) => ({ description: sensor.description, value: 0 })),
    options.startAt_epochMs,
  );
  const memories = new Map<string, SensorMemory>();
  const stopping = new AbortController();
  let faults = options.faults ?? [];
  let state = site.initial;
  let stateAt_monotonicMs = clock.monotonic_ms();
  let nextSample_monotonicMs = stateAt_monotonicMs;
  const relays = createSimulatedRelays(description, stateAt_monotonicMs);
  let client: MqttClient | undefined;
  let loop: Promise<void> | undefined;

  const moment = (): RelayMoment => ({
    now_monotonicMs: stateAt_monotonicMs,
    at_epochMs: state.at_epochMs,
    faults,
  });

  const publish = (reports: readonly Report[]): void => {
    if (client?.connected !== true) return;
    for (const { topic, payload } of reports) client.publish(topic, payload, { qos: 0 });
  };

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

  /** Brings everything to the clock's time, stopping where a relay acts by itself. */
  const catchUp = (): void => {
    for (;;) {
      const behind_ms = clock.monotonic_ms() - stateAt_monotonicMs;
      if (behind_ms <= 0) return;
      const untilRelay_ms = Math.max(relays.dueAt_monotonicMs() - stateAt_monotonicMs, 0);
      advanceBy(Math.min(behind_ms, untilRelay_ms > 0 ? untilRelay_ms : behind_ms, longestPart_ms));
      publish(relays.elapse(moment()));
    }
  };

  const sample = (): void => {
    const taken = sensors.flatMap((sensor) => {
      const own = faults.filter(isSensorFault).filter((fault) => fault.sensorId === sensor.sensorId);
      const memory = memories.get(sensor.sensorId) ?? {
        startedAt_epochMs: options.startAt_epochMs,
        lastSent: undefined,
      };
      const result = readSensor(
        sensor.model,
        memory,
        {
          truth: shownFor(sensor.observe(state), sensor.description),
          at_epochMs: state.at_epochMs,
          faults: faultsAt(own, state.at_epochMs),
        },
        random,
      );
      memories.set(sensor.sensorId, result.memory);
      return result.sample.kind === "value"
        ? [{ description: sensor.description, value: result.sample.value }]
        : [];
    });
    publish(messagesFor(taken, state.at_epochMs));
  };

  const run = async (signal: AbortSignal): Promise<void> => {
    while (!signal.aborted) {
      catchUp();
      if (stateAt_monotonicMs >= nextSample_monotonicMs) {
        sample();
        nextSample_monotonicMs = stateAt_monotonicMs + interval_s * 1000;
      }
      const next_monotonicMs = Math.min(
        stateAt_monotonicMs + step_s * 1000,
        nextSample_monotonicMs,
        relays.dueAt_monotonicMs(),
      );
      await clock.sleep(next_monotonicMs - stateAt_monotonicMs, signal);
    }
  };

  return {
    start: () =>
      new Promise<void>((resolve) => {
        const opened = connect(options.brokerAddress, {
          protocolVersion: 4,
          clientId: "simulated-devices",
          clean: true,
          reconnectPeriod: 250,
          queueQoSZero: false,
        });
        client = opened;
        opened.on("error", (error) =>
          logger?.warn({ reason: error.message }, "simulated devices: no broker"),
        );
        opened.on("message", (topic, payload) => {
          catchUp();
          publish(relays.receive(topic, payload.toString("utf8"), moment()));
        });
        opened.on("connect", () => {
          if (opened.stream instanceof Socket) opened.stream.setNoDelay(true);
          opened.subscribe([...relays.topics], { qos: 1 }, () => {
            catchUp();
            publish(relays.announce(moment()));
            loop ??= run(stopping.signal);
            resolve();
          });
        });
      }),
    async stop() {
      stopping.abort();
      await loop;
      await client?.endAsync(true);
    },
    setFaults(next) {
      faults = next;
    },
    truth: () => state,
    contactClosed: () => relays.contactClosed(),
  };
}
