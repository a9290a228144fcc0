import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { payloadOf, readPayload, textPayload } from "../../../../lib/hub/homie-payload.js";
import type { PropertyForm, PropertyValue } from "../../../../lib/hub/property.js";
import { homieFault } from "../../../support/homie-rules.js";

/** The headings are those of the Homie convention, version 5. */
const integer: PropertyForm = { kind: "integer", minimum: 0, maximum: 720 };
const float: PropertyForm = { kind: "float", minimum: 0.1, maximum: 40 };
const open: PropertyForm = { kind: "float" };

describe("payloads that are published", () => {
  const rows: readonly (readonly [
    form: PropertyForm,
    value: PropertyValue,
    payload: string,
    because: string,
  ])[] = [
    [open, 21.5, "21.5", "Float: the dot is the decimal separator"],
    [open, 1e21, "1e21", "Float: of signs only the negation is permitted"],
    [open, 1e-7, "1e-7", "Float: the exponent character is permitted"],
    [open, -0, "0", "Float: nobody reads a negated nought"],
    [integer, 30, "30", "Integer: whole numbers only"],
    [
      { kind: "boolean", words: ["no", "yes"] },
      true,
      "true",
      "Formats: the words describe, they are no payloads",
    ],
    [{ kind: "enum", values: ["in target"] }, "in target", "in target", "Enum: as the format has it"],
    [
      { kind: "string" },
      "",
      "\0",
      "Empty string values: one byte of value 0, since nothing deletes the topic",
    ],
    [{ kind: "string" }, "\uFEFFdosing", "dosing", "Payloads: no BOM"],
    [{ kind: "datetime" }, Date.UTC(2026, 4, 1, 18, 0, 5), "2026-05-01T18:00:05Z", "DateTime: ISO 8601"],
    [{ kind: "json" }, [{ id: "clock" }], '[{"id":"clock"}]', "JSON: a list or an object"],
  ];
  for (const [form, value, payload, because] of rows) {
    it(`${because}: ${JSON.stringify(payload)}`, () => expect(payloadOf(form, value)).toBe(payload));
  }

  it("Float: every finite number is one in the eyes of a reader of the convention, and reads back as itself", () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (value) => {
        const payload = payloadOf(open, value);
        expect(homieFault({ datatype: "float" }, payload)).toBeUndefined();
        expect(Number(payload)).toBe(value === 0 ? 0 : value);
      }),
    );
  });
});

describe("payloads that are set", () => {
  const taken: readonly (readonly [PropertyForm, string, PropertyValue])[] = [
    [integer, "0", 0],
    [integer, "720", 720],
    [integer, "030", 30],
    [float, "4.5", 4.5],
    [float, "45e-1", 4.5],
    [{ kind: "boolean", words: ["no", "yes"] }, "false", false],
    [{ kind: "enum", values: ["blue", "green"] }, "green", "green"],
    [{ kind: "string" }, "\0", ""],
  ];
  for (const [form, text, value] of taken) {
    it(`are taken: ${JSON.stringify(text)} for ${form.kind}`, () =>
      expect(readPayload(form, text)).toEqual({ kind: "value", value }));
  }

  const refused: readonly (readonly [form: PropertyForm, text: string, because: string])[] = [
    [integer, "", "Integer: an empty string is not a valid payload"],
    [integer, "-", "Integer: just a negation sign is not a valid payload"],
    [integer, "1.0", "Integer: only whole numbers"],
    [integer, " 1", "Integer: no spaces"],
    [integer, "+1", "Integer: no other characters"],
    [integer, "0x10", "Integer: no other characters"],
    [{ kind: "integer" }, "9223372036854775808", "Integer: at most 2^63-1"],
    [integer, "721", "Formats: above the maximum"],
    [integer, "-1", "Formats: below the minimum"],
    [float, "", "Float: an empty string is not a valid payload"],
    [float, "NaN", "Float: NaN is not a valid payload"],
    [open, "Infinity", "Float: Infinity is not a valid payload"],
    [open, "1e999", "Float: beyond the range of 64 bits"],
    [float, "4,5", "Float: the dot is the decimal separator"],
    [float, "4.5.1", "Float: a single dot"],
    [float, "-", "Float: just a negation sign is not a valid payload"],
    [float, "40.1", "Formats: above the maximum"],
    [{ kind: "boolean", words: ["no", "yes"] }, "TRUE", "Boolean: case sensitive"],
    [{ kind: "boolean", words: ["no", "yes"] }, "yes", "Formats: the words are no payloads"],
    [{ kind: "enum", values: ["blue", "green"] }, "Blue", "Enum: case sensitive"],
    [{ kind: "enum", values: ["blue", "green"] }, " blue", "Enum: whitespace is significant"],
    [{ kind: "enum", values: ["blue", "green"] }, "", "Enum: an empty string is not a valid payload"],
    [{ kind: "datetime" }, "2026-05-01T18:00:05Z", "nothing of the kind is settable here"],
  ];
  for (const [form, text, because] of refused) {
    it(`${because}: ${JSON.stringify(text)} is refused`, () =>
      expect(readPayload(form, text).kind).toBe("invalid"));
  }

  it("never throw, whatever comes", () => {
    const forms = [integer, float, open, { kind: "string" }, { kind: "json" }] as const;
    fc.assert(
      fc.property(fc.string({ unit: "binary" }), fc.constantFrom(...forms), (text, form) => {
        const read = readPayload(form, text);
        if (read.kind === "value" && typeof read.value === "number") expect(read.value).toBe(Number(text));
      }),
    );
  });

  it("come back as they were, but for a BOM", () => {
    fc.assert(
      fc.property(fc.string(), (text) => {
        const read = readPayload({ kind: "string" }, textPayload(text));
        expect(read).toEqual({ kind: "value", value: text === "\0" ? "" : text.replace(/^\uFEFF+/, "") });
      }),
    );
  });
});
