import type { Finding } from "./finding.js";

export type BrokerFacts =
  | { readonly kind: "not reached"; readonly reason: string }
  | {
      readonly kind: "connected";
      readonly address: string;
      readonly protocolVersion: 4 | 5;
      readonly isEncrypted: boolean;
      /** What became of a message to a topic that nothing else listens to. */
      readonly echo:
        | { readonly kind: "came back"; readonly after_ms: number }
        | { readonly kind: "did not come back"; readonly topic: string; readonly because: string };
    };

/** The broker as the config's own credentials find it. */
export function brokerFinding(facts: BrokerFacts): Finding {
  const subject = "broker";
  if (facts.kind === "not reached") {
    return {
      subject,
      verdict: "mend this first",
      told: `no connection: ${facts.reason}. Without it every valve stays closed`,
    };
  }
  const { address, protocolVersion, isEncrypted, echo } = facts;
  const connected = `${address}, MQTT ${protocolVersion === 5 ? "5" : "3.1.1"}, ${isEncrypted ? "encrypted" : "not encrypted"}`;
  if (echo.kind === "did not come back") {
    return {
      subject,
      verdict: "look at this",
      told: `${connected}; connected, but a message to ${echo.topic} did not come back (${echo.because}). Let the daemon's user write and read that topic, or look at the broker's access lists`,
    };
  }
  const went = `a message was there and back in ${Math.round(echo.after_ms)} ms`;
  return protocolVersion === 5
    ? { subject, verdict: "good", told: `${connected}; ${went}` }
    : {
        subject,
        verdict: "look at this",
        told: `${connected}; ${went}. By this version a command that a hub sent to be kept cannot be told from a live one, and a late one does not expire: take a broker that speaks MQTT 5 where you can`,
      };
}
