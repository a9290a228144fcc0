import { awaitedInWords } from "./first-word.js";
import { holdInWords, type Hold, type HoldKind } from "./hold.js";
import { roomAirCauses, roomAirInWords, roomsTooRich, type RoomAirView } from "./room-air.js";
import type { Trip, TripCause, TripSubject } from "./trip.js";
import { sameSubject } from "./trip.js";
import { ratingCauses, type VesselPressureView } from "./vessel-rating.js";
import type { TankLimits, ValveRules } from "./valve-rules.js";

/** What is known of one guard sensor at this instant. */
export interface GuardView {
  readonly sensorId: string;
  readonly state:
    | { readonly kind: "fresh"; readonly age_s: number }
    | { readonly kind: "stale"; readonly age_s: number; readonly lastRejection: string | undefined }
    | { readonly kind: "never"; readonly lastRejection: string | undefined };
}

/** What is known of one tank at this instant; undefined where the config names no sensor for it or it is stale. */
export interface TankView {
  readonly tankId: string;
  readonly limits: TankLimits;
  readonly pH: number | undefined;
  readonly temperature_degC: number | undefined;
  /** Upper end of the 80 % interval. */
  readonly co2High80_mgPerL: number | undefined;
  /** Why it is above the limit though the central value is harmless; said with the trip. */
  readonly widthReason?: string | undefined;
  /** Nothing can be said of this tank, for a fault of the program or of what it kept. */
  readonly fault?: string | undefined;
  /** How fast its CO2 rises, where that is surely above the limit and the CO2 above the target. */
  readonly co2RisesTooFast:
    | { readonly rate_mgPerLPer30Min: number }
    | { readonly risen_mgPerL: number; readonly within_min: number }
    | undefined;
  /** What shows, surely, that gas flows on though the valve is closed; undefined where nothing does. */
  readonly gasDidNotStop: string | undefined;
  /** Whether the config names a sensor for it: then undefined means silent, and what it last said is not over. */
  readonly hasPHSensor: boolean;
  readonly hasTemperatureSensor: boolean;
}

export interface InterlockView {
  readonly rules: ValveRules;
  readonly clock: { readonly kind: "plausible" } | { readonly kind: "implausible"; readonly reason: string };
  readonly brokerConnected: boolean;
  readonly deadManArmed: boolean;
  readonly store: { readonly kind: "ok" } | { readonly kind: "failing"; readonly reason: string };
  readonly commissioned: boolean;
  readonly guards: readonly GuardView[];
  /** Guards, thermometers and sensors of rooms that have not spoken since the start, and may any moment. */
  readonly awaited: readonly string[];
  readonly tanks: readonly TankView[];
  readonly trips: readonly Trip[];
  /** How long gas has been on without a break that is known of. */
  readonly openFor_s: number;
  /** A relay of this valve that does not do what it is told. */
  readonly relayFault: string | undefined;
  /** How long the valve still stays closed because it has just been closed; 0: it may open. */
  readonly restsFor_s: number;
  /** Why the charge of the valve's vessel is at its end; undefined: it is not, or nobody knows. */
  readonly endOfCharge: string | undefined;
  /** The tanks whose temperature already holds the valve: they let go half a kelvin lower. */
  readonly tanksHeldByTemperature: readonly string[];
  /** Until when the vessel of this valve is held closed to find a leak, in words; left out: it is not. */
  readonly leakTest?: string | undefined;
  /** What persons have set on this valve or its vessel. */
  readonly holds: readonly Hold[];
  /** The vessel on which the valve sits; undefined: nothing of its pressure is known or stated. */
  readonly vessel: VesselPressureView | undefined;
  /** The rooms of the vessel and of the tanks, where the config names a sensor of their air. */
  readonly rooms: readonly RoomAirView[];
  /** The rooms whose air already holds the valve: they let go lower. */
  readonly roomsHeld: readonly string[];
}

