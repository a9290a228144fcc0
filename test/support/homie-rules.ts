import { Ajv } from "ajv";
import { z } from "zod";
import type { SeenProperty } from "./homie-controller.js";

const id = z.string().regex(/^[a-z0-9-]+$/);
const text = z.string().min(1);

const propertySchema = z
  .strictObject({
    name: text.exactOptional(),
    datatype: z.enum([
      "integer",
      "float",
      "boolean",
      "string",
      "enum",
      "color",
      "datetime",
      "duration",
      "json",
    ]),
    format: z.string().exactOptional(),
    unit: text.exactOptional(),
    settable: z.boolean().exactOptional(),
    retained: z.boolean().exactOptional(),
  })
  .refine(formatIsValid, { error: "its format" });

/** The tables of "Device Attributes", "Node Attributes" and "Property Attributes" of the convention, written anew. */
export const descriptionSchema = z.strictObject({
  homie: z.string().regex(/^5\.\d+$/),
  version: z.int(),
  nodes: z
    .record(
      id,
      z.strictObject({
        name: text.exactOptional(),
        type: text.exactOptional(),
        properties: z.record(id, propertySchema).exactOptional(),
      }),
    )
    .exactOptional(),
  name: text.exactOptional(),
  type: text.exactOptional(),
  children: z.array(id).exactOptional(),
  root: id.exactOptional(),
  parent: id.exactOptional(),
  extensions: z.array(z.string()).exactOptional(),
});

const integer = /^-?\d+$/;
const float = /^-?\d+(?:\.\d+)?(?:[eE]-?\d+)?$/;

/** "Formats": what the format of a datatype may look like. */
function formatIsValid({ datatype, format }: { datatype: string; format?: string }): boolean {
  switch (datatype) {
    case "integer":
    case "float": {
      if (format === undefined) return true;
      const parts = format.split(":");
      const number = datatype === "integer" ? integer : float;
      const [minimum = "", maximum = "", step] = parts;
      return (
        (parts.length === 2 || parts.length === 3) &&
        [minimum, maximum].every((part) => part === "" || number.test(part)) &&
        (step === undefined || (number.test(step) && Number(step) > 0)) &&
        (minimum === "" || maximum === "" || Number(minimum) <= Number(maximum))
      );
    }
    case "enum": {
      const values = format?.split(",") ?? [""];
      return values.every((value) => value !== "") && new Set(values).size === values.length;
    }
    case "boolean":
      return format === undefined || format.split(",").filter((word) => word !== "").length === 2;
    case "color":
      return (format ?? "").split(",").every((kind) => ["rgb", "hsv", "xyz"].includes(kind));
    case "json":
      return (
        format === undefined ||
        new Ajv({ strict: false }).validateSchema(JSON.parse(format) as object) === true
      );
    default:
      return format === undefined;
  }
}

/** "Payloads": why a payload is none for the property; undefined where it is, or where nothing is published. */
export function homieFault(property: SeenProperty, payload: string | undefined): string | undefined {
  if (payload === undefined) return undefined;
  const { datatype, format } = property;
  const no = (what: string): string => `"${payload.slice(0, 60)}" is no ${what}`;
  const [minimum = "", maximum = ""] = (format ?? ":").split(":");
  const isWithin = (value: number): boolean =>
    (minimum === "" || value >= Number(minimum)) && (maximum === "" || value <= Number(maximum));
  switch (datatype) {
    case "integer":
      return integer.test(payload) && isWithin(Number(payload))
        ? undefined
        : no(`integer of ${format ?? ":"}`);
    case "float":
      return float.test(payload) && Number.isFinite(Number(payload)) && isWithin(Number(payload))
        ? undefined
        : no(`float of ${format ?? ":"}`);
    case "boolean":
      return payload === "true" || payload === "false" ? undefined : no("boolean");
    case "enum":
      return (format ?? "").split(",").includes(payload) ? undefined : no(`one of ${format ?? ""}`);
    case "datetime":
      return z.iso.datetime({ offset: true }).safeParse(payload).success ? undefined : no("ISO 8601 instant");
    case "duration":
      return /^PT(?=\d)(?:\d+H)?(?:\d+M)?(?:\d+S)?$/.test(payload) ? undefined : no("duration");
    case "json":
      return isListOrObject(payload) ? undefined : no("list or object of JSON");
    case "string":
      return undefined;
    default:
      return no(datatype);
  }
}

function isListOrObject(payload: string): boolean {
  try {
    const parsed: unknown = JSON.parse(payload);
    return typeof parsed === "object" && parsed !== null;
  } catch {
    return false;
  }
}
