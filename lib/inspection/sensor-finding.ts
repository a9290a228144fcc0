import type { SensorFreshness } from "../readings/sensor-freshness.js";
import type { Finding } from "./finding.js";

export interface SensorFacts {
  readonly sensorId: string;
  readonly topic: string;
  readonly maximumAge_s: number;
  /** The valves that stay closed without it. */
  readonly guards: readonly string[];
  /** The last value that was believed, in words. */
  readonly value: string | undefined;
  readonly freshness: SensorFreshness;
  /** The last thing that was refused after it. */
  readonly refused: { readonly reason: string; readonly detail: string } | undefined;
  /** Who listened, and for how long where it was this command alone. */
  readonly heardBy:
    { readonly kind: "daemon" } | { readonly kind: "this command"; readonly listened_s: number };
}

/** What a sensor says, against the age that the config allows it. */
export function sensorFinding(facts: SensorFacts): Finding {
  const { sensorId, topic, maximumAge_s, guards, value, freshness, refused, heardBy } = facts;
  const subject = `sensor ${sensorId}`;
  const closes = guards.length === 0 ? "" : `; it guards ${guards.join(", ")}, which stays closed without it`;
  const verdict = guards.length === 0 ? "look at this" : "mend this first";
  const allowed = `${maximumAge_s} s are allowed`;
  if (freshness.kind !== "never" && value !== undefined) {
    const aged = `${value}, ${Math.round(freshness.age_s)} s old, ${allowed}`;
    if (freshness.kind === "fresh") return { subject, verdict: "good", told: aged };
    const why = refused === undefined ? "" : `; since then refused: ${refused.reason}, ${refused.detail}`;
    return { subject, verdict, told: `${aged}${why}${closes}` };
  }
  if (refused?.reason === "retained") {
    return {
      subject,
      verdict: heardBy.kind === "daemon" ? verdict : "not known",
      told: `only a value that the broker kept (${refused.detail}); nobody knows how old it is, so it does not count${heardBy.kind === "daemon" ? closes : `; nothing live came in ${heardBy.listened_s} s`}`,
    };
  }
  if (refused !== undefined) {
    return {
      subject,
      verdict,
      told: `what it says is refused: ${refused.reason}, ${refused.detail}${closes}`,
    };
  }
  return heardBy.kind === "daemon"
    ? { subject, verdict, told: `nothing was heard on ${topic}${closes}` }
    : {
        subject,
        verdict: "not known",
        told: `nothing came on ${topic} in ${heardBy.listened_s} s; it may be silent for longer, ${allowed} (--listen)`,
      };
}