export type InterlockRuleId =
  | "tripped"
  | "clock not plausible"
  | "broker lost"
  | "dead-man not armed"
  | "store failing"
  | "relay not commissioned"
  | "sensor not heard yet"
  | "guard sensor silent"
  | "relay not obeying"
  | "temperature above the limit"
  | "tank not judged"
  | "leak test"
  | "end of charge"
  | "CO2 in the room"
  | HoldKind
  | "rests after a closing";

export interface Block {
  readonly rule: InterlockRuleId;
  readonly reason: string;
}

/** A block as people read it: its rule and why, the rule's name said once. */
export function blockInWords({ rule, reason }: Block): string {
  return reason.startsWith(rule) ? reason : `${rule}: ${reason}`;
}

export type StandingCause = Pick<Trip, "subject" | "cause" | "reason">;

/** How far below its limit the temperature must fall before the valve may open again. A judgement. */
export const temperatureDeadband_K = 0.5;

/** Everything that forbids gas at this instant, most general first; an empty list lets the wish through. */
export function interlock(view: InterlockView): readonly Block[] {
  const blocks: Block[] = [];
  const block = (rule: InterlockRuleId, reason: string): void => {
    blocks.push({ rule, reason });
  };
  for (const hold of view.holds) block(hold.kind, holdInWords(hold));
  for (const trip of view.trips.filter((candidate) => concerns(candidate.subject, view.rules))) {
    block("tripped", `${trip.cause}: ${trip.reason}`);
  }
  if (view.clock.kind === "implausible") {
    block("clock not plausible", view.clock.reason);
  }
  if (!view.brokerConnected) {
    block("broker lost", "no connection to the broker");
  }
  if (!view.deadManArmed) {
    block("dead-man not armed", "the broker does not hold the closing command of every relay");
  }
  if (view.store.kind === "failing") {
    block("store failing", view.store.reason);
  }
  if (!view.commissioned && !view.rules.acceptedWithoutAutoOff) {
    block(
      "relay not commissioned",
      "the relay's auto-off and power-on state have not been tried; run `commission`",
    );
  }
  for (const sensorId of view.awaited) block("sensor not heard yet", awaitedInWords(sensorId));
  for (const guard of view.guards) {
    if (guard.state.kind !== "fresh" && !view.awaited.includes(guard.sensorId)) {
      block("guard sensor silent", describeGuard(guard));
    }
  }
  if (view.relayFault !== undefined) {
    block("relay not obeying", view.relayFault);
  }
  for (const room of roomsTooRich(view.rooms, view.roomsHeld)) {
    block("CO2 in the room", roomAirInWords(room));
  }
  for (const tank of tanksTooWarm(view.tanks, view.tanksHeldByTemperature)) {
    const seen =
      tank.temperature_degC === undefined
        ? "was too warm when its thermometer fell silent"
        : `is at ${tank.temperature_degC.toFixed(1)} degC`;
    block(
      "temperature above the limit",
      `${tank.tankId} ${seen}, the limit is ${tank.limits.temperatureHigh_degC} degC`,
    );
  }
  for (const { tankId, fault } of view.tanks) {
    if (fault !== undefined) block("tank not judged", `nothing can be said of ${tankId}: ${fault}`);
  }
  if (view.leakTest !== undefined) {
    block("leak test", view.leakTest);
  }
  if (view.endOfCharge !== undefined) block("end of charge", view.endOfCharge);
  if (view.restsFor_s > 0) {
    block(
      "rests after a closing",
      `opens again in ${Math.ceil(view.restsFor_s)} s, so that the solenoid does not chatter`,
    );
  }
  return blocks;
}

/**
 * The tanks that are too warm for gas. One that was held stays held down to half a kelvin below its limit, and while its
 * thermometer is silent.
 */
export function tanksTooWarm(
  tanks: readonly TankView[],
  heldTankIds: readonly string[],
): readonly TankView[] {
  return tanks.filter((tank) => {
    const isHeld = heldTankIds.includes(tank.tankId);
    if (tank.temperature_degC === undefined) return isHeld && tank.hasTemperatureSensor;
    const limit_degC = tank.limits.temperatureHigh_degC - (isHeld ? temperatureDeadband_K : 0);
    return tank.temperature_degC > limit_degC;
  });
}

