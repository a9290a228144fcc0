import { Ajv2020 } from "ajv/dist/2020.js";
import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import { configJsonSchema, configJsonSchemaText } from "../../../../daemon/config/json-schema.js";
import { edited, exampleText } from "../../../support/marked-config.js";

const schemaPath = fileURLToPath(new URL("../../../../config/fizzward.schema.json", import.meta.url));

/** An independent judge: a general-purpose JSON Schema validator and a plain YAML reader. */
function accepts(text: string): boolean {
  const ajv = new Ajv2020({ strict: false, validateFormats: false });
  return ajv.validate(configJsonSchema(), parse(text));
}

interface SchemaNode {
  readonly description?: string;
  readonly properties?: Readonly<Record<string, SchemaNode>>;
  readonly additionalProperties?: SchemaNode | boolean;
  readonly items?: SchemaNode;
  readonly prefixItems?: readonly SchemaNode[];
  readonly oneOf?: readonly SchemaNode[];
  readonly anyOf?: readonly SchemaNode[];
  readonly const?: unknown;
}

/** Every key with the place at which it stands, as "tanks.*.lead_min". */
function keysOf(
  node: SchemaNode,
  place = "",
): readonly { readonly place: string; readonly node: SchemaNode }[] {
  const own = Object.entries(node.properties ?? {}).flatMap(([key, child]) => {
    const childPlace = place === "" ? key : `${place}.${key}`;
    return [{ place: childPlace, node: child }, ...keysOf(child, childPlace)];
  });
  const named =
    typeof node.additionalProperties === "object" ? keysOf(node.additionalProperties, `${place}.*`) : [];
  const listed = [...(node.items === undefined ? [] : [node.items]), ...(node.prefixItems ?? [])];
  return [
    ...own,
    ...named,
    ...listed.flatMap((item) => keysOf(item, `${place}[]`)),
    ...[...(node.oneOf ?? []), ...(node.anyOf ?? [])].flatMap((option) => keysOf(option, place)),
  ];
}

function placesIn(value: unknown, schema: SchemaNode, place = ""): readonly string[] {
  if (Array.isArray(value)) return value.flatMap((item) => placesIn(item, schema, `${place}[]`));
  if (typeof value !== "object" || value === null) return [];
  const isNamed = ["sensors", "vessels", "tanks", "valves", "alerts.channels"].includes(place);
  return Object.entries(value).flatMap(([key, child]) => {
    const childPlace = place === "" ? key : `${place}.${isNamed ? "*" : key}`;
    return [childPlace, ...placesIn(child, schema, childPlace)];
  });
}

describe("the JSON Schema in config/", () => {
  it("is the one that the code makes (npm run build, then node dist/daemon/config/write-json-schema.js)", () => {
    expect(readFileSync(schemaPath, "utf8")).toBe(configJsonSchemaText());
  });

  it("accepts the example in the eyes of an independent validator", () => {
    expect(accepts(exampleText)).toBe(true);
  });

  const slips: readonly (readonly [name: string, edit: readonly [string, string]])[] = [
    ["an unknown key", ["lead_min: 90", "lead: 90"]],
    ["a number out of range", ["lead_min: 90", "lead_min: 241"]],
    ["a text for a number", ["lead_min: 90", 'lead_min: "90"']],
    ["a thermometer in psi", ["unit: degF", "unit: psi"]],
    ["a time of 25:00", ['lightsOff: "19:30"', 'lightsOff: "25:00"']],
    ["a topic with a wildcard", ["topic: study/shrimp/ph", "topic: study/+/ph"]],
    ["a name with capitals", ["  loach-bubbles:", "  Loach:"]],
  ];
  for (const [name, edit] of slips) {
    it(`refuses ${name} in the eyes of an independent validator`, () => {
      expect(accepts(edited(exampleText, [edit]))).toBe(false);
    });
  }

  it("explains every key that is not its own explanation", () => {
    const unexplained = keysOf(configJsonSchema() as SchemaNode)
      .filter(({ node }) => node.description === undefined && node.const === undefined)
      .map(({ place }) => place);
    expect(unexplained).toEqual([]);
  });
});

/** What the example says near a key, the first in its section, with its line ends and remark signs taken out. */
function remarkAbout(place: string): string {
  const steps = place.split(".");
  const section = exampleText.indexOf(`\n${steps[0] ?? ""}:`);
  const at = exampleText.indexOf(`${steps.at(-1) ?? ""}: `, section);
  return exampleText.slice(Math.max(section, at - 600), at + 200).replaceAll(/\n *# */g, " ");
}

describe("the example", () => {
  it("shows every key, at its place or once for keys that stand in several", () => {
    const shown = new Set(placesIn(parse(exampleText), {}));
    // These stand behind a # since they exclude another key, or name a file that few have.
    const remarked = [
      "broker.password",
      "page.tokenFile",
      "alerts.channels.*.caFile",
      "valves.*.relay.acceptWithoutAutoOff",
      "vessels.*.charge.citricAcidMonohydrate_g",
      "tanks.*.salinity_gPerKg",
      "tanks.*.dropChecker.timeConstant_h",
    ];
    for (const place of remarked)
      expect(exampleText).toMatch(new RegExp(`# ${place.split(".").at(-1) ?? ""}: `));
    const missing = keysOf(configJsonSchema() as SchemaNode)
      .map(({ place }) => place)
      // The second and third relay have the keys of the first.
      .filter((place) => !/\.(seriesRelay|airPump)\./.test(place))
      .filter((place) => !shown.has(place) && !remarked.includes(place));
    expect([...new Set(missing)]).toEqual([]);
  });

  it("states the range and the default that the schema has", () => {
    interface Ranged extends SchemaNode {
      readonly minimum?: number;
      readonly maximum?: number;
      readonly default?: unknown;
    }
    for (const { place, node } of keysOf(configJsonSchema() as SchemaNode)) {
      const { minimum, maximum, default: preset } = node as Ranged;
      if (minimum === undefined || maximum === undefined || Math.abs(minimum) === 1e6) continue;
      const remark = remarkAbout(place);
      expect(remark, place).toMatch(new RegExp(`(?<![\\d.-])${minimum} to ${maximum}(?![\\d])`));
      if (typeof preset === "number") expect(remark, place).toMatch(new RegExp(`[Dd]efault:? ${preset}\\b`));
    }
  });
});
