/** A safety closing that latches: only a person at the tank re-arms it, and only once the cause is gone. */
export interface Trip {
  /** What it closes: a tank (and so every valve that feeds it) or one valve. */
  readonly subject: TripSubject;
  readonly cause: TripCause;
  readonly reason: string;
  readonly at_epochMs: number;
}

export interface TripSubject {
  readonly kind: "tank" | "valve";
  readonly id: string;
}

export type TripCause =
  | "CO2 above the close limit"
  | "CO2 rises too fast"
  | "pH below the floor"
  | "open for too long"
  /** The tank did not lose its CO2 though every relay reported off: the valve hangs open. */
  | "gas did not stop"
  | "pressure above the rating"
  | "CO2 in the room from 15000 ppm"
  | "CO2 in the room from 30000 ppm"
  | "what was known before is lost";

/** Each subject and cause trips once; a second occurrence changes nothing, not even the instant. */
export function withTrip(trips: readonly Trip[], trip: Trip): readonly Trip[] {
  return trips.some((known) => sameTrip(known, trip)) ? trips : [...trips, trip];
}

export type RearmOutcome =
  | { readonly kind: "re-armed"; readonly trips: readonly Trip[]; readonly released: readonly Trip[] }
  | { readonly kind: "refused"; readonly reason: string };

/**
 * Releases the trips of a subject, all of them or none.
 * @param standing  the causes that hold at this instant, as the interlock sees them.
 */
export function rearm(
  trips: readonly Trip[],
  subject: TripSubject,
  standing: readonly Pick<Trip, "subject" | "cause" | "reason">[],
): RearmOutcome {
  const mine = trips.filter((trip) => sameSubject(trip.subject, subject));
  if (mine.length === 0) {
    return { kind: "refused", reason: `${subject.kind} ${subject.id} has not tripped` };
  }
  const still = mine
    .map((trip) => standing.find((cause) => sameTrip(cause, trip)))
    .find((cause) => cause !== undefined);
  if (still !== undefined) {
    return { kind: "refused", reason: `the cause is not known to be gone: ${still.reason}` };
  }
  return { kind: "re-armed", trips: trips.filter((trip) => !mine.includes(trip)), released: mine };
}

export function sameSubject(a: TripSubject, b: TripSubject): boolean {
  return a.kind === b.kind && a.id === b.id;
}

function sameTrip(a: Pick<Trip, "subject" | "cause">, b: Pick<Trip, "subject" | "cause">): boolean {
  return a.cause === b.cause && sameSubject(a.subject, b.subject);
}

/**
 * Trips after the config has changed: one whose tank or valve is gone passes to other valves, so that another name or a removed
 * entry re-arms nothing.
 * @param heirs  the valves that take over the trip of what is not in the config.
 */
export function rehomedTrips(
  trips: readonly Trip[],
  isInConfig: (subject: TripSubject) => boolean,
  heirs: (subject: TripSubject) => readonly string[],
): readonly Trip[] {
  return trips.reduce<readonly Trip[]>((kept, trip) => {
    if (isInConfig(trip.subject)) return withTrip(kept, trip);
    return heirs(trip.subject).reduce(
      (all, id) => withTrip(all, { ...trip, subject: { kind: "valve", id } }),
      kept,
    );
  }, []);
}
