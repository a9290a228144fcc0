/** What the schedule says of a valve at an instant: the windows of all its tanks, where they overlap. */
export type WindowState =
  | { readonly kind: "open"; readonly closes_epochMs: number }
  | { readonly kind: "closed"; readonly opens_epochMs: number | undefined };

/** A person's wish that outlasts the schedule until its end. */
export interface Override {
  readonly valveId: string;
  readonly action: "open" | "closed";
  readonly until_epochMs: number;
  /** A hub may open only inside a window; the person at the daemon's own socket may open outside of it. */
  readonly source: "local" | "remote";
}

/** What a valve should do and why, before the interlock has its say. */
export interface Wish {
  readonly action: "open" | "closed";
  readonly reason: string;
}

/** How long an override may keep gas on outside the windows. A judgement: long enough to set a needle valve. */
export const longestLocalOverride_min = 120;

/** The wish for one valve. Pure in the instant: nothing here remembers an edge. */
export function decide(window: WindowState, override: Override | undefined, now_epochMs: number): Wish {
  const active = override !== undefined && now_epochMs < override.until_epochMs ? override : undefined;
  if (active?.action === "closed") {
    return { action: "closed", reason: "closed by hand" };
  }
  if (window.kind === "open") {
    return {
      action: "open",
      reason: active === undefined ? "dosing window" : "opened by hand in the dosing window",
    };
  }
  if (active !== undefined && active.source === "local") {
    return { action: "open", reason: "opened by hand outside the dosing window" };
  }
  return { action: "closed", reason: "outside the dosing window" };
}

export type OverrideRefusal =
  { readonly kind: "accepted" } | { readonly kind: "refused"; readonly reason: string };

/**
 * Whether an override may be taken at all. A local one that begins inside a window may outlast it, by no more than it
 * may last outside of one.
 */
export function judgeOverride(override: Override, window: WindowState, now_epochMs: number): OverrideRefusal {
  const length_min = (override.until_epochMs - now_epochMs) / 60_000;
  if (!(length_min > 0)) {
    return { kind: "refused", reason: "its end is not in the future" };
  }
  if (length_min > 60 * 24 * 60) {
    return { kind: "refused", reason: "its end is more than 60 days away; use datesOff for that" };
  }
  if (override.action === "closed") return { kind: "accepted" };
  if (override.source === "remote") {
    return window.kind === "open"
      ? { kind: "accepted" }
      : { kind: "refused", reason: "a remote message may open a valve only inside its dosing window" };
  }
  const outsideFrom_epochMs = window.kind === "open" ? window.closes_epochMs : now_epochMs;
  return override.until_epochMs - outsideFrom_epochMs <= longestLocalOverride_min * 60_000
    ? { kind: "accepted" }
    : {
        kind: "refused",
        reason: `outside the dosing window a valve may be opened for ${longestLocalOverride_min} min at most`,
      };
}
