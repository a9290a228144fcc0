import type { Override, WindowState, Wish } from "./decide.js";
import { decide } from "./decide.js";
import type { Block, InterlockView, StandingCause } from "./interlock.js";
import { interlock, standingCauses } from "./interlock.js";
import type { RelayDriverState } from "./relay-driver.js";
import { describeRelayFault, initialRelayDriver, isConfirmed, stepRelay } from "./relay-driver.js";
import type { Trip } from "./trip.js";
import { withTrip } from "./trip.js";
import type { RelayRules, ValveRules } from "./valve-rules.js";

/** What a valve's control remembers from tick to tick. Nothing of it survives a restart: unknown means closed. */
export interface ValveMemory {
  readonly relays: Readonly<Record<string, RelayDriverState>>;
  readonly openSince_monotonicMs: number | undefined;
  readonly heldByTemperature: boolean;
}

export const initialValveMemory: ValveMemory = {
  relays: {},
  openSince_monotonicMs: undefined,
  heldByTemperature: false,
};

/** Everything one valve's tick depends on, but for what the step works out itself. */
export type ValveStepView = Omit<InterlockView, "openFor_s" | "relayFault" | "heldByTemperature"> & {
  readonly now_epochMs: number;
  readonly now_monotonicMs: number;
  readonly window: WindowState;
  readonly override: Override | undefined;
  /** Set while the daemon ends, or while a person tries the relay: gas stays off for this reason. */
  readonly heldClosed: string | undefined;
};

export interface RelayCommand {
  readonly relayId: string;
  readonly command: "on" | "off";
  readonly reason: string;
}

export interface ValveDecision {
  readonly action: "open" | "closed";
  readonly reason: string;
  readonly wish: Wish;
  readonly blocks: readonly Block[];
}

export interface ValveStep {
  readonly memory: ValveMemory;
  readonly decision: ValveDecision;
  readonly commands: readonly RelayCommand[];
  readonly trips: readonly Trip[];
  readonly standing: readonly StandingCause[];
}

/** One tick of one valve: wish, interlock, relays. */
export function stepValve(view: ValveStepView, before: ValveMemory): ValveStep {
  const openFor_s =
    before.openSince_monotonicMs === undefined ? 0 : (view.now_monotonicMs - before.openSince_monotonicMs) / 1000;
  const standing = standingCauses({ rules: view.rules, tanks: view.tanks, openFor_s });
  const trips = standing.reduce<readonly Trip[]>(
    (known, cause) => withTrip(known, { ...cause, at_epochMs: view.now_epochMs }),
    view.trips,
  );
  const blocks = interlock({
    ...view,
    trips,
    openFor_s,
    relayFault: relayFaultOf(view.rules, before),
    heldByTemperature: before.heldByTemperature,
  });
  const decision = conclude(decide(view.window, view.override, view.now_epochMs), blocks, view.heldClosed);
  const moved = moveRelays(view, before, decision);
  return {
    memory: {
      relays: moved.relays,
      openSince_monotonicMs:
        decision.action === "open" ? (before.openSince_monotonicMs ?? view.now_monotonicMs) : undefined,
      heldByTemperature: blocks.some((block) => block.rule === "temperature above the limit"),
    },
    decision,
    commands: moved.commands,
    trips,
    standing,
  };
}

/** The valve's state as its relays report it: open only if all report on, closed as soon as one reports off. */
export function reportedState(rules: ValveRules, memory: ValveMemory): "open" | "closed" | "unknown" {
  const states = rules.gasRelays.map((relay) => memory.relays[relay.relayId] ?? initialRelayDriver);
  if (states.some((state) => state.reported === "off")) return "closed";
  return states.every((state) => state.reported === "on") ? "open" : "unknown";
}

/** True when every gas relay has reported off since it was last told to. */
export function isConfirmedClosed(rules: ValveRules, memory: ValveMemory): boolean {
  return rules.gasRelays.every((relay) => {
    const state = memory.relays[relay.relayId];
    return state !== undefined && state.commanded === "off" && isConfirmed(state);
  });
}

export function relaysOf(rules: ValveRules): readonly RelayRules[] {
  return rules.airPumpRelay === undefined ? rules.gasRelays : [...rules.gasRelays, rules.airPumpRelay];
}

function relayFaultOf(rules: ValveRules, memory: ValveMemory): string | undefined {
  return rules.gasRelays
    .map((relay) => describeRelayFault(relay, memory.relays[relay.relayId] ?? initialRelayDriver))
    .find((fault) => fault !== undefined);
}

function conclude(wish: Wish, blocks: readonly Block[], heldClosed: string | undefined): ValveDecision {
  if (heldClosed !== undefined) {
    return { action: "closed", reason: heldClosed, wish, blocks };
  }
  const [first] = blocks;
  if (wish.action === "open" && first !== undefined) {
    return { action: "closed", reason: `${first.rule}: ${first.reason}`, wish, blocks };
  }
  return { action: wish.action, reason: wish.reason, wish, blocks };
}

function moveRelays(
  view: ValveStepView,
  before: ValveMemory,
  decision: ValveDecision,
): { readonly relays: Readonly<Record<string, RelayDriverState>>; readonly commands: readonly RelayCommand[] } {
  if (!view.brokerConnected) {
    return { relays: before.relays, commands: [] };
  }
  const relays: Record<string, RelayDriverState> = {};
  const commands: RelayCommand[] = [];
  for (const relay of relaysOf(view.rules)) {
    const step = stepRelay(
      relay,
      before.relays[relay.relayId] ?? initialRelayDriver,
      decision.action === "open" ? "on" : "off",
      view.now_monotonicMs,
    );
    relays[relay.relayId] = step.state;
    if (step.send !== undefined) {
      commands.push({ relayId: relay.relayId, command: step.send, reason: decision.reason });
    }
  }
  return { relays, commands };
}
