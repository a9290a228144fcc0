import type { Override, WindowState, Wish } from "./decide.js";
import { decide } from "./decide.js";
import type { Block, InterlockView, StandingCause } from "./interlock.js";
import { roomsTooRich } from "./room-air.js";
import { blockInWords, causesNotKnownGone, interlock, standingCauses, tanksTooWarm } from "./interlock.js";
import { latestAutoOff_s } from "./commissioning.js";
import type { RelayDriverState } from "./relay-driver.js";
import { describeRelayFault, initialRelayDriver, isConfirmed, stepRelay, withFault } from "./relay-driver.js";
import type { Trip } from "./trip.js";
import { withTrip } from "./trip.js";
import type { RelayRules, ValveRules } from "./valve-rules.js";

/** What a valve's control remembers from tick to tick. Nothing of it survives a restart: unknown means closed. */
export interface ValveMemory {
  readonly relays: Readonly<Record<string, RelayDriverState>>;
  /** Since when gas has been on, or may have been, without a break that is known of. */
  readonly openSince_monotonicMs: number | undefined;
  readonly lastOn_monotonicMs: number;
  /** The last closing of an open valve that something other than a wish has brought about, or a loop of wishes. */
  readonly forcedClosing: ForcedClosing | undefined;
  /** When wishes from afar closed it: recent instants only. */
  readonly closingsFromAfar_monotonicMs: readonly number[];
  readonly tanksHeldByTemperature: readonly string[];
  /** Set while the charge is at its end: the wish of a person that stood when that began, by its end. */
  readonly endOfCharge: { readonly overrideUntil_epochMs: number | undefined } | undefined;
  readonly roomsHeld: readonly string[];
}

interface ForcedClosing {
  readonly at_monotonicMs: number;
  /** The wish to open that it overruled, by its end. */
  readonly overrideUntil_epochMs: number | undefined;
}

/**
 * So long a valve stays closed after a closing that nobody wished, or a reading at its limit would switch the solenoid
 * each second. A judgement: nothing to a tank, which has its gas over hours.
 */
export const restAfterClosing_s = 60;
/** Once is somebody at a hub; three times within that time is a loop in it, whose closings count as those. A judgement. */
const closingsOfALoop = 3;

export const initialValveMemory: ValveMemory = {
  relays: {},
  openSince_monotonicMs: undefined,
  lastOn_monotonicMs: Number.NEGATIVE_INFINITY,
  forcedClosing: undefined,
  closingsFromAfar_monotonicMs: [],
  tanksHeldByTemperature: [],
  endOfCharge: undefined,
  roomsHeld: [],
};

/** Everything one valve's tick depends on, but for what the step works out itself. */
export type ValveStepView = Omit<
  InterlockView,
  "openFor_s" | "relayFault" | "tanksHeldByTemperature" | "roomsHeld" | "restsFor_s"
