/** The states of an alarm in the words of the standard, with its letters and abbreviations. [Isa2016] [Iec2022] */
export const alarmStates = [
  /** A, NORM */
  "normal",
  /** B, UNACK */
  "unacknowledged",
  /** C, ACKED */
  "acknowledged",
  /** D, RTNUN */
  "returned to normal unacknowledged",
  /** E, LTUNK */
  "latched unacknowledged",
  /** F, LTACK */
  "latched acknowledged",
  /** G, SHLVD */
  "shelved",
  /** H, DSUPR */
  "suppressed by design",
  /** I, OOSRV */
  "out of service",
] as const;
export type AlarmState = (typeof alarmStates)[number];

/** Where an alarm that was suppressed by design goes on: its condition and what it was before. */
export interface AfterSuppression {
  readonly isActive: boolean;
  readonly before: AlarmState;
}

export type AlarmEvent =
  | { readonly kind: "condition true" }
  /** `isLatched`: it stays until a reset. */
  | { readonly kind: "condition false"; readonly isLatched: boolean }
  | { readonly kind: "reset" }
  | { readonly kind: "acknowledge" }
  /** An acknowledged alarm that has become more urgent calls again. */
  | { readonly kind: "re-alarm" }
  | { readonly kind: "shelve" }
  | { readonly kind: "suppress" }
  | { readonly kind: "remove from service" }
  | { readonly kind: "unshelve"; readonly isActive: boolean }
  | ({ readonly kind: "unsuppress" } & AfterSuppression)
  | { readonly kind: "return to service"; readonly isActive: boolean };

/** Whether it demands attention and its condition, or its latch, holds. */
export function isRaised(state: AlarmState): boolean {
  return (
    state === "unacknowledged" ||
    state === "acknowledged" ||
    state === "latched unacknowledged" ||
    state === "latched acknowledged"
  );
}

/** Whether a person has still to say that they have seen it. */
export function awaitsAcknowledgement(state: AlarmState): boolean {
  return (
    state === "unacknowledged" ||
    state === "returned to normal unacknowledged" ||
    state === "latched unacknowledged"
  );
}

/**
 * The state after an event, or undefined where the event is not legal in that state. The transitions are those of the alarm
 * state diagram of the standard; two are ours: a suppression by design ends in the state it began in where that still fits,
 * so that nothing is forgotten unacknowledged, and a latch that is reset before it was acknowledged leaves an alarm that
 * returned unacknowledged. [Isa2016] from memory; [OpcUa2022] keeps acknowledgement apart from suppression likewise.
 */
export function nextState(state: AlarmState, event: AlarmEvent): AlarmState | undefined {
  switch (event.kind) {
    case "condition true":
      return afterConditionTrue[state];
    case "condition false":
      return afterConditionFalse(state, event.isLatched);
    case "reset":
      if (state === "latched acknowledged") return "normal";
      return state === "latched unacknowledged" ? "returned to normal unacknowledged" : undefined;
    case "acknowledge":
      return afterAcknowledgement[state];
    case "re-alarm":
      return state === "acknowledged" || state === "latched acknowledged" ? "unacknowledged" : undefined;
    case "shelve":
      return state === "shelved" || state === "out of service" ? undefined : "shelved";
    case "suppress":
      return state === "suppressed by design" || state === "out of service"
        ? undefined
        : "suppressed by design";
    case "remove from service":
      return state === "out of service" ? undefined : "out of service";
    case "unshelve":
      return state === "shelved" ? callOrRest(event.isActive) : undefined;
    case "return to service":
      return state === "out of service" ? callOrRest(event.isActive) : undefined;
    case "unsuppress":
      return state === "suppressed by design" ? afterSuppression(event) : undefined;
  }
}

const afterConditionTrue: Partial<Readonly<Record<AlarmState, AlarmState>>> = {
  normal: "unacknowledged",
  "returned to normal unacknowledged": "unacknowledged",
  "latched unacknowledged": "unacknowledged",
  "latched acknowledged": "unacknowledged",
};

const afterAcknowledgement: Partial<Readonly<Record<AlarmState, AlarmState>>> = {
  unacknowledged: "acknowledged",
  "returned to normal unacknowledged": "normal",
  "latched unacknowledged": "latched acknowledged",
};

function afterConditionFalse(state: AlarmState, isLatched: boolean): AlarmState | undefined {
  if (state === "unacknowledged") {
    return isLatched ? "latched unacknowledged" : "returned to normal unacknowledged";
  }
  if (state === "acknowledged") return isLatched ? "latched acknowledged" : "normal";
  return undefined;
}

/** Whoever shelved it or took it out of service has seen it, so that what is gone meanwhile needs no acknowledgement. */
function callOrRest(isActive: boolean): AlarmState {
  return isActive ? "unacknowledged" : "normal";
}

function afterSuppression({ isActive, before }: AfterSuppression): AlarmState {
  if (isActive) return before === "acknowledged" ? "acknowledged" : "unacknowledged";
  return before === "unacknowledged" || before === "returned to normal unacknowledged"
    ? "returned to normal unacknowledged"
    : "normal";
}
