/**
 * What keeps a valve closed because a person works at the vessel or behind it. No interlock looks for its cause: it stands
 * from when it was set until it is lifted, over restarts, whatever schedule, override or hub wish. Each kind is a rule of
 * the interlock of the same name.
 */
export const holdKinds = ["maintenance lock", "refill in progress"] as const;
export type HoldKind = (typeof holdKinds)[number];

export interface HoldSubject {
  /** A vessel holds every valve on it. */
  readonly kind: "vessel" | "valve";
  readonly id: string;
}

export interface Hold {
  readonly kind: HoldKind;
  readonly subject: HoldSubject;
  readonly since_epochMs: number;
  /** A remark of the person who set it. */
  readonly note: string;
}

/** One hold of each kind and subject; a second one changes nothing, not even the instant. */
export function withHold(holds: readonly Hold[], hold: Hold): readonly Hold[] {
  return holds.some((known) => sameHold(known, hold)) ? holds : [...holds, hold];
}

export function withoutHold(holds: readonly Hold[], lifted: Pick<Hold, "kind" | "subject">): readonly Hold[] {
  return holds.filter((known) => !sameHold(known, lifted));
}

/**
 * The holds that keep one valve closed: its own, those of the vessel on which it sits, and those of what is not in the config
 * any more: another name in it must not take a lock away from somebody who works.
 */
export function holdsOnValve(
  holds: readonly Hold[],
  valve: { readonly valveId: string; readonly vesselId: string },
  isInConfig: (subject: HoldSubject) => boolean,
): readonly Hold[] {
  return holds.filter(
    ({ subject }) =>
      subject.id === (subject.kind === "valve" ? valve.valveId : valve.vesselId) || !isInConfig(subject),
  );
}

/**
 * The holds that are over: a refill by the charge that was recorded as closed since it began; a lock never by itself.
 * @param chargeClosed_epochMs when the newest charge of a vessel was closed that was recorded at this machine
 */
export function endedHolds(
  holds: readonly Hold[],
  chargeClosed_epochMs: (vesselId: string) => number | undefined,
): readonly Hold[] {
  return holds.filter(({ kind, subject, since_epochMs }) => {
    if (kind !== "refill in progress" || subject.kind !== "vessel") return false;
    const closed_epochMs = chargeClosed_epochMs(subject.id);
    return closed_epochMs !== undefined && closed_epochMs >= since_epochMs;
  });
}

/**
 * From when a hold stands: now, but after the charge that is known already. A clock that is behind would let that one end a
 * refill under a person's hands.
 */
export function holdSince_epochMs(now_epochMs: number, chargeClosed_epochMs: number | undefined): number {
  return chargeClosed_epochMs === undefined ? now_epochMs : Math.max(now_epochMs, chargeClosed_epochMs + 1);
}

export function holdInWords({ kind, subject, note }: Hold): string {
  return `${kind} on ${subject.kind} ${subject.id}${note === "" ? "" : ` (${note})`}`;
}

function sameHold(a: Pick<Hold, "kind" | "subject">, b: Pick<Hold, "kind" | "subject">): boolean {
  return a.kind === b.kind && a.subject.kind === b.subject.kind && a.subject.id === b.subject.id;
}
