/** Where a broker listens. User and password never stand in the address: addresses are logged. */
export interface BrokerAddress {
  readonly host: string;
  readonly port: number;
  readonly tls: boolean;
  /** The address as it is shown: scheme, host and port. */
  readonly text: string;
}

/** Certificates as PEM text, so that they can be handed to the dead-man process as they are. */
export interface BrokerTls {
  readonly ca?: string;
  readonly certificate?: string;
  readonly key?: string;
  /** Takes any certificate: for a trial only, since anyone on the network could then answer as the broker. */
  readonly acceptUnverified?: boolean;
}

/** What the broker publishes when a connection ends without a DISCONNECT. */
export interface BrokerWill {
  readonly topic: string;
  readonly payload: string;
  readonly qos: 0 | 1;
  readonly retain: boolean;
}

/** What every connection to the site's broker has in common. */
export interface BrokerAccess {
  readonly addresses: readonly string[];
  readonly user?: string;
  readonly password?: string;
  readonly tls?: BrokerTls;
}

export type ParsedBrokerAddress =
  | { readonly kind: "address"; readonly address: BrokerAddress }
  | { readonly kind: "invalid"; readonly reason: string };

/** An address in a composition that never passed the config check. */
class InvalidBrokerAddressError extends Error {
  override readonly name = "InvalidBrokerAddressError";

  constructor(readonly reason: string) {
    super(reason);
  }
}

const standardPort = { "mqtt:": 1883, "mqtts:": 8883 } as const;

/** Reads "mqtt://host:port" or "mqtts://host:port"; the port may be left out. */
export function parseBrokerAddress(text: string): ParsedBrokerAddress {
  const invalid = (why: string): ParsedBrokerAddress => ({
    kind: "invalid",
    reason: `${why}; write mqtt://host:1883, or mqtts://host:8883 for TLS`,
  });
  let url: URL;
  try {
    url = new URL(text);
  } catch {
    return invalid("the broker address is not a URL");
  }
  const { protocol } = url;
  if (protocol !== "mqtt:" && protocol !== "mqtts:") {
    return invalid(`the broker address has the unknown scheme "${protocol.replace(":", "")}"`);
  }
  if (url.username !== "" || url.password !== "") {
    return invalid("the broker address must not hold a user or a password, which have keys of their own");
  }
  if (url.hostname === "") return invalid("the broker address names no host");
  if (!["", "/"].includes(url.pathname) || url.search !== "" || url.hash !== "") {
    return invalid("the broker address holds more than a host and a port");
  }
  const port = url.port === "" ? standardPort[protocol] : Number(url.port);
  if (port === 0) return invalid("the broker address has the port 0");
  const host = url.hostname.replace(/^\[|\]$/g, "");
  const shown = `${protocol}//${url.hostname}:${port}`;
  return { kind: "address", address: { host, port, tls: protocol === "mqtts:", text: shown } };
}

/** All addresses of an access, in order. @throws InvalidBrokerAddressError for the first that is none. */
export function brokerAddressesOf(access: BrokerAccess): readonly BrokerAddress[] {
  if (access.addresses.length === 0) throw new InvalidBrokerAddressError("no broker address is given");
  return access.addresses.map((text) => {
    const parsed = parseBrokerAddress(text);
    if (parsed.kind === "invalid") throw new InvalidBrokerAddressError(parsed.reason);
    return parsed.address;
  });
}
