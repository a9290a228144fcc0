import { describe, expect, it } from "vitest";
import {
  decodeRelayState,
  decodeSensorPayload,
  LARGEST_PAYLOAD_BYTES,
} from "../../../../daemon/mqtt/payload-codec.js";
import { compileSelector, type ValueSelector } from "../../../../daemon/mqtt/value-selector.js";

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);

function selector(text?: string): ValueSelector {
  const compiled = compileSelector(text);
  if (compiled.kind === "invalid") throw new Error(compiled.reason);
  return compiled;
}

function timestamp(text: string): Exclude<ValueSelector, { kind: "bare" }> {
  const compiled = selector(text);
  if (compiled.kind === "bare") throw new Error("a timestamp needs a path");
  return compiled;
}

describe("a bare number", () => {
  it.each([
    { payload: "6.82", value: 6.82, because: "plain" },
    { payload: " 6.82\n", value: 6.82, because: "white space around it" },
    { payload: "6.82 ", value: 6.82, because: "white space behind it" },
    { payload: "\u{feff}6.82", value: 6.82, because: "a byte order mark in front" },
    { payload: "-3", value: -3, because: "a sign" },
    { payload: "+3.5", value: 3.5, because: "a plus sign" },
    { payload: ".5", value: 0.5, because: "no leading zero" },
    { payload: "7.", value: 7, because: "no decimals behind the point" },
    { payload: "1.013e3", value: 1013, because: "an exponent" },
    { payload: "0", value: 0, because: "zero is a value" },
  ])("$payload is $value ($because)", ({ payload, value }) => {
    expect(decodeSensorPayload(bytes(payload), selector())).toEqual({ kind: "value", value });
  });

  it.each([
    { payload: "6,82", says: "decimal point", because: "a decimal comma" },
    { payload: "nan", says: '"nan"', because: "what a broken probe sends" },
    { payload: "NaN", says: "not a number", because: "the same in JavaScript" },
    { payload: "Infinity", says: "not a number", because: "not finite" },
    { payload: "inf", says: "not a number", because: "not finite in C" },
    { payload: "1e999", says: "not a number", because: "overflows to infinity" },
    { payload: "0x1A", says: "not a number", because: "hexadecimal" },
    { payload: "0b1", says: "not a number", because: "binary" },
    { payload: "1_000", says: "not a number", because: "a separator" },
    { payload: "6.82 pH", says: "only the number itself", because: "a unit behind it" },
    { payload: "6.82pH", says: "only the number itself", because: "a unit glued to it" },
    { payload: "6.82 7.01", says: "not a number", because: "two numbers" },
    { payload: "6.8.2", says: "not a number", because: "two points" },
    { payload: "--5", says: "not a number", because: "two signs" },
    { payload: "true", says: "not a number", because: "a word" },
    { payload: '{"ph": 6.8}', says: "JSONPath", because: "JSON without a selector" },
    { payload: '"6.8"', says: "JSONPath $", because: "a JSON string without a selector" },
    { payload: "1".repeat(400), says: "not a number", because: "no sensor sends 400 digits" },
  ])("is not $payload ($because)", ({ payload, says }) => {
    const decoded = decodeSensorPayload(bytes(payload), selector());
    expect(decoded.kind).toBe("not a number");
    expect("detail" in decoded && decoded.detail).toContain(says);
  });

  it.each([
    { payload: bytes(""), says: "empty", because: "nothing came" },
    { payload: bytes(" \n"), says: "empty", because: "only white space came" },
    { payload: Uint8Array.of(0x36, 0xff, 0xfe), says: "UTF-8", because: "bytes that are no text" },
    { payload: Uint8Array.of(0xc0, 0xb6), says: "UTF-8", because: "an overlong form of the digit 6" },
    { payload: new Uint8Array(10_000_000).fill(0x31), says: "10000000 bytes", because: "10 MB" },
    {
      payload: new Uint8Array(LARGEST_PAYLOAD_BYTES + 1).fill(0x31),
      says: "at most",
      because: "a byte too many",
    },
  ])("cannot be read when $because", ({ payload, says }) => {
    const decoded = decodeSensorPayload(payload, selector());
    expect(decoded.kind).toBe("undecodable");
    expect("detail" in decoded && decoded.detail).toContain(says);
  });
});

