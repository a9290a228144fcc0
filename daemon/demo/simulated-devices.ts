import { Socket } from "node:net";
import { connect, type MqttClient } from "mqtt";
import type { SimulatedFault } from "../../lib/simulation/simulated-fault.js";
import type { SimulatedSiteState } from "../../lib/simulation/simulated-site.js";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { SiteDescription } from "./site-description.js";
import { createSimulatedHome } from "./simulated-home.js";
import type { Report } from "./simulated-relays.js";

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

/** The physics, the relays' timers and faults are looked at this often, in simulated time. */
const step_s = 1;

/**
 * Runs a simulated home against a real broker, with a connection of its own, on any clock.
 * @throws NotSimulatedError, SelectorNotBuildableError when the site is one that cannot be played.
 */
export function createSimulatedDevices(options: SimulatedDevicesOptions): SimulatedDevices {
  const { clock, interval_s = 10, logger } = options;
  const stopping = new AbortController();
  let nextSample_monotonicMs = clock.monotonic_ms();
  let client: MqttClient | undefined;
  let loop: Promise<void> | undefined;

  const say = (reports: readonly Report[]): void => {
    if (client?.connected !== true) return;
    for (const { topic, payload } of reports) client.publish(topic, payload, { qos: 0 });
  };
  const home = createSimulatedHome({ ...options, startAt_monotonicMs: nextSample_monotonicMs, say });
  const catchUp = (): void => home.advanceTo(clock.monotonic_ms());

  const run = async (signal: AbortSignal): Promise<void> => {
    while (!signal.aborted) {
      catchUp();
      const reached_monotonicMs = home.reached_monotonicMs();
      if (reached_monotonicMs >= nextSample_monotonicMs) {
        home.sample();
        nextSample_monotonicMs = reached_monotonicMs + interval_s * 1000;
      }
      const next_monotonicMs = Math.min(
        reached_monotonicMs + step_s * 1000,
        nextSample_monotonicMs,
        home.relaysDueAt_monotonicMs(),
      );
      await clock.sleep(next_monotonicMs - reached_monotonicMs, signal);
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
          home.receive(topic, payload.toString("utf8"));
        });
        opened.on("connect", () => {
          if (opened.stream instanceof Socket) opened.stream.setNoDelay(true);
          opened.subscribe([...home.topics], { qos: 1 }, () => {
            catchUp();
            home.announce();
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
    setFaults: (faults) => home.setFaults(faults),
    truth: () => home.truth(),
    contactClosed: () => home.contactClosed(),
  };
}
