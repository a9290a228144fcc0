import { describe, expect, it } from "vitest";
import { errorInWords, isTlsFault, reasonCodeInWords } from "../../../../daemon/mqtt/fault-in-words.js";

const coded = (code: string | number, message = "raw text"): Error =>
  Object.assign(new Error(message), { code });

describe("a fault in words", () => {
  // Codes: OASIS MQTT 5.0, tables 3-1 and 3-13; OASIS MQTT 3.1.1, table 3.1.
  it.each([
    { code: 0x8e, says: "session taken over" },
    { code: 0x86, says: "user name or the password" },
    { code: 0x87, says: "not authorise" },
    { code: 0x84, says: "version of MQTT" },
    { code: 0x8b, says: "shutting down" },
    { code: 0x95, says: "larger than allowed" },
    { code: 0x01, says: "version of MQTT" },
    { code: 0x05, says: "not authorise" },
    { code: 0xee, says: "unknown" },
  ])("names reason code $code", ({ code, says }) => {
    expect(reasonCodeInWords(code)).toContain(says);
    expect(errorInWords(coded(code))).toBe(reasonCodeInWords(code));
  });

  it.each([
    { code: "ECONNREFUSED", says: "nothing listens there" },
    { code: "ENOTFOUND", says: "host name is unknown" },
    { code: "CERT_HAS_EXPIRED", says: "has expired" },
    { code: "EWHATEVER", says: "EWHATEVER" },
  ])("names the network error $code", ({ code, says }) => {
    expect(errorInWords(coded(code))).toContain(says);
  });

  it("looks into the errors of a host with several addresses", () => {
    expect(errorInWords(new AggregateError([coded("ECONNREFUSED")]))).toContain("nothing listens there");
  });

  it("tells faults of TLS from those of the network", () => {
    expect(isTlsFault(coded("ERR_SSL_WRONG_VERSION_NUMBER"))).toBe(true);
    expect(isTlsFault(coded("DEPTH_ZERO_SELF_SIGNED_CERT"))).toBe(true);
    expect(isTlsFault(coded("ECONNRESET"))).toBe(false);
    expect(isTlsFault(coded(0x84))).toBe(false);
  });
});
