import type { Override, WindowState, Wish } from "./decide.js";
import { decide } from "./decide.js";
import type { Block, InterlockView, StandingCause } from "./interlock.js";
import { causesNotKnownGone, interlock, standingCauses, tanksTooWarm } from "./interlock.js";
import type { RelayDriverState } from "./relay-driver.js";
import { describeRelayFault, initialRelayDriver, isConfirmed, stepRelay, withFault } from "./relay-driver.js";
import type { Trip } from "./trip.js";
import { withTrip } from "./trip.js";
import type { RelayRules, ValveRules } from "./valve-rules.js";

/** What a valve's control remembers from tick to tick. Nothing of it survives a restart: unknown means closed. */
export interface ValveMemory {
  readonly relays: Readonly<Record<string, RelayDriverState>>;
  readonly openSince_monotonicMs: number | undefined;
  readonly tanksHeldByTemperature: readonly string[];
}

export const initialValveMemory: ValveMemory = {
  relays: {},
  openSince_monotonicMs: undefined,
  tanksHeldByTemperature: [],
};

/** Everything one valve's tick depends on, but for what the step works out itself. */
export type ValveStepView = Omit<InterlockView, "openFor_s" | "relayFault" | "tanksHeldByTemperature"> & {
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
  /** The reason without its figures: the same for as long as the same thing decides. */
  readonly gist: string;
  readonly wish: Wish;
  readonly blocks: readonly Block[];
}

export interface ValveStep {
  readonly memory: ValveMemory;
  readonly decision: ValveDecision;
  readonly commands: readonly RelayCommand[];
  readonly trips: readonly Trip[];
  /** Causes of trips that hold at this instant, or that nobody can judge: they forbid re-arming. */
  readonly standing: readonly StandingCause[];
}

/** One tick of one valve: wish, interlock, relays. */
export function stepValve(view: ValveStepView, known: ValveMemory): ValveStep {
  const before = view.brokerConnected ? withRelayFaults(view, known) : known;
  const wish = decide(view.window, view.override, view.now_epochMs);
  const openFor_s =
    before.openSince_monotonicMs === undefined
      ? 0
      : (view.now_monotonicMs - before.openSince_monotonicMs) / 1000;
  const standing = standingCauses({
    rules: view.rules,
    tanks: view.tanks,
    openFor_s,
    isWishedOpen: wish.action === "open",
  });
  const trips = standing.reduce<readonly Trip[]>(
    (earlier, cause) => withTrip(earlier, { ...cause, at_epochMs: view.now_epochMs }),
    view.trips,
  );
  const blocks = interlock({
    ...view,
    trips,
    openFor_s,
    relayFault: relayFaultOf(view.rules, before),
    tanksHeldByTemperature: before.tanksHeldByTemperature,
  });
  const decision = conclude(wish, blocks, view.heldClosed);
  const moved = moveRelays(view, before, decision);
  return {
    memory: {
      relays: moved.relays,
      openSince_monotonicMs:
        decision.action === "open" ? (before.openSince_monotonicMs ?? view.now_monotonicMs) : undefined,
      tanksHeldByTemperature: tanksTooWarm(view.tanks, before.tanksHeldByTemperature).map(
        (tank) => tank.tankId,
      ),
    },
    decision,
    commands: moved.commands,
    trips,
    standing: [...standing, ...causesNotKnownGone(view.tanks, trips)],
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

/** A fault forbids gas in the tick in which it comes about, so it is looked for before the interlock is asked. */
function withRelayFaults(view: ValveStepView, memory: ValveMemory): ValveMemory {
  const relays = { ...memory.relays };
  for (const relay of relaysOf(view.rules)) {
    const state = relays[relay.relayId];
    if (state !== undefined) relays[relay.relayId] = withFault(relay, state, view.now_monotonicMs);
  }
  return { ...memory, relays };
}

function relayFaultOf(rules: ValveRules, memory: ValveMemory): string | undefined {
  return rules.gasRelays
    .map((relay) => describeRelayFault(relay, memory.relays[relay.relayId] ?? initialRelayDriver))
    .find((fault) => fault !== undefined);
}

function conclude(wish: Wish, blocks: readonly Block[], heldClosed: string | undefined): ValveDecision {
  if (heldClosed !== undefined) {
    return { action: "closed", reason: heldClosed, gist: heldClosed, wish, blocks };
  }
  const [first] = blocks;
  if (wish.action === "open" && first !== undefined) {
    return { action: "closed", reason: `${first.rule}: ${first.reason}`, gist: first.rule, wish, blocks };
  }
  return { action: wish.action, reason: wish.reason, gist: wish.reason, wish, blocks };
}

function moveRelays(
  view: ValveStepView,
  before: ValveMemory,
  decision: ValveDecision,
): {
  readonly relays: Readonly<Record<string, RelayDriverState>>;
  readonly commands: readonly RelayCommand[];
} {
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
