import {
  relayDeviceAtPowerOn,
  relayDeviceDueAt_monotonicMs,
  stepRelayDevice,
  type RelayDeviceEvent,
  type RelayDeviceSpec,
  type RelayDeviceState,
} from "../../lib/simulation/relay-device.js";
import { faultsAt, isRelayFault, type SimulatedFault } from "../../lib/simulation/simulated-fault.js";
import { documentOf } from "./payload-encoding.js";
import type { RelayDescription, SiteDescription } from "./site-description.js";

interface SimulatedRelay {
  readonly relayId: string;
  readonly role: "gas" | "airPump";
  readonly valveId: string;
  readonly description: RelayDescription;
  readonly spec: RelayDeviceSpec;
}

export interface Report {
  readonly topic: string;
  readonly payload: string;
}

/** All relay devices of a site, with their states. */
export interface SimulatedRelays {
  readonly topics: readonly string[];
  /** Takes a message to the relays that listen on its topic; returns what they answer. */
  receive(topic: string, payload: string, moment: RelayMoment): readonly Report[];
  /** Lets their own timers and faults act. */
  elapse(moment: RelayMoment): readonly Report[];
  /** What all of them report of themselves when they join the broker. */
  announce(moment: RelayMoment): readonly Report[];
  dueAt_monotonicMs(): number;
  contactClosed(): Readonly<Record<string, boolean>>;
  /** Gas flows when every solenoid in the line is on. */
  valveOpen(): Readonly<Record<string, boolean>>;
  /** The air pump of these tanks runs: it is wired to run when its relay drops. */
  aerating(): Readonly<Record<string, boolean>>;
}

export interface RelayMoment {
  readonly now_monotonicMs: number;
  readonly at_epochMs: number;
  readonly faults: readonly SimulatedFault[];
}

function deviceSpec(relay: RelayDescription): RelayDeviceSpec {
  return {
    payloadOn: relay.payloadOn,
    payloadOff: relay.payloadOff,
    powerOnState: relay.powerOnState,
    ...(relay.payloadOnFor === undefined ? {} : { payloadOnFor: relay.payloadOnFor }),
    ...(relay.autoOff_s === undefined ? {} : { autoOff_s: relay.autoOff_s }),
  };
}

function relaysOf(site: SiteDescription): readonly SimulatedRelay[] {
  return Object.entries(site.valves).flatMap(([valveId, valve]) => {
    const parts = [
      { relayId: valveId, role: "gas" as const, description: valve.relay },
      { relayId: `${valveId}-series`, role: "gas" as const, description: valve.seriesRelay },
      { relayId: `${valveId}-air-pump`, role: "airPump" as const, description: valve.airPump },
    ];
    return parts.flatMap(({ relayId, role, description }) =>
      description === undefined
        ? []
        : [{ relayId, role, valveId, description, spec: deviceSpec(description) }],
    );
  });
}

function reportFor(relay: RelayDescription, on: boolean): Report {
  const word = on ? relay.stateOn : relay.stateOff;
  const payload =
    relay.stateValue === undefined ? word : documentOf([{ selector: relay.stateValue, value: word }]);
  return { topic: relay.stateTopic, payload };
}

function eventFor(relay: RelayDescription, topic: string, payload: string): RelayDeviceEvent | undefined {
  const { statusQuery } = relay;
  if (statusQuery !== undefined && topic === statusQuery.topic && payload === statusQuery.payload) {
    return { kind: "query" };
  }
  return topic === relay.commandTopic ? { kind: "command", payload } : undefined;
}

/** Relay ids: the valve's own, and with `-series` and `-air-pump` for the further ones. */
export function createSimulatedRelays(site: SiteDescription, now_monotonicMs: number): SimulatedRelays {
  const relays = relaysOf(site);
  const states = new Map<string, RelayDeviceState>(
    relays.map((relay) => [relay.relayId, relayDeviceAtPowerOn(relay.spec, now_monotonicMs)]),
  );
  const stateOf = (relay: SimulatedRelay): RelayDeviceState =>
    states.get(relay.relayId) ?? relayDeviceAtPowerOn(relay.spec, now_monotonicMs);
  const isClosed = (relay: SimulatedRelay): boolean => stateOf(relay).contactClosed;

  const step = (relay: SimulatedRelay, event: RelayDeviceEvent, moment: RelayMoment): readonly Report[] => {
    const own = moment.faults.filter(isRelayFault).filter((fault) => fault.relayId === relay.relayId);
    const result = stepRelayDevice(relay.spec, stateOf(relay), event, {
      now_monotonicMs: moment.now_monotonicMs,
      faults: faultsAt(own, moment.at_epochMs),
    });
    states.set(relay.relayId, result.state);
    return result.reports.map((on) => reportFor(relay.description, on));
  };
  const stepAll = (kind: "elapse" | "query", moment: RelayMoment): readonly Report[] =>
    relays.flatMap((relay) => step(relay, { kind }, moment));

  return {
    topics: [
      ...new Set(
        relays.flatMap(({ description: { commandTopic, statusQuery } }) =>
          statusQuery === undefined ? [commandTopic] : [commandTopic, statusQuery.topic],
        ),
      ),
    ],
    receive: (topic, payload, moment) =>
      relays.flatMap((relay) => {
        const event = eventFor(relay.description, topic, payload);
        return event === undefined ? [] : step(relay, event, moment);
      }),
    elapse: (moment) => stepAll("elapse", moment),
    announce: (moment) => stepAll("query", moment),
    dueAt_monotonicMs: () => Math.min(...relays.map((relay) => relayDeviceDueAt_monotonicMs(stateOf(relay)))),
    contactClosed: () => Object.fromEntries(relays.map((relay) => [relay.relayId, isClosed(relay)])),
    valveOpen: () =>
      Object.fromEntries(
        Object.keys(site.valves).map((valveId) => [
          valveId,
          relays.filter((r) => r.valveId === valveId && r.role === "gas").every(isClosed),
        ]),
      ),
    aerating: () =>
      Object.fromEntries(
        relays
          .filter((relay) => relay.role === "airPump" && !isClosed(relay))
          .flatMap((relay) => (site.valves[relay.valveId]?.feeds ?? []).map((feed) => [feed.tank, true])),
      ),
  };
}
