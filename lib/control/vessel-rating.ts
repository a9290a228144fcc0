import { plainText } from "../told/plain-text.js";
import { bar, said, type Said } from "../told/said.js";
import type { Trip, TripSubject } from "./trip.js";

/** What is known of the pressure in a vessel at this instant, and what it may bear. */
export interface VesselPressureView {
  readonly vesselId: string;
  /** As its sensor says, before any estimate, or a gauge read by eye in its place; undefined: neither is of now. */
  readonly pressureGauge_bar: number | undefined;
  /** How far that may be off. */
  readonly accuracy_bar: number;
  /** From the plates; undefined where the config does not state it. */
  readonly ratedPressureGauge_bar: number | undefined;
  readonly reliefOpeningGauge_bar: number | undefined;
}

/** What the vessel must not pass: the lower of the stated ones, in bar gauge; undefined where neither is stated. */
export function ratingGauge_bar({
  ratedPressureGauge_bar,
  reliefOpeningGauge_bar,
}: Pick<VesselPressureView, "ratedPressureGauge_bar" | "reliefOpeningGauge_bar">): number | undefined {
  const stated = [ratedPressureGauge_bar, reliefOpeningGauge_bar].filter((value) => value !== undefined);
  return stated.length === 0 ? undefined : Math.min(...stated);
}

/** Why the pressure may be above the vessel's rating; undefined where it surely is not, or nothing says so. */
export function aboveRatingReason(vessel: VesselPressureView): string | undefined {
  const sentence = aboveRatingSaid(vessel);
  return sentence === undefined ? undefined : plainText(sentence);
}

/** The same with its quantities as such. */
export function aboveRatingSaid(vessel: VesselPressureView): Said | undefined {
  const { vesselId, pressureGauge_bar, accuracy_bar } = vessel;
  const limit_bar = ratingGauge_bar(vessel);
  if (pressureGauge_bar === undefined || limit_bar === undefined) return undefined;
  if (!(pressureGauge_bar + accuracy_bar > limit_bar)) return undefined;
  return said`vessel ${vesselId} is at ${bar(Number(shown(pressureGauge_bar)))}, give or take ${bar(Number(shown(accuracy_bar)))}; the lower of its rated and relief pressure is ${bar(Number(shown(limit_bar)))}`;
}

/**
 * A vessel that may be above its rating trips its valves. Closing lowers no pressure, and neither would opening: a needle
 * valve passes grams a day, while a warming vessel gains bars in minutes. But above its rating nothing about it is known any
 * more, nor about the regulator behind it, whose outlet rises or whose seat fails: with the valve closed that reaches
 * neither tank nor hoses nor whoever stands there. And an open valve would let a person believe that the daemon deals with
 * it. It cannot: it never vents. What protects is the relief device; what helps is to keep away, to remove heat from a
 * distance where that is safe, and to ventilate. It latches, for a vessel that was above its rating must be looked at
 * before it goes on. Once tripped it stands while the sensor is silent.
 */
export function ratingCauses(
  vessel: VesselPressureView | undefined,
  trips: readonly Trip[],
  subject: TripSubject,
): readonly Pick<Trip, "subject" | "cause" | "reason">[] {
  if (vessel === undefined) return [];
  const cause = "pressure above the rating";
  const above = aboveRatingReason(vessel);
  if (above !== undefined) return [{ subject, cause, reason: above }];
  const hasTripped = trips.some(
    (trip) => trip.cause === cause && trip.subject.kind === subject.kind && trip.subject.id === subject.id,
  );
  return hasTripped && vessel.pressureGauge_bar === undefined
    ? [
        {
          subject,
          cause,
          reason: `the pressure of vessel ${vessel.vesselId} is not known; read its gauge and enter it: journal gauge`,
        },
      ]
    : [];
}

function shown(value_bar: number): string {
  return String(Number(value_bar.toPrecision(3)));
}
