import type { Override } from "../lib/control/decide.js";
import { endedHolds, holdsOnValve, withoutHold, type Hold } from "../lib/control/hold.js";
import { rehomedTrips, withTrip, type Trip, type TripSubject } from "../lib/control/trip.js";
import type { ClockVerdict } from "../lib/schedule/clock-plausibility.js";
import type { ControlSnapshot } from "./control-snapshot.js";
import type { SiteEvent, SiteStore } from "./ports/site-store.js";
import type { SiteModel, ValveModel } from "./site-model.js";

/** Trips, overrides, commissioned relays and the accepted clock: each change is on its way to the disk at once. */
export interface KeptState {
  current(): ControlSnapshot;
  replace(next: ControlSnapshot): Promise<boolean>;
  overrideOf(valveId: string): Override | undefined;
  /** Whether each relay of the valve that carries gas was tried as it is now, or needs no trial. */
  isCommissioned(valve: ValveModel, relays: SiteModel["relays"]): boolean;
  latchTrips(trips: readonly Trip[], now_epochMs: number): void;
  /** A trip of a tank or valve that is no longer in the config passes to other valves. */
  rehomeTrips(
    isInConfig: (subject: TripSubject) => boolean,
    heirs: (subject: TripSubject) => readonly string[],
  ): void;
  dropEndedOverrides(now_epochMs: number, verdict: ClockVerdict): void;
  keepAcceptedClock(accepted_epochMs: number | undefined): void;
  /** What persons have set on a valve or its vessel. */
  holdsOn(valve: ValveModel, site: Pick<SiteModel, "valves" | "vessels">): readonly Hold[];
  /** @param chargeClosed_epochMs when the newest charge of a vessel was closed that was recorded at this machine */
  dropEndedHolds(
    now_epochMs: number,
    verdict: ClockVerdict,
    chargeClosed_epochMs: (vesselId: string) => number | undefined,
  ): void;
}

export function createKeptState(
  ports: {
    readonly store: Pick<SiteStore, "saveSnapshot">;
    readonly record: (event: SiteEvent) => void;
  },
  restored: ControlSnapshot,
): KeptState {
  const { store, record } = ports;
  let saved = restored;

  return {
    current: () => saved,
    replace,
    overrideOf: (valveId) => saved.overrides.find((candidate) => candidate.valveId === valveId),
    isCommissioned: (valve, relays) =>
      valve.rules.gasRelays.every(({ relayId }) => {
        const relay = relays.get(relayId);
        return (
          relay !== undefined &&
          (relay.acceptedWithoutAutoOff || saved.commissioned[relayId] === commissioningFingerprint(relay))
        );
      }),
    latchTrips,
    rehomeTrips(isInConfig, heirs) {
      const trips = rehomedTrips(saved.trips, isInConfig, heirs);
      if (trips.length === saved.trips.length && trips.every((trip, index) => trip === saved.trips[index]))
        return;
      void replace({ ...saved, trips });
    },
    dropEndedOverrides,
    holdsOn: ({ rules: { valveId }, vesselId }, { valves, vessels }) =>
      holdsOnValve(saved.holds, { valveId, vesselId }, ({ kind, id }) =>
        (kind === "valve" ? valves : vessels).has(id),
      ),
    dropEndedHolds,
    keepAcceptedClock(acceptedClock_epochMs) {
      void replace({ ...saved, acceptedClock_epochMs });
    },
  };

  function replace(next: ControlSnapshot): Promise<boolean> {
    saved = next;
    return store.saveSnapshot("control", saved);
  }

  function latchTrips(trips: readonly Trip[], now_epochMs: number): void {
    const fresh = trips.filter((trip) => !saved.trips.includes(trip));
    if (fresh.length === 0) return;
    void replace({ ...saved, trips: fresh.reduce(withTrip, saved.trips) });
    for (const trip of fresh) {
      const { subject, cause, reason } = trip;
      record({
        at_epochMs: now_epochMs,
        area: "trip",
        subject: subject.id,
        what: cause,
        reason,
        details: { ...subject },
      });
    }
  }

  /** An end is civil time: while the clock is not plausible, no wish to open outlives it, and no closing ends by it. */
  function dropEndedOverrides(now_epochMs: number, verdict: ClockVerdict): void {
    const isOver = (override: Override): boolean => now_epochMs >= override.until_epochMs;
    const isDropped = (override: Override): boolean =>
      verdict.kind === "plausible" ? isOver(override) : override.action === "open";
    const ended = saved.overrides.filter(isDropped);
    if (ended.length === 0) return;
    void replace({ ...saved, overrides: saved.overrides.filter((override) => !isDropped(override)) });
    for (const override of ended) {
      record({
        at_epochMs: now_epochMs,
        area: "override",
        subject: override.valveId,
        what: "ended",
        reason: isOver(override) ? "its time is over" : "the clock is not plausible",
        details: { ...override },
      });
    }
  }

  /** An end is civil time: while the clock is not plausible, nothing is let go. */
  function dropEndedHolds(
    now_epochMs: number,
    verdict: ClockVerdict,
    chargeClosed_epochMs: (vesselId: string) => number | undefined,
  ): void {
    if (saved.holds.length === 0 || verdict.kind !== "plausible") return;
    const ended = endedHolds(saved.holds, chargeClosed_epochMs);
    if (ended.length === 0) return;
    void replace({ ...saved, holds: ended.reduce(withoutHold, saved.holds) });
    for (const { kind, subject } of ended) {
      record({
        at_epochMs: now_epochMs,
        area: "hold",
        subject: subject.id,
        what: `${kind} ended`,
        reason: "the new charge is recorded",
        details: { ...subject },
      });
    }
  }
}

/** What was tried: another topic, payload or time makes another relay of it. */
export function commissioningFingerprint(relay: {
  readonly commandTopic: string;
  readonly payloadOn: string;
  readonly payloadOff: string;
  readonly rules: { readonly autoOff_s: number | undefined };
}): string {
  return JSON.stringify([
    relay.commandTopic,
    relay.payloadOn,
    relay.payloadOff,
    relay.rules.autoOff_s ?? null,
  ]);
}
