import type { RelayFault } from "./simulated-fault.js";

/** A switching device as it comes out of its box and was set up: what it understands and how it protects itself. */
export interface RelayDeviceSpec {
  readonly payloadOn: string;
  readonly payloadOff: string;
  /** With `{seconds}` where the time stands. Absent where the device has no such command. */
  readonly payloadOnFor?: string;
  /** Switches itself off this long after the last command that switched it on. */
  readonly autoOff_s?: number;
  readonly powerOnState: "off" | "on" | "last";
}

export interface RelayDeviceState {
  readonly powered: boolean;
  /** What the device believes of itself and can report. */
  readonly coilOn: boolean;
  /** What the valve behind it gets. */
  readonly contactClosed: boolean;
  readonly offAt_monotonicMs: number | undefined;
  readonly flapAt_monotonicMs: number | undefined;
}

/** What reaches the device; "elapse" when nothing came and time went by. */
export type RelayDeviceEvent =
  | { readonly kind: "elapse" }
  | { readonly kind: "command"; readonly payload: string }
  | { readonly kind: "query" };

export interface RelayDeviceStep {
  readonly state: RelayDeviceState;
  /** The states that it sends, in order. */
  readonly reports: readonly boolean[];
}

/** The device right after it was plugged in. "last" has no last state yet and comes up off. */
export function relayDeviceAtPowerOn(spec: RelayDeviceSpec, now_monotonicMs: number): RelayDeviceState {
  const coilOn = spec.powerOnState === "on";
  return {
    powered: true,
    coilOn,
    contactClosed: coilOn,
    offAt_monotonicMs: coilOn ? autoOffAt(spec, now_monotonicMs, Infinity) : undefined,
    flapAt_monotonicMs: undefined,
  };
}

/** When the device will do something by itself; Infinity when it waits for a command. */
export function relayDeviceDueAt_monotonicMs(state: RelayDeviceState): number {
  return Math.min(state.offAt_monotonicMs ?? Infinity, state.flapAt_monotonicMs ?? Infinity);
}

function autoOffAt(spec: RelayDeviceSpec, now_monotonicMs: number, seconds: number): number | undefined {
  const after_s = Math.min(seconds, spec.autoOff_s ?? Infinity);
  return Number.isFinite(after_s) ? now_monotonicMs + after_s * 1000 : undefined;
}

function withoutBlanks(text: string): string {
  return text.replace(/\s+/g, "");
}

/** The seconds in an on-for command, or undefined when the payload is none. */
function secondsOf(template: string, payload: string): number | undefined {
  const [before, after] = withoutBlanks(template).split("{seconds}");
  const text = withoutBlanks(payload);
  if (before === undefined || after === undefined) return undefined;
  if (text.length < before.length + after.length) return undefined;
  if (!text.startsWith(before) || !text.endsWith(after)) return undefined;
  const middle = text.slice(before.length, text.length - after.length);
  return /^\d+(\.\d+)?$/.test(middle) ? Number(middle) : undefined;
}

interface Wish {
  readonly coilOn: boolean;
  readonly seconds: number;
}

function wishOf(spec: RelayDeviceSpec, payload: string): Wish | undefined {
  if (payload === spec.payloadOn) return { coilOn: true, seconds: Infinity };
  if (payload === spec.payloadOff) return { coilOn: false, seconds: 0 };
  const seconds = spec.payloadOnFor === undefined ? undefined : secondsOf(spec.payloadOnFor, payload);
  return seconds === undefined ? undefined : { coilOn: seconds > 0, seconds };
}

function find<K extends RelayFault["kind"]>(
  faults: readonly RelayFault[],
  kind: K,
): Extract<RelayFault, { readonly kind: K }> | undefined {
  return faults.find((fault): fault is Extract<RelayFault, { readonly kind: K }> => fault.kind === kind);
}

