/**
 * The trial of a relay by a person at the tank: does it drop by itself, and does it stay off after a power cut?
 * Gas is shut by hand at the vessel while it runs. Each phase sends ON once and never repeats it.
 * The round trip (off, on, off, each reported back) is for a relay in use, and runs only while gas may flow anyway.
 */
export type Commissioning =
  | { readonly kind: "waiting for off before"; readonly sent_monotonicMs: number }
  | { readonly kind: "waiting for on"; readonly trial: Trial; readonly sent_monotonicMs: number }
  | { readonly kind: "waiting for auto-off"; readonly reportedOn_monotonicMs: number }
  | { readonly kind: "on for the round trip"; readonly on_s: number; readonly reportedOn_monotonicMs: number }
  | { readonly kind: "waiting for off after"; readonly on_s: number; readonly sent_monotonicMs: number }
  | {
      readonly kind: "waiting for the plug";
      readonly reportedOn_monotonicMs: number;
      /** Its last report since the plug was asked for: a relay may speak up before the person does. */
      readonly reportedSince: "on" | "off" | undefined;
    }
  | {
      readonly kind: "waiting for the report after power returned";
      readonly reportedOn_monotonicMs: number;
      readonly since_monotonicMs: number;
    }
  | { readonly kind: "passed"; readonly trial: Trial; readonly measured_s: number }
  | { readonly kind: "failed"; readonly trial: Trial; readonly reason: string };

export type Trial = "auto-off" | "power-on state" | "round trip";

export interface CommissioningRules {
  readonly autoOff_s: number;
  readonly confirmWithin_s: number;
  /** True where the relay is asked for its state once its power is back. */
  readonly answersStatusQuery: boolean;
}

/** How far an auto-off may be from its time before the trial fails: a relay's own timer is no stopwatch. A judgement. */
const autoOffTolerance_ratio = 1.2;
const autoOffTolerance_s = 5;
/** How long a person may take to pull the plug and put it back. */
const plugPatience_s = 300;
/** How long a relay may take to speak after its power came back. A judgement: a start and joining the network. */
const startPatience_s = 60;

/** So long a relay is on in a round trip: long enough to hear both clicks. A judgement. */
export const roundTripOn_s = 2;

export function beginTrial(trial: Trial, now_monotonicMs: number): Commissioning {
  return trial === "round trip"
    ? { kind: "waiting for off before", sent_monotonicMs: now_monotonicMs }
    : { kind: "waiting for on", trial, sent_monotonicMs: now_monotonicMs };
}

/** What the relay is told, once, when the trial comes to this state. */
export function commandOf(state: Commissioning): "on" | "off" | undefined {
  if (state.kind === "waiting for on") return "on";
  return state.kind === "waiting for off before" || state.kind === "waiting for off after"
    ? "off"
    : undefined;
}

export type CommissioningInput =
  | { readonly kind: "report"; readonly reported: "on" | "off"; readonly at_monotonicMs: number }
  | { readonly kind: "person says power is back"; readonly at_monotonicMs: number }
  | { readonly kind: "tick"; readonly at_monotonicMs: number };

