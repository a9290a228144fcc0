import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { decodeRelayState, decodeSensorPayload } from "../../daemon/mqtt/payload-codec.js";
import { compileSelector, type ValueSelector } from "../../daemon/mqtt/value-selector.js";

const seed = 20_260_301;
const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);

const selectorTexts = [
  undefined,
  "$",
  "$.ph",
  "$..ph",
  "$[0]",
  "$.*",
  "/ph",
  "/0/ph",
  "$[?@.ph > 1].ph",
] as const;
const selectors: readonly ValueSelector[] = selectorTexts.map((text) => {
  const compiled = compileSelector(text);
  if (compiled.kind === "invalid") throw new Error(compiled.reason);
  return compiled;
});
const anySelector = fc.constantFrom(...selectors);
const pointerToAt = compileSelector("/at");

/** What breaks a payload on its way: noise, text, JSON of any shape, and JSON cut short or with bytes changed. */
const anyPayload = fc.oneof(
  fc.uint8Array({ maxLength: 300 }),
  fc.string({ unit: "binary", maxLength: 200 }).map(bytes),
  fc.json({ maxDepth: 8 }).map(bytes),
  fc.tuple(fc.json(), fc.nat()).map(([json, cut]) => bytes(json.slice(0, cut % (json.length + 1)))),
  fc.tuple(fc.json({ maxDepth: 4 }), fc.nat(), fc.nat(255)).map(([json, at, value]) => {
    const changed = bytes(json);
    changed[at % changed.length] = value;
    return changed;
  }),
  fc
    .tuple(
      fc.constantFrom("[", "{", '"', "\\", '{"ph":', "-", "1e", "\0", "\u{feff}"),
      fc.integer({ min: 1, max: 5000 }),
    )
    .map(([piece, count]) => bytes(piece.repeat(count))),
  fc
    .tuple(fc.double(), fc.constantFrom(" pH", "°C", ",5", "e", "%", " bar", "\n7"))
    .map(([number, unit]) => bytes(`${number}${unit}`)),
);

describe("a sensor payload of any kind", () => {
  it("is a finite number or is refused with a short reason, and never crashes", () => {
    const seen = new Set<string>();
    fc.assert(
      fc.property(anyPayload, anySelector, (payload, selector) => {
        const decoded = decodeSensorPayload(payload, selector);
        seen.add(decoded.kind);
        if (decoded.kind === "value") {
          expect(Number.isFinite(decoded.value)).toBe(true);
        } else {
          expect(decoded.detail.length).toBeGreaterThan(5);
          expect(decoded.detail.length).toBeLessThanOrEqual(200);
          expect(decoded.detail).not.toMatch(/[\0-\x1f]/);
        }
      }),
      { seed, numRuns: 2_000 },
    );
    // The generator reaches every outcome, so that none of the above holds for want of a case.
    expect(seen).toEqual(new Set(["value", "undecodable", "not a number"]));
  });

  it("yields exactly the number that was written into it, bare, in JSON and as a JSON string", () => {
    const number = fc.double({ noNaN: true, noDefaultInfinity: true });
    fc.assert(
      fc.property(number, (value) => {
        const path = compileSelector("$.ph");
        if (path.kind !== "jsonPath" || selectors[0] === undefined) throw new Error("not compiled");
        const expected = { kind: "value", value: value === 0 ? 0 : value };
        const read = (decoded: ReturnType<typeof decodeSensorPayload>): unknown =>
          decoded.kind === "value" ? { ...decoded, value: decoded.value === 0 ? 0 : decoded.value } : decoded;
        expect(read(decodeSensorPayload(bytes(` ${value}\n`), selectors[0]))).toEqual(expected);
        expect(read(decodeSensorPayload(bytes(JSON.stringify({ ph: value })), path))).toEqual(expected);
        expect(read(decodeSensorPayload(bytes(JSON.stringify({ ph: String(value) })), path))).toEqual(
          expected,
        );
      }),
      { seed, numRuns: 500 },
    );
  });

  it("has its timestamp within 2001 and 2100 or is refused", () => {
    if (pointerToAt.kind !== "pointer") throw new Error("not compiled");
    const path = compileSelector("$.ph");
    if (path.kind !== "jsonPath") throw new Error("not compiled");
    const stamp = fc.oneof(
      fc.double(),
      fc.integer(),
      fc.date({ noInvalidDate: true }).map((date) => date.toISOString()),
      fc.string(),
      fc.jsonValue(),
    );
    fc.assert(
      fc.property(stamp, (at) => {
        const decoded = decodeSensorPayload(bytes(JSON.stringify({ ph: 7, at })), path, pointerToAt);
        if (decoded.kind !== "value") return;
        expect(decoded.measuredAt_epochMs).toBeGreaterThanOrEqual(Date.UTC(2001, 0));
        expect(decoded.measuredAt_epochMs).toBeLessThan(Date.UTC(2100, 0));
      }),
      { seed, numRuns: 1_000 },
    );
  });
});

describe("a relay's payload of any kind", () => {
  it("is on or off only when it says exactly so", () => {
    const states = { stateOn: "ON", stateOff: "OFF" };
    const payload = fc.oneof(anyPayload, fc.constantFrom("ON", "OFF", "on", "ONOFF", '"ON"').map(bytes));
    fc.assert(
      fc.property(payload, anySelector, (raw, selector) => {
        const decoded = decodeRelayState(raw, selector, states);
        if (decoded.kind === "undecodable") expect(decoded.detail.length).toBeGreaterThan(5);
        else expect(new TextDecoder().decode(raw)).toContain(decoded.kind === "on" ? "ON" : "OFF");
      }),
      { seed, numRuns: 2_000 },
    );
  });
});