/** Power lost or back since the last step. */
function withPower(spec: RelayDeviceSpec, state: RelayDeviceState, step: Moment): RelayDeviceStep {
  const powered = find(step.faults, "relay-without-power") === undefined;
  if (powered === state.powered) return { state, reports: [] };
  if (!powered) {
    return {
      state: { ...state, powered, offAt_monotonicMs: undefined, flapAt_monotonicMs: undefined },
      reports: [],
    };
  }
  const coilOn = spec.powerOnState === "last" ? state.coilOn : spec.powerOnState === "on";
  const offAt_monotonicMs = coilOn ? autoOffAt(spec, step.now_monotonicMs, Infinity) : undefined;
  return { state: { ...state, powered, coilOn, offAt_monotonicMs }, reports: [coilOn] };
}

/** What the device does by itself: its auto-off, and switching over when it flaps. */
function withTime(spec: RelayDeviceSpec, state: RelayDeviceState, step: Moment): RelayDeviceStep {
  const { now_monotonicMs } = step;
  let next = state;
  const reports: boolean[] = [];
  const flaps = find(step.faults, "relay-flaps");
  if (flaps === undefined) {
    next = { ...next, flapAt_monotonicMs: undefined };
  } else if (next.flapAt_monotonicMs === undefined) {
    next = { ...next, flapAt_monotonicMs: now_monotonicMs + flaps.period_s * 1000 };
  } else if (now_monotonicMs >= next.flapAt_monotonicMs) {
    next = {
      ...next,
      coilOn: !next.coilOn,
      flapAt_monotonicMs: now_monotonicMs + flaps.period_s * 1000,
      offAt_monotonicMs: next.coilOn ? undefined : autoOffAt(spec, now_monotonicMs, Infinity),
    };
    reports.push(next.coilOn);
  }
  if (next.offAt_monotonicMs !== undefined && now_monotonicMs >= next.offAt_monotonicMs) {
    next = { ...next, coilOn: false, offAt_monotonicMs: undefined };
    reports.push(false);
  }
  return { state: next, reports };
}

function withEvent(
  spec: RelayDeviceSpec,
  state: RelayDeviceState,
  event: RelayDeviceEvent,
  step: Moment,
): RelayDeviceStep {
  switch (event.kind) {
    case "elapse":
      return { state, reports: [] };
    case "query":
      return { state, reports: [state.coilOn] };
    case "command": {
      const wish = wishOf(spec, event.payload);
      if (wish === undefined) return { state, reports: [] };
      if (find(step.faults, "relay-ignores-commands") !== undefined) {
        return { state, reports: [state.coilOn] };
      }
      const offAt_monotonicMs = wish.coilOn ? autoOffAt(spec, step.now_monotonicMs, wish.seconds) : undefined;
      return { state: { ...state, coilOn: wish.coilOn, offAt_monotonicMs }, reports: [wish.coilOn] };
    }
  }
}

function contactOf(
  before: RelayDeviceState,
  after: RelayDeviceState,
  faults: readonly RelayFault[],
): boolean {
  if (!after.powered) return false;
  if (find(faults, "relay-welded") !== undefined) return true;
  return find(faults, "relay-lies") === undefined ? after.coilOn : before.contactClosed;
}

interface Moment {
  readonly now_monotonicMs: number;
  /** Those of this relay that hold now. */
  readonly faults: readonly RelayFault[];
}

/** One step of the device: power, then its own timers, then what came in. Durations run on the monotonic clock. */
export function stepRelayDevice(
  spec: RelayDeviceSpec,
  state: RelayDeviceState,
  event: RelayDeviceEvent,
  moment: Moment,
): RelayDeviceStep {
  const afterPower = withPower(spec, state, moment);
  if (!afterPower.state.powered) {
    return { state: { ...afterPower.state, contactClosed: false }, reports: [] };
  }
  const afterTime = withTime(spec, afterPower.state, moment);
  const afterEvent = withEvent(spec, afterTime.state, event, moment);
  const contactClosed = contactOf(state, afterEvent.state, moment.faults);
  const reports = [...afterPower.reports, ...afterTime.reports, ...afterEvent.reports];
  const welded = find(moment.faults, "relay-welded");
  return {
    state: { ...afterEvent.state, contactClosed },
    reports:
      find(moment.faults, "relay-mute") !== undefined
        ? []
        : reports.map((coilOn) => (welded?.reports === "contact" ? contactClosed : coilOn)),
  };
}