export function stepTrial(
  rules: CommissioningRules,
  state: Commissioning,
  input: CommissioningInput,
): Commissioning {
  const at = input.at_monotonicMs;
  switch (state.kind) {
    case "waiting for off before":
      if (input.kind === "report" && input.reported === "off") {
        return { kind: "waiting for on", trial: "round trip", sent_monotonicMs: at };
      }
      return isUnanswered(rules, state, at)
        ? { kind: "failed", trial: "round trip", reason: "the relay did not report that it switched off" }
        : state;
    case "on for the round trip":
      if (input.kind === "report" && input.reported === "off") {
        const reason = "the relay went off before it was told to";
        return { kind: "failed", trial: "round trip", reason };
      }
      return at - state.reportedOn_monotonicMs >= roundTripOn_s * 1000
        ? { kind: "waiting for off after", on_s: state.on_s, sent_monotonicMs: at }
        : state;
    case "waiting for off after":
      if (input.kind === "report" && input.reported === "off") {
        const off_s = (at - state.sent_monotonicMs) / 1000;
        return { kind: "passed", trial: "round trip", measured_s: Math.max(state.on_s, off_s) };
      }
      return isUnanswered(rules, state, at)
        ? {
            kind: "failed",
            trial: "round trip",
            reason: "the relay did not report that it switched off again: shut the vessel by hand",
          }
        : state;
    case "waiting for on":
      if (input.kind === "report" && input.reported === "on") {
        if (state.trial === "round trip") {
          const on_s = (at - state.sent_monotonicMs) / 1000;
          return { kind: "on for the round trip", on_s, reportedOn_monotonicMs: at };
        }
        return state.trial === "auto-off"
          ? { kind: "waiting for auto-off", reportedOn_monotonicMs: at }
          : { kind: "waiting for the plug", reportedOn_monotonicMs: at, reportedSince: undefined };
      }
      return isUnanswered(rules, state, at)
        ? { kind: "failed", trial: state.trial, reason: "the relay did not report that it switched on" }
        : state;
    case "waiting for auto-off": {
      const elapsed_s = (at - state.reportedOn_monotonicMs) / 1000;
      const allowed_s = latestAutoOff_s(rules);
      if (input.kind === "report" && input.reported === "off" && elapsed_s <= allowed_s) {
        return elapsed_s >= earliestAutoOff_s(rules)
          ? { kind: "passed", trial: "auto-off", measured_s: elapsed_s }
          : {
              kind: "failed",
              trial: "auto-off",
              reason: `the relay went off after ${Math.round(elapsed_s)} s; autoOff_s says ${rules.autoOff_s} s. Set the same time in both, and let nobody switch it during the trial`,
            };
      }
      return elapsed_s > allowed_s
        ? {
            kind: "failed",
            trial: "auto-off",
            reason: `the relay did not drop by itself within ${Math.round(allowed_s)} s; autoOff_s says ${rules.autoOff_s} s`,
          }
        : state;
    }
    case "waiting for the plug":
      if (input.kind === "report") {
        return input.reported === "off" && mayBeTimer(rules, state, at)
          ? droppedByTimer
          : { ...state, reportedSince: input.reported };
      }
      if (input.kind === "person says power is back") {
        return state.reportedSince === "off" && !rules.answersStatusQuery
          ? { kind: "passed", trial: "power-on state", measured_s: 0 }
          : {
              kind: "waiting for the report after power returned",
              reportedOn_monotonicMs: state.reportedOn_monotonicMs,
              since_monotonicMs: at,
            };
      }
      return at - state.reportedOn_monotonicMs > plugPatience_s * 1000
        ? { kind: "failed", trial: "power-on state", reason: "nobody said that the power is back" }
        : state;
    case "waiting for the report after power returned":
      if (input.kind === "report") {
        if (input.reported === "off" && mayBeTimer(rules, state, at)) return droppedByTimer;
        return input.reported === "off"
          ? { kind: "passed", trial: "power-on state", measured_s: (at - state.since_monotonicMs) / 1000 }
          : { kind: "failed", trial: "power-on state", reason: "the relay was on after its power came back" };
      }
      return at - state.since_monotonicMs > startPatience_s * 1000
        ? {
            kind: "failed",
            trial: "power-on state",
            reason: "the relay gave no report after its power came back",
          }
        : state;
    case "passed":
    case "failed":
      return state;
  }
}

function isUnanswered(
  rules: CommissioningRules,
  state: { readonly sent_monotonicMs: number },
  at_monotonicMs: number,
): boolean {
  return at_monotonicMs - state.sent_monotonicMs > rules.confirmWithin_s * 3000;
}

const droppedByTimer: Commissioning = {
  kind: "failed",
  trial: "power-on state",
  reason:
    "the relay dropped by its own timer before its power was seen to return; begin again and be quicker",
};

/**
 * Off at its own time proves nothing: a relay that comes back as it was would then come back off too. Without power it
 * reports nothing at that time, so that a later report is that of its return.
 */
function mayBeTimer(
  rules: CommissioningRules,
  state: { readonly reportedOn_monotonicMs: number },
  at_monotonicMs: number,
): boolean {
  const elapsed_s = (at_monotonicMs - state.reportedOn_monotonicMs) / 1000;
  return elapsed_s >= earliestAutoOff_s(rules) && elapsed_s <= latestAutoOff_s(rules);
}

/** When a relay whose trial has passed is off by its own timer at the latest, after its last ON; s. */
export function latestAutoOff_s({ autoOff_s }: Pick<CommissioningRules, "autoOff_s">): number {
  return autoOff_s * autoOffTolerance_ratio + autoOffTolerance_s;
}

function earliestAutoOff_s(rules: CommissioningRules): number {
  return rules.autoOff_s / autoOffTolerance_ratio - autoOffTolerance_s;
}