describe("a number in JSON", () => {
  it.each([
    { path: "$", payload: "6.82", value: 6.82 },
    { path: "$", payload: '"6.82"', value: 6.82 },
    { path: "$.gauge.reading", payload: '{"gauge": {"reading": 41.5}}', value: 41.5 },
    { path: "$.gauge.reading", payload: '{"gauge": {"reading": " 41.5 "}}', value: 41.5 },
    { path: "$['a b'][0]", payload: '{"a b": [1.5, 2]}', value: 1.5 },
    { path: "$.values[-1]", payload: '{"values": [1, 2, 3]}', value: 3 },
    {
      path: "$[?@.name == 'ph'].value",
      payload: '[{"name":"t","value":24},{"name":"ph","value":6.9}]',
      value: 6.9,
    },
    { path: "$..ph", payload: '{"probe": {"ph": 7}}', value: 7 },
    { path: "/ambient/f", payload: '{"ambient": {"f": 68.5}}', value: 68.5 },
    { path: "/values/1", payload: '{"values": [1, 2]}', value: 2 },
    { path: "/__proto__", payload: '{"__proto__": 5}', value: 5 },
  ])("is found at $path in $payload", ({ path, payload, value }) => {
    expect(decodeSensorPayload(bytes(payload), selector(path))).toEqual({ kind: "value", value });
  });

  it.each([
    { path: "$.ph", payload: '{"ph": true}', says: "true is not a number" },
    { path: "$.ph", payload: '{"ph": null}', says: "null is not a number" },
    { path: "$.ph", payload: '{"ph": [6.8]}', says: "an array is not a number" },
    { path: "$.ph", payload: '{"ph": {"v": 6.8}}', says: "an object is not a number" },
    { path: "$.ph", payload: '{"ph": "6,8"}', says: "decimal point" },
    { path: "$.ph", payload: '{"ph": ""}', says: "not a number" },
    { path: "$.ph", payload: '{"ph": 1e999}', says: "not a number" },
  ])("is not what stands at $path in $payload", ({ path, payload, says }) => {
    const decoded = decodeSensorPayload(bytes(payload), selector(path));
    expect(decoded.kind).toBe("not a number");
    expect("detail" in decoded && decoded.detail).toContain(says);
  });

  it.each([
    { path: "$.ph", payload: '{"PH": 6.8}', says: "nothing at $.ph" },
    { path: "$.*", payload: '{"a": 1, "b": 2}', says: "several values" },
    { path: "$..ph", payload: '{"ph": 7, "probe": {"ph": 7}}', says: "several values" },
    { path: "/ph", payload: "[]", says: "nothing at /ph" },
    { path: "/values/01", payload: '{"values": [1, 2]}', says: "nothing at" },
    { path: "/values/-", payload: '{"values": [1, 2]}', says: "nothing at" },
    { path: "/values/length", payload: '{"values": [1, 2]}', says: "nothing at" },
    { path: "/ph/length", payload: '{"ph": "6.8"}', says: "nothing at" },
    { path: "/constructor/length", payload: "{}", says: "nothing at" },
    { path: "/__proto__/length", payload: "{}", says: "nothing at" },
    { path: "$.__proto__.ph", payload: "{}", says: "nothing at" },
    { path: "$.ph", payload: '{"__proto__": {"ph": 6.8}}', says: "nothing at" },
    { path: "$.ph", payload: '{"ph": 6.8', says: "not JSON" },
    { path: "$.ph", payload: "{'ph': 6.8}", says: "not JSON" },
    { path: "$.ph", payload: '{"ph": NaN}', says: "not JSON" },
    { path: "$.ph", payload: '{"ph": 06.8}', says: "not JSON" },
    { path: "$..ph", payload: `${"[".repeat(100_000)}${"]".repeat(100_000)}`, says: "deeper than 64" },
    { path: "$..ph", payload: `${'{"a":'.repeat(65)}1${"}".repeat(65)}`, says: "deeper than 64" },
  ])("is not to be had from $path in a payload like $payload", ({ path, payload, says }) => {
    const decoded = decodeSensorPayload(bytes(payload), selector(path));
    expect(decoded.kind).toBe("undecodable");
    expect("detail" in decoded && decoded.detail).toContain(says);
  });

  it("does not mistake brackets in a text for nesting", () => {
    const payload = JSON.stringify({ note: `${"[{".repeat(200)}\\"`, ph: 6.8 });
    expect(decodeSensorPayload(bytes(payload), selector("$.ph"))).toEqual({ kind: "value", value: 6.8 });
  });

  it("never quotes more of a payload than fits in a log line", () => {
    const secret = "x".repeat(5_000);
    const decoded = decodeSensorPayload(bytes(JSON.stringify({ ph: secret })), selector("$.ph"));
    expect("detail" in decoded && decoded.detail.length).toBeLessThanOrEqual(200);
  });
});

