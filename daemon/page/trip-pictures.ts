import type { StandingCause } from "../../lib/control/interlock.js";
import { sameSubject, type Trip, type TripCause } from "../../lib/control/trip.js";
import { adviceFor } from "../trip-alarms.js";
import type { TripPicture } from "./page-contract.js";

/** Danger to people before danger to animals, the worst first. */
const toPeople: readonly TripCause[] = [
  "pressure above the rating",
  "CO2 in the room from 30000 ppm",
  "CO2 in the room from 15000 ppm",
];

/** The safety closings in the order in which a person has to know of them, each with what its own cause asks for. */
export function tripPictures(
  trips: readonly Trip[],
  standing: readonly StandingCause[],
): readonly TripPicture[] {
  return trips
    .map((trip) => ({
      ...trip,
      whatToDo: adviceFor(trip.cause).whatToDo,
      stands: standing.some(
        ({ subject, cause }) => cause === trip.cause && sameSubject(subject, trip.subject),
      ),
    }))
    .sort((a, b) => rank(a) - rank(b));
}

function rank({ cause, stands }: TripPicture): number {
  const place = toPeople.indexOf(cause);
  return (place === -1 ? toPeople.length : place) + (stands ? 0 : toPeople.length + 1);
}