> & {
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
  const before = withKnownBreak(view, view.brokerConnected ? withRelayFaults(view, known) : known);
  const wish = decide(view.window, view.override, view.now_epochMs);
  const openFor_s =
    before.openSince_monotonicMs === undefined
      ? 0
      : (view.now_monotonicMs - before.openSince_monotonicMs) / 1000;
  const standing = standingCauses({
    rules: view.rules,
    tanks: view.tanks,
    openFor_s,
    vessel: view.vessel,
    rooms: view.rooms,
    trips: view.trips,
    isWishedOpen: wish.action === "open",
  });
  const trips = standing.reduce<readonly Trip[]>(
    (earlier, cause) => withTrip(earlier, { ...cause, at_epochMs: view.now_epochMs }),
    view.trips,
  );
  const endOfCharge =
    view.endOfCharge === undefined
      ? undefined
      : (before.endOfCharge ?? { overrideUntil_epochMs: view.override?.until_epochMs });
  const blocks = interlock({
    ...view,
    trips,
    openFor_s,
    relayFault: relayFaultOf(view.rules, before),
    restsFor_s: restsFor_s(view, before.forcedClosing),
    tanksHeldByTemperature: before.tanksHeldByTemperature,
    endOfCharge: isLetOffByHand(view, endOfCharge) ? undefined : view.endOfCharge,
    roomsHeld: before.roomsHeld,
  });
  const decision = conclude(wish, blocks, view.heldClosed);
  const moved = moveRelays(view, before, decision);
  return {
    memory: {
      relays: moved.relays,
      ...followFlow(view, before, decision, moved.commands),
      tanksHeldByTemperature: tanksTooWarm(view.tanks, before.tanksHeldByTemperature).map(
        (tank) => tank.tankId,
      ),
      endOfCharge,
      roomsHeld: roomsTooRich(view.rooms, before.roomsHeld).map(({ sensorId }) => sensorId),
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

/**
 * A person at the daemon's own machine who opens the valve after its charge came to an end, until an instant, has seen it: to
 * let the rest off, or to use it up. Nobody else may, and every other rule stays.
 */
function isLetOffByHand(view: ValveStepView, end: ValveMemory["endOfCharge"]): boolean {
  const { override, now_epochMs } = view;
  return (
    override?.action === "open" &&
    override.source === "local" &&
    now_epochMs < override.until_epochMs &&
    override.until_epochMs !== end?.overrideUntil_epochMs
  );
}

/** A person at this machine who wishes it open after the closing has seen it and need not wait. */
function restsFor_s(view: ValveStepView, closing: ForcedClosing | undefined): number {
  if (closing === undefined) return 0;
  const { override, now_epochMs, now_monotonicMs } = view;
  const isByHand =
    override?.action === "open" && override.source === "local" && now_epochMs < override.until_epochMs;
  if (isByHand && override.until_epochMs !== closing.overrideUntil_epochMs) return 0;
  return Math.max(0, restAfterClosing_s - (now_monotonicMs - closing.at_monotonicMs) / 1000);
}

/**
 * A command that could not be given or was not confirmed ends nothing: gas may flow on, until the timer of a relay that has one
 * must have run out.
 */
function withKnownBreak({ rules, now_monotonicMs }: ValveStepView, memory: ValveMemory): ValveMemory {
  const sinceOn_ms = now_monotonicMs - memory.lastOn_monotonicMs;
  const isOver =
    isConfirmedClosed(rules, memory) ||
    rules.gasRelays.some(
      ({ autoOff_s }) => autoOff_s !== undefined && sinceOn_ms > latestAutoOff_s({ autoOff_s }) * 1000,
    );
  return isOver ? { ...memory, openSince_monotonicMs: undefined } : memory;
}

function followFlow(
  view: ValveStepView,
  before: ValveMemory,
  decision: ValveDecision,
  commands: readonly RelayCommand[],
): Pick<
  ValveMemory,
  "openSince_monotonicMs" | "lastOn_monotonicMs" | "forcedClosing" | "closingsFromAfar_monotonicMs"
> {
  const { now_monotonicMs } = view;
  const { openSince_monotonicMs, forcedClosing, closingsFromAfar_monotonicMs } = before;
  const isOnSent = commands.some(({ command }) => command === "on");
  const lastOn_monotonicMs = isOnSent ? now_monotonicMs : before.lastOn_monotonicMs;
  if (decision.action === "open") {
    return {
      openSince_monotonicMs: openSince_monotonicMs ?? now_monotonicMs,
      lastOn_monotonicMs,
      forcedClosing: undefined,
      closingsFromAfar_monotonicMs,
    };
  }
  const isClosing = openSince_monotonicMs !== undefined && commands.length > 0;
  const isTurnedFromAfar =
    isClosing && isClosedFromAfar(view) && view.rules.gasRelays.some((relay) => isToldOn(before, relay));
  const closings = isTurnedFromAfar
    ? [...closingsFromAfar_monotonicMs, now_monotonicMs].slice(-closingsOfALoop)
    : closingsFromAfar_monotonicMs;
  const isForced =
    view.heldClosed === undefined &&
    (decision.wish.action === "open" || (isClosedFromAfar(view) && isLoop(closings, now_monotonicMs)));
  return {
    openSince_monotonicMs,
    lastOn_monotonicMs,
    forcedClosing:
      isClosing && isForced
        ? {
            at_monotonicMs: now_monotonicMs,
            overrideUntil_epochMs: view.override?.action === "open" ? view.override.until_epochMs : undefined,
          }
        : forcedClosing,
    closingsFromAfar_monotonicMs: closings,
  };
}

function isToldOn(memory: ValveMemory, { relayId }: RelayRules): boolean {
  return memory.relays[relayId]?.commanded === "on";
}

function isClosedFromAfar({ override, now_epochMs }: ValveStepView): boolean {
  return (
    override?.action === "closed" && override.source === "remote" && now_epochMs < override.until_epochMs
  );
}

function isLoop(closings_monotonicMs: readonly number[], now_monotonicMs: number): boolean {
  const [first] = closings_monotonicMs;
  return (
    first !== undefined &&
    closings_monotonicMs.length >= closingsOfALoop &&
    now_monotonicMs - first < restAfterClosing_s * 1000
  );
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
    return { action: "closed", reason: blockInWords(first), gist: first.rule, wish, blocks };
  }
  return { action: wish.action, reason: wish.reason, gist: wish.reason, wish, blocks };
}

interface MovedRelays {
  readonly relays: Readonly<Record<string, RelayDriverState>>;
  readonly commands: readonly RelayCommand[];
}

function moveRelays(view: ValveStepView, before: ValveMemory, decision: ValveDecision): MovedRelays {
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