describe("a timestamp in the payload", () => {
  const at = "2026-03-01T18:30:00Z";
  // Unix time of 2026-03-01T18:30:00Z by `date -u -d 2026-03-01T18:30:00Z +%s` (GNU coreutils).
  const at_epochMs = 1_772_389_800_000;

  it.each([
    { stamp: `"${at}"`, because: "ISO 8601 in UTC" },
    { stamp: '"2026-03-01T19:30:00+01:00"', because: "an offset east" },
    { stamp: '"2026-03-01T13:00:00-0530"', because: "an offset west without a colon" },
    { stamp: '"2026-03-01T18:30Z"', because: "no seconds" },
    { stamp: "1772389800", because: "Unix seconds" },
    { stamp: "1772389800000", because: "Unix milliseconds" },
    { stamp: '"1772389800"', because: "Unix seconds as a string" },
    { stamp: "1772389800.0", because: "Unix seconds with decimals" },
  ])("is read from $stamp ($because)", ({ stamp }) => {
    const payload = bytes(`{"v": 1, "at": ${stamp}}`);
    expect(decodeSensorPayload(payload, selector("$.v"), timestamp("/at"))).toEqual({
      kind: "value",
      value: 1,
      measuredAt_epochMs: at_epochMs,
    });
  });

  it("keeps the milliseconds", () => {
    const payload = bytes('{"v": 1, "at": "2026-03-01T18:30:00.250Z"}');
    const decoded = decodeSensorPayload(payload, selector("$.v"), timestamp("$.at"));
    expect(decoded).toMatchObject({ measuredAt_epochMs: at_epochMs + 250 });
  });

  it.each([
    { stamp: '"2026-03-01T18:30:00"', because: "without an offset the zone is a guess" },
    { stamp: '"2026-03-01"', because: "a day is no instant" },
    { stamp: '"2026-02-30T18:30:00Z"', because: "there is no 30 February" },
    { stamp: '"2026-03-01T24:30:00Z"', because: "there is no hour 24" },
    { stamp: '"01/03/2026 18:30"', because: "neither order of day and month is sure" },
    { stamp: "86400", because: "1970: the device has lost its clock" },
    { stamp: '"1970-01-01T00:10:00Z"', because: "1970: the device has lost its clock" },
    { stamp: "-1", because: "before 1970" },
    { stamp: "true", because: "not a time" },
    { stamp: "null", because: "not a time" },
  ])("makes the payload undecodable when it is $stamp: $because", ({ stamp }) => {
    const payload = bytes(`{"v": 1, "at": ${stamp}}`);
    expect(decodeSensorPayload(payload, selector("$.v"), timestamp("/at")).kind).toBe("undecodable");
  });

  it("makes the payload undecodable when it is promised and missing", () => {
    const decoded = decodeSensorPayload(bytes('{"v": 1}'), selector("$.v"), timestamp("/at"));
    expect(decoded).toEqual({
      kind: "undecodable",
      detail: "no timestamp: the payload holds nothing at /at",
    });
  });
});

