import type { RelayRules } from "./valve-rules.js";

/** A relay is told, told again until it reports back, and never believed without a report. */
export interface RelayDriverState {
  /** undefined: nothing has been said on this connection yet. */
  readonly commanded: "on" | "off" | undefined;
  readonly lastSent_monotonicMs: number;
  /** When the present command was first given: a report must be later than this to confirm it. */
  readonly commandedSince_monotonicMs: number;
  readonly reported: "on" | "off" | undefined;
  readonly reported_monotonicMs: number;
  /** Commands sent since the last one that was confirmed. */
  readonly unconfirmedSends: number;
  /** When the first of them was sent; undefined: every command is confirmed. */
  readonly unconfirmedSince_monotonicMs: number | undefined;
  /** When the relay dropped by itself while it should have been on: recent instants only. */
  readonly unexpectedDrops_monotonicMs: readonly number[];
  /** When the relay, confirmed off, went on without being told by this driver: recent instants only. */
  readonly foreignSwitchings_monotonicMs: readonly number[];
  readonly fault: RelayFault | undefined;
}

export interface RelayFault {
  readonly kind:
    "does not confirm on" | "does not confirm off" | "drops by itself" | "is switched on by something else";
  readonly since_monotonicMs: number;
}

export const initialRelayDriver: RelayDriverState = {
  commanded: undefined,
  lastSent_monotonicMs: Number.NEGATIVE_INFINITY,
  commandedSince_monotonicMs: Number.NEGATIVE_INFINITY,
  reported: undefined,
  reported_monotonicMs: Number.NEGATIVE_INFINITY,
  unconfirmedSends: 0,
  unconfirmedSince_monotonicMs: undefined,
  unexpectedDrops_monotonicMs: [],
  foreignSwitchings_monotonicMs: [],
  fault: undefined,
};

/** Sends without a report before it is called a fault. A judgement: one loss is a network, three are a relay. */
const sendsBeforeFault = 3;
/** After a fault of opening, gas stays off this long before it is tried again. A judgement. */
const restAfterFault_ms = 10 * 60_000;
const dropsBeforeFault = 3;
/** Once is a finger on the button; three times within ten minutes is something that commands the relay. A judgement. */
const foreignSwitchingsBeforeFault = 3;
/** An OFF that is not confirmed is repeated for ever, at most this far apart. */
const slowestRepeat_ms = 30_000;

/** A new connection knows nothing: what was said on the old one may not have arrived. */
export function onReconnected(state: RelayDriverState): RelayDriverState {
  return {
    ...state,
    commanded: undefined,
    reported: undefined,
    reported_monotonicMs: Number.NEGATIVE_INFINITY,
  };
}

/** A live (not retained) report of the relay's own state. */
export function onRelayReport(
  state: RelayDriverState,
  reported: "on" | "off",
  at_monotonicMs: number,
): RelayDriverState {
  const dropped =
    state.commanded === "on" &&
    state.reported === "on" &&
    reported === "off" &&
    at_monotonicMs >= state.commandedSince_monotonicMs;
  const wasSwitchedOn = state.commanded === "off" && isConfirmed(state) && reported === "on";
  const confirms = reported === state.commanded;
  return {
    ...state,
    reported,
    reported_monotonicMs: at_monotonicMs,
    unconfirmedSends: confirms ? 0 : state.unconfirmedSends,
    unconfirmedSince_monotonicMs: confirms ? undefined : state.unconfirmedSince_monotonicMs,
    unexpectedDrops_monotonicMs: dropped
      ? [...state.unexpectedDrops_monotonicMs, at_monotonicMs].slice(-dropsBeforeFault)
      : state.unexpectedDrops_monotonicMs,
    foreignSwitchings_monotonicMs: wasSwitchedOn
      ? [...state.foreignSwitchings_monotonicMs, at_monotonicMs].slice(-foreignSwitchingsBeforeFault)
      : state.foreignSwitchings_monotonicMs,
  };
}

export interface RelayStep {
  readonly state: RelayDriverState;
  readonly send: "on" | "off" | undefined;
}

/**
 * One tick of one relay. Call it only while the broker is connected.
 * @param want  what the interlock let through.
 */
export function stepRelay(
  rules: RelayRules,
  before: RelayDriverState,
  want: "on" | "off",
  now_monotonicMs: number,
): RelayStep {
  const state = withFault(rules, before, now_monotonicMs);
  if (state.commanded !== want) {
    return send(
      {
        ...state,
        commandedSince_monotonicMs: now_monotonicMs,
        unconfirmedSends: 0,
        unconfirmedSince_monotonicMs: undefined,
      },
      want,
      now_monotonicMs,
    );
  }
  const sinceSent_ms = now_monotonicMs - state.lastSent_monotonicMs;
  const confirmWithin_ms = rules.confirmWithin_s * 1000;
  if (!isConfirmed(state)) {
    const repeatAfter_ms = Math.max(
      confirmWithin_ms,
      Math.min(
        slowestRepeat_ms,
        confirmWithin_ms * 2 ** Math.max(0, state.unconfirmedSends - sendsBeforeFault),
      ),
    );
    const contradicted =
      state.reported !== undefined && state.reported_monotonicMs > state.lastSent_monotonicMs;
    if (sinceSent_ms >= repeatAfter_ms || (want === "off" && contradicted)) {
      return send(state, want, now_monotonicMs);
    }
    return { state, send: undefined };
  }
  if (want === "on" && rules.autoOff_s !== undefined && sinceSent_ms >= (rules.autoOff_s * 1000) / 3) {
    // A relay that cannot be asked is silent about a repeated ON: that one needs no confirmation and counts for nothing.
    return rules.answersStatusQuery
      ? send({ ...state, commandedSince_monotonicMs: now_monotonicMs }, want, now_monotonicMs)
      : { state: { ...state, lastSent_monotonicMs: now_monotonicMs }, send: want };
  }
  return { state, send: undefined };
}

