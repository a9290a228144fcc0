/** Reason codes of MQTT 5 (OASIS MQTT 5.0, section 2.4 and 3.2.2.2) that need more than the standard's name. */
const reasonInWords: Readonly<Record<number, string>> = {
  // CONNACK return codes of MQTT 3.1.1 (section 3.2.2.3)
  0x01: "the broker does not speak this version of MQTT",
  0x02: "the broker refuses the client id",
  0x03: "the broker is not available",
  0x04: "the broker refuses the user name or the password",
  0x05: "the broker does not authorise this user, or the password is wrong",
  // MQTT 5
  0x80: "unspecified error",
  0x81: "malformed packet",
  0x82: "protocol error",
  0x83: "the broker refuses the packet for reasons of its own",
  0x84: "the broker does not speak this version of MQTT",
  0x85: "the broker refuses the client id",
  0x86: "the broker refuses the user name or the password",
  0x87: "the broker does not authorise this user, or the password is wrong",
  0x88: "the broker is not available",
  0x89: "the broker is busy",
  0x8a: "the broker has banned this client",
  0x8b: "the broker is shutting down",
  0x8c: "the broker asks for another way of authentication",
  0x8d: "the broker heard nothing for 1.5 times the keepalive",
  0x8e: "another client has connected with the same client id (session taken over)",
  0x8f: "the topic filter is not accepted",
  0x90: "the topic name is not accepted",
  0x91: "the packet identifier is in use",
  0x92: "the packet identifier is unknown",
  0x93: "more messages in flight than the broker allows",
  0x94: "topic alias not valid",
  0x95: "the packet is larger than allowed",
  0x96: "more messages in a time than the broker allows",
  0x97: "a quota is exceeded",
  0x98: "an administrator has ended the connection",
  0x99: "the payload has another format than announced",
  0x9a: "the broker does not keep retained messages",
  0x9b: "the broker does not support this quality of service",
  0x9c: "the broker asks to use another server for now",
  0x9d: "the broker has moved to another server",
  0x9e: "the broker does not support shared subscriptions",
  0x9f: "more connections in a time than the broker allows",
  0xa0: "the longest connection time is over",
  0xa1: "the broker does not support subscription identifiers",
  0xa2: "the broker does not support wildcard subscriptions",
};

export function reasonCodeInWords(code: number): string {
  const hex = `0x${code.toString(16).toUpperCase().padStart(2, "0")}`;
  return `${reasonInWords[code] ?? "reason unknown to this program"} (${hex})`;
}

const faultInWords: Readonly<Record<string, string>> = {
  ECONNREFUSED: "nothing listens there (connection refused)",
  ECONNRESET: "the connection was reset",
  EPIPE: "the connection was closed while writing",
  ETIMEDOUT: "no answer from the host",
  EHOSTUNREACH: "the host cannot be reached",
  ENETUNREACH: "the network cannot be reached",
  ENOTFOUND: "the host name is unknown",
  EAI_AGAIN: "the name service does not answer",
  SELF_SIGNED_CERT_IN_CHAIN: "the broker's certificate comes from an authority that is not trusted",
  DEPTH_ZERO_SELF_SIGNED_CERT: "the broker's certificate is self-signed and not trusted",
  UNABLE_TO_VERIFY_LEAF_SIGNATURE: "the broker's certificate comes from an authority that is not trusted",
  UNABLE_TO_GET_ISSUER_CERT_LOCALLY: "the broker's certificate comes from an authority that is not trusted",
  CERT_HAS_EXPIRED: "the broker's certificate has expired",
  CERT_NOT_YET_VALID: "the broker's certificate is not valid yet: is the clock right?",
  ERR_TLS_CERT_ALTNAME_INVALID: "the broker's certificate was made for another host name",
  ERR_SSL_TLSV13_ALERT_CERTIFICATE_REQUIRED: "the broker asks for a client certificate",
  ERR_SSL_SSLV3_ALERT_HANDSHAKE_FAILURE: "the TLS handshake failed: is a client certificate needed?",
  ERR_SSL_TLSV1_ALERT_UNKNOWN_CA: "the broker does not trust our client certificate",
  ERR_SSL_WRONG_VERSION_NUMBER: "the broker does not speak TLS on this port",
};

/** Messages of the MQTT client that carry no code. */
const messageInWords: Readonly<Record<string, string>> = {
  "connack timeout": "the broker accepts the connection but does not answer",
  "Keepalive timeout": "the broker did not answer the keepalive",
};

/** A foreign error's string code, as Node puts on errors of the network and of TLS. */
function codeOf(error: unknown): string | undefined {
  if (!(error instanceof Error)) return undefined;
  if ("code" in error && typeof error.code === "string") return error.code;
  if (error instanceof AggregateError && error.errors.length > 0) return codeOf(error.errors[0]);
  return undefined;
}

/** A network, TLS or MQTT error in words that a person can act on. */
export function errorInWords(error: unknown): string {
  if (error instanceof Error && "code" in error && typeof error.code === "number") {
    return reasonCodeInWords(error.code);
  }
  const code = codeOf(error);
  if (code !== undefined) return faultInWords[code] ?? `network error ${code}`;
  const message = error instanceof Error ? error.message : String(error);
  return messageInWords[message] ?? message;
}

/** True for a fault of TLS itself, which another version of MQTT would not heal. */
export function isTlsFault(error: unknown): boolean {
  const code = codeOf(error);
  return code !== undefined && /SSL|TLS|CERT|SIGNATURE|ISSUER/.test(code);
}