/** The trips of tanks whose cause nobody can judge, because the pH sensor that showed it is silent: not known to be gone. */
export function causesNotKnownGone(
  tanks: readonly TankView[],
  trips: readonly Trip[],
): readonly StandingCause[] {
  const silent = tanks.filter((tank) => tank.hasPHSensor && tank.pH === undefined);
  return trips
    .filter(({ subject }) => subject.kind === "tank" && silent.some((tank) => tank.tankId === subject.id))
    .map(({ subject, cause }) => ({ subject, cause, reason: `the pH sensor of ${subject.id} is silent` }));
}

/**
 * The causes that trip, as they stand at this instant, whether or not they have tripped already; and those of vessel and
 * room that have, and of which nobody knows that they are gone.
 */
export function standingCauses(
  view: Pick<InterlockView, "rules" | "tanks" | "openFor_s" | "vessel" | "rooms" | "trips"> & {
    /** Whether gas is wished at all: a valve that closes anyway has not been open for too long. */
    readonly isWishedOpen: boolean;
  },
): readonly StandingCause[] {
  const causes: StandingCause[] = [];
  const valve: TripSubject = { kind: "valve", id: view.rules.valveId };
  const stand = (subject: TripSubject, cause: TripCause, reason: string): void => {
    causes.push({ subject, cause, reason });
  };
  for (const tank of view.tanks) {
    const subject: TripSubject = { kind: "tank", id: tank.tankId };
    if (tank.co2High80_mgPerL !== undefined && tank.co2High80_mgPerL > tank.limits.co2Close_mgPerL) {
      stand(
        subject,
        "CO2 above the close limit",
        `up to ${Number(tank.co2High80_mgPerL.toPrecision(2))} mg/L, the limit is ${tank.limits.co2Close_mgPerL} mg/L${tank.widthReason === undefined ? "" : `; ${tank.widthReason}`}`,
      );
    }
    if (tank.co2RisesTooFast !== undefined) {
      const fast = tank.co2RisesTooFast;
      const limit = `the limit is ${tank.limits.co2Rise_mgPerLPer30Min} mg/L`;
      stand(
        subject,
        "CO2 rises too fast",
        "risen_mgPerL" in fast
          ? `by ${Number(fast.risen_mgPerL.toPrecision(2))} mg/L within ${fast.within_min} min, ${limit} in 30 min`
          : `by ${Number(fast.rate_mgPerLPer30Min.toPrecision(2))} mg/L in 30 min, ${limit}`,
      );
    }
    if (tank.pH !== undefined && tank.pH < tank.limits.pHFloor) {
      stand(subject, "pH below the floor", `pH ${tank.pH.toFixed(2)}, the floor is ${tank.limits.pHFloor}`);
    }
  }
  for (const { gasDidNotStop } of view.tanks) {
    if (gasDidNotStop === undefined) continue;
    stand(valve, "gas did not stop", gasDidNotStop);
  }
  causes.push(
    ...ratingCauses(view.vessel, view.trips, valve),
    ...roomAirCauses(view.rooms, view.trips, valve),
  );
  if (view.isWishedOpen && view.openFor_s > view.rules.longestOpen_min * 60) {
    stand(valve, "open for too long", `open for more than ${view.rules.longestOpen_min} min without a break`);
  }
  return causes;
}

/** Whether a trip of this subject holds that valve. */
export function concerns(subject: TripSubject, rules: ValveRules): boolean {
  return (
    sameSubject(subject, { kind: "valve", id: rules.valveId }) ||
    rules.tankIds.some((id) => sameSubject(subject, { kind: "tank", id }))
  );
}

function describeGuard(guard: GuardView): string {
  switch (guard.state.kind) {
    case "fresh":
      return `${guard.sensorId} is fresh`;
    case "stale":
      return `${guard.sensorId} has given no believable value for ${Math.round(guard.state.age_s)} s${because(guard.state.lastRejection)}`;
    case "never":
      return `${guard.sensorId} has given no believable value yet${because(guard.state.lastRejection)}`;
  }
}

function because(rejection: string | undefined): string {
  return rejection === undefined ? "" : ` (last rejected: ${rejection})`;
}
