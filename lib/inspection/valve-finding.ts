import type { InterlockRuleId } from "../control/interlock.js";
import type { Finding } from "./finding.js";

export interface ValveFacts {
  readonly valveId: string;
  readonly state: ValveState | { readonly kind: "no daemon" };
  readonly click: ClickOutcome;
}

/** As the daemon's last pass left it. */
export interface ValveState {
  readonly kind: "known";
  readonly isInWindow: boolean;
  readonly told: "open" | "closed";
  readonly reported: "open" | "closed" | "unknown";
  /** Why it is told so. */
  readonly reason: string;
  readonly blocks: readonly { readonly rule: string; readonly reason: string }[];
}

/** What became of the round trip that a person asked for. */
export type ClickOutcome =
  | { readonly kind: "not asked for" }
  | { readonly kind: "nobody agreed" }
  | { readonly kind: "passed"; readonly text: string }
  | { readonly kind: "failed"; readonly text: string };

const needAPerson: readonly InterlockRuleId[] = ["tripped", "relay not commissioned", "relay not obeying"];

/** Only a valve that the daemon holds open anyway may click: a trial opens nothing. */
export function mayClick(state: ValveFacts["state"]): boolean {
  return state.kind === "known" && state.isInWindow && state.told === "open" && state.reported === "open";
}

export function valveFinding({ valveId, state, click }: ValveFacts): Finding {
  const subject = `valve ${valveId}`;
  if (state.kind === "no daemon") {
    return {
      subject,
      verdict: "not known",
      told: "not tried: no daemon answers, and nothing but the daemon may open a valve",
    };
  }
  const grave = state.blocks.find(({ rule }) => needAPerson.some((known) => known === rule));
  if (grave !== undefined) {
    return { subject, verdict: "mend this first", told: `not tried: ${grave.rule} (${grave.reason})` };
  }
  if (state.told !== state.reported) {
    const reports = state.reported === "unknown" ? "has reported nothing" : `reports ${state.reported}`;
    return {
      subject,
      verdict: "mend this first",
      told: `not tried: it is told ${state.told} and ${reports}`,
    };
  }
  const [block] = state.blocks;
  if (block !== undefined) {
    return {
      subject,
      verdict: "look at this",
      told: `not tried: held closed by ${block.rule} (${block.reason})`,
    };
  }
  if (!mayClick(state)) {
    return {
      subject,
      verdict: "not known",
      told: `it reports ${state.reported}, as told (${state.reason}); not tried: come back while its dosing window is open`,
    };
  }
  switch (click.kind) {
    case "passed":
      return { subject, verdict: "good", told: click.text };
    case "failed":
      return { subject, verdict: "mend this first", told: click.text };
    case "nobody agreed":
      return { subject, verdict: "not known", told: "it reports open, as told; not tried: nobody agreed" };
    case "not asked for":
      return {
        subject,
        verdict: "not known",
        told: `it reports open, as told; not tried: with somebody at the tank, give --at-the-tank ${valveId}`,
      };
  }
}