describe("a selector", () => {
  // RFC 6901, section 5: the document and every pointer of its table that is not the whole document.
  const rfc6901 = {
    foo: ["bar", "baz"],
    "": 0,
    "a/b": 1,
    "c%d": 2,
    "e^f": 3,
    "g|h": 4,
    "i\\j": 5,
    'k"l': 6,
    " ": 7,
    "m~n": 8,
  };
  it.each([
    { pointer: "/", value: 0 },
    { pointer: "/a~1b", value: 1 },
    { pointer: "/c%d", value: 2 },
    { pointer: "/e^f", value: 3 },
    { pointer: "/g|h", value: 4 },
    { pointer: "/i\\j", value: 5 },
    { pointer: '/k"l', value: 6 },
    { pointer: "/ ", value: 7 },
    { pointer: "/m~0n", value: 8 },
  ])("resolves $pointer as RFC 6901 section 5 does", ({ pointer, value }) => {
    const payload = bytes(JSON.stringify(rfc6901));
    expect(decodeSensorPayload(payload, selector(pointer))).toEqual({ kind: "value", value });
  });

  it("reads ~01 as ~1 and not as a slash, as RFC 6901 section 4 demands", () => {
    expect(decodeSensorPayload(bytes('{"~1": 5, "/": 6}'), selector("/~01"))).toEqual({
      kind: "value",
      value: 5,
    });
  });

  it.each(["", "ph", "$.", "$[", "$.a[?]", "/a~2", "/a~", "@.ph", " $.ph"])("cannot be %j", (text) => {
    const compiled = compileSelector(text);
    expect(compiled.kind).toBe("invalid");
    expect("reason" in compiled && compiled.reason).toMatch(/RFC|begins/);
  });
});

describe("a relay's state", () => {
  const states = { stateOn: "ON", stateOff: "OFF" };

  it.each([
    { payload: "ON", path: undefined, kind: "on" },
    { payload: " OFF\n", path: undefined, kind: "off" },
    { payload: '{"state": "ON"}', path: "$.state", kind: "on" },
    { payload: '{"state": "OFF"}', path: "/state", kind: "off" },
  ])("is $kind for $payload", ({ payload, path, kind }) => {
    expect(decodeRelayState(bytes(payload), selector(path), states)).toEqual({ kind });
  });

  it.each([
    { payload: "true", stateOn: "true", stateOff: "false", kind: "on" },
    { payload: "0", stateOn: "1", stateOff: "0", kind: "off" },
  ])("may be the JSON value $payload", ({ payload, stateOn, stateOff, kind }) => {
    const wrapped = bytes(`{"output": ${payload}}`);
    expect(decodeRelayState(wrapped, selector("$.output"), { stateOn, stateOff })).toEqual({ kind });
  });

  it.each([
    { payload: "on", because: "another spelling may mean another thing" },
    { payload: "", because: "an emptied retained topic is no state" },
    { payload: "ON OFF", because: "both at once" },
    { payload: '{"state": null}', because: "JSON where text was promised" },
  ])("is neither on nor off for $payload: $because", ({ payload }) => {
    const decoded = decodeRelayState(bytes(payload), selector(), states);
    expect(decoded.kind).toBe("undecodable");
    expect("detail" in decoded && decoded.detail).toMatch(/\w/);
  });

  it("is never told when both states are spelt alike", () => {
    expect(decodeRelayState(bytes("X"), selector(), { stateOn: "X", stateOff: "X " }).kind).toBe(
      "undecodable",
    );
  });
});
