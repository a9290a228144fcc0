import type { BrokerAccess, BrokerAddress, BrokerWill } from "./broker-connection-options.js";
import { brokerAddressesOf } from "./broker-connection-options.js";
import { openBrokerConnection, type BrokerConnection, type ConnectionOutcome } from "./broker-connection.js";

/** Who connects, and what the broker is to publish when the connection breaks. */
export interface BrokerClient {
  readonly clientId: string;
  readonly keepalive_s: number;
  readonly will?: BrokerWill;
  readonly timeout_ms?: number;
}

type RoundOutcome =
  | { readonly kind: "open"; readonly connection: BrokerConnection }
  | { readonly kind: "failed"; readonly reason: string };

/** Goes through the addresses once, in their order, and returns the first connection that opens. */
export interface BrokerConnector {
  /** With `only`, an address as it is shown, the round is made of that address alone. */
  connect(signal: AbortSignal, only?: string): Promise<RoundOutcome>;
}

/** A broker that is only slow is not given up before this; a dead address costs no longer. */
const answerWithin_ms = 10_000;

/** @throws InvalidBrokerAddressError when an address cannot be read. */
export function createBrokerConnector(access: BrokerAccess, who: BrokerClient): BrokerConnector {
  const addresses = brokerAddressesOf(access);
  // An address is in here as long as it has taken 3.1.1 and not 5.
  const speaksOnly311 = new Set<string>();

  const attempt = (
    address: BrokerAddress,
    protocolVersion: 4 | 5,
    signal: AbortSignal,
  ): Promise<ConnectionOutcome> =>
    openBrokerConnection({
      address,
      protocolVersion,
      clientId: who.clientId,
      keepalive_s: who.keepalive_s,
      timeout_ms: who.timeout_ms ?? answerWithin_ms,
      signal,
      ...(access.user === undefined ? {} : { user: access.user }),
      ...(access.password === undefined ? {} : { password: access.password }),
      ...(access.tls === undefined ? {} : { tls: access.tls }),
      ...(who.will === undefined ? {} : { will: who.will }),
    });

  const connectTo = async (address: BrokerAddress, signal: AbortSignal): Promise<ConnectionOutcome> => {
    const remembered = speaksOnly311.has(address.text);
    const first = await attempt(address, remembered ? 4 : 5, signal);
    if (remembered) {
      // The broker may have been replaced by one that speaks 5: the next round asks again.
      if (first.kind === "failed" && first.otherVersionMayWork) speaksOnly311.delete(address.text);
      return first;
    }
    if (first.kind === "open" || !first.otherVersionMayWork || signal.aborted) return first;
    const second = await attempt(address, 4, signal);
    if (second.kind === "open") speaksOnly311.add(address.text);
    return second;
  };

  return {
    async connect(signal, only) {
      const reasons: string[] = [];
      const wanted = addresses.filter(({ text }) => text === only);
      for (const address of wanted.length > 0 ? wanted : addresses) {
        if (signal.aborted) break;
        const outcome = await connectTo(address, signal);
        if (outcome.kind === "open") return outcome;
        reasons.push(`${address.text}: ${outcome.reason}`);
      }
      return { kind: "failed", reason: signal.aborted ? "stopped" : reasons.join("; ") };
    },
  };
}
