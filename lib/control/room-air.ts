import type { Trip, TripCause, TripSubject } from "./trip.js";

/** What is known of the air of one room at this instant. */
export interface RoomAirView {
  readonly sensorId: string;
  /** Undefined: the sensor is silent. */
  readonly co2InAir_ppm: number | undefined;
}

/**
 * CO2 in the air of a room from which on gas is held off: the limit for the mean of a working day. [Eu2006] [Osha1910] One
 * reading is enough, though the limit is one of a mean: whoever sleeps beside a vessel is there longer than a shift.
 */
export const roomAirHeld_ppm = 5000;
/** So far must it fall before the valve may open again. A judgement. */
export const roomAirReleased_ppm = 4500;
/** The limit for the mean of 15 minutes of the stricter of the two that are in use. [Hse2020] */
export const roomAirShortTime_ppm = 15_000;
/** That of the other; at 40000 ppm life is in danger at once. [Niosh2007] */
export const roomAirLeave_ppm = 30_000;

type RoomAirCause = Extract<TripCause, `CO2 in the room${string}`>;

/**
 * The rooms whose air holds the valve: at 5000 ppm or more, since many a sensor ends there, and from then on down to
 * 4500 ppm, or while its sensor is silent.
 */
export function roomsTooRich(
  rooms: readonly RoomAirView[],
  heldSensorIds: readonly string[],
): readonly RoomAirView[] {
  return rooms.filter(({ sensorId, co2InAir_ppm }) => {
    const isHeld = heldSensorIds.includes(sensorId);
    if (co2InAir_ppm === undefined) return isHeld;
    return co2InAir_ppm >= roomAirHeld_ppm || (isHeld && co2InAir_ppm > roomAirReleased_ppm);
  });
}

/**
 * What the air of the rooms trips. The gas in a room may come from this valve, from the vessel, or from elsewhere; closing
 * ends at most one of these, but it costs a day of plants and the other choice may cost a life. A cause that has tripped
 * stands until the air is below 4500 ppm, and while its sensor is silent; the lower one does not trip while the higher has.
 */
export function roomAirCauses(
  rooms: readonly RoomAirView[],
  trips: readonly Trip[],
  subject: TripSubject,
): readonly Pick<Trip, "subject" | "cause" | "reason">[] {
  const hasTripped = (cause: RoomAirCause): boolean =>
    trips.some(
      (trip) => trip.cause === cause && trip.subject.kind === subject.kind && trip.subject.id === subject.id,
    );
  return rooms.flatMap(({ sensorId, co2InAir_ppm }) => {
    const causes: RoomAirCause[] = [];
    if (co2InAir_ppm === undefined || co2InAir_ppm > roomAirReleased_ppm) {
      causes.push(...roomAirTrips.filter(hasTripped));
    }
    if (co2InAir_ppm !== undefined && co2InAir_ppm >= roomAirLeave_ppm) {
      causes.push("CO2 in the room from 30000 ppm");
    } else if (
      co2InAir_ppm !== undefined &&
      co2InAir_ppm >= roomAirShortTime_ppm &&
      !hasTripped("CO2 in the room from 30000 ppm")
    ) {
      causes.push("CO2 in the room from 15000 ppm");
    }
    const reason =
      co2InAir_ppm === undefined ? `${sensorId} is silent` : `${sensorId} shows ${whole(co2InAir_ppm)} ppm`;
    return [...new Set(causes)].map((cause) => ({ subject, cause, reason }));
  });
}

const roomAirTrips: readonly RoomAirCause[] = [
  "CO2 in the room from 15000 ppm",
  "CO2 in the room from 30000 ppm",
];

export function roomAirInWords({ sensorId, co2InAir_ppm }: RoomAirView): string {
  return co2InAir_ppm === undefined
    ? `${sensorId} showed too much CO2 in the air when it fell silent`
    : `${sensorId} shows ${whole(co2InAir_ppm)} ppm CO2 in the air; gas is held off from ${roomAirHeld_ppm} ppm on, and let go below ${roomAirReleased_ppm}`;
}

function whole(value: number): string {
  return String(Math.round(value));
}