/** True when the relay has reported, since the command was given, that it does as told. */
export function isConfirmed(state: RelayDriverState): boolean {
  if (state.commanded === undefined) return false;
  return state.reported === state.commanded && state.reported_monotonicMs >= state.commandedSince_monotonicMs;
}

/**
 * A fault forbids gas: one of closing until the relay reports off, one of opening for ten minutes, a switching by something
 * else until ten minutes after the last one.
 */
export function describeRelayFault(rules: RelayRules, state: RelayDriverState): string | undefined {
  return state.fault === undefined ? undefined : `relay ${rules.relayId} ${state.fault.kind}`;
}

/** The state with what it shows at this instant: a fault that has come about, or one that is over. */
export function withFault(
  rules: RelayRules,
  state: RelayDriverState,
  now_monotonicMs: number,
): RelayDriverState {
  const found = findFault(rules, state, now_monotonicMs);
  if (found !== undefined) {
    return state.fault?.kind === found
      ? state
      : { ...state, fault: { kind: found, since_monotonicMs: now_monotonicMs } };
  }
  if (state.fault === undefined) return state;
  const restsSince_monotonicMs = Math.max(
    state.fault.since_monotonicMs,
    state.fault.kind === "is switched on by something else"
      ? (state.foreignSwitchings_monotonicMs.at(-1) ?? Number.NEGATIVE_INFINITY)
      : Number.NEGATIVE_INFINITY,
  );
  const rested = now_monotonicMs - restsSince_monotonicMs >= restAfterFault_ms;
  const over = state.fault.kind === "does not confirm off" ? isConfirmed(state) : rested;
  return over ? { ...state, fault: undefined, unexpectedDrops_monotonicMs: [] } : state;
}

function findFault(
  rules: RelayRules,
  state: RelayDriverState,
  now_monotonicMs: number,
): RelayFault["kind"] | undefined {
  const confirmWithin_ms = rules.confirmWithin_s * 1000;
  const isOverdue =
    now_monotonicMs - state.lastSent_monotonicMs >= confirmWithin_ms ||
    isRefusedOff(state, confirmWithin_ms, now_monotonicMs);
  const isKnown = state.fault?.kind === `does not confirm ${state.commanded ?? "off"}`;
  if (
    state.commanded !== undefined &&
    !isConfirmed(state) &&
    state.unconfirmedSends >= sendsBeforeFault &&
    (isOverdue || isKnown)
  ) {
    return state.commanded === "on" ? "does not confirm on" : "does not confirm off";
  }
  const [firstSwitching] = state.foreignSwitchings_monotonicMs;
  if (
    firstSwitching !== undefined &&
    state.foreignSwitchings_monotonicMs.length >= foreignSwitchingsBeforeFault &&
    now_monotonicMs - firstSwitching < restAfterFault_ms
  ) {
    return "is switched on by something else";
  }
  const [first] = state.unexpectedDrops_monotonicMs;
  const last = state.unexpectedDrops_monotonicMs.at(-1);
  if (
    first !== undefined &&
    last !== undefined &&
    state.fault === undefined &&
    state.unexpectedDrops_monotonicMs.length >= dropsBeforeFault &&
    last - first <= restAfterFault_ms
  ) {
    return "drops by itself";
  }
  return undefined;
}

/**
 * A relay that answers each OFF with "on" is told again at once, so its last command is always a young one: what counts is
 * how long it has been told.
 */
function isRefusedOff(state: RelayDriverState, confirmWithin_ms: number, now_monotonicMs: number): boolean {
  const since_monotonicMs = state.unconfirmedSince_monotonicMs;
  return (
    state.commanded === "off" &&
    state.reported === "on" &&
    since_monotonicMs !== undefined &&
    state.reported_monotonicMs > since_monotonicMs &&
    now_monotonicMs - since_monotonicMs >= confirmWithin_ms
  );
}

function send(state: RelayDriverState, command: "on" | "off", now_monotonicMs: number): RelayStep {
  return {
    state: {
      ...state,
      commanded: command,
      lastSent_monotonicMs: now_monotonicMs,
      unconfirmedSends: state.unconfirmedSends + 1,
      unconfirmedSince_monotonicMs: state.unconfirmedSince_monotonicMs ?? now_monotonicMs,
    },
    send: command,
  };
}
