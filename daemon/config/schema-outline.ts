import type { z } from "zod";
import type { KeyPath } from "./config-faults.js";
import { configJsonSchema } from "./json-schema.js";

type JsonSchema = z.core.JSONSchema.BaseSchema;

/** Which keys the schema knows, and where: read from its own JSON Schema, so that it cannot fall behind. */
export interface SchemaOutline {
  /** The keys of the group at a path. `textAt` gives the text at a path of the file, to tell kinds of sensor apart. */
  keysAt(path: KeyPath, textAt: (path: KeyPath) => string | undefined): readonly string[];
  /** All places that a key has, as `tanks.<name>.lead_min`. */
  placesOf(key: string): readonly string[];
  /** The values of `discriminator` for which the group at the path has the key. */
  kindsWith(
    path: KeyPath,
    key: string,
  ): readonly { readonly discriminator: string; readonly value: string }[];
}

let outline: SchemaOutline | undefined;

export function schemaOutline(): SchemaOutline {
  outline ??= createSchemaOutline(configJsonSchema());
  return outline;
}

const discriminators = ["measures", "kind"] as const;

function createSchemaOutline(root: JsonSchema): SchemaOutline {
  const places = new Map<string, string[]>();
  collectPlaces(root, "", places);

  function optionsAt(path: KeyPath): readonly JsonSchema[] {
    return path.reduce<readonly JsonSchema[]>(
      (nodes, step) => nodes.flatMap((node) => stepInto(node, step)),
      alternatives(root),
    );
  }

  return {
    keysAt(path, textAt) {
      const options = optionsAt(path).filter((option) => option.properties !== undefined);
      const matching = options.filter((option) =>
        discriminators.every((name) => {
          const constant = constantOf(option, name);
          return constant === undefined || constant === textAt([...path, name]);
        }),
      );
      const chosen = matching.length > 0 ? matching : options;
      return [...new Set(chosen.flatMap((option) => Object.keys(option.properties ?? {})))];
    },
    placesOf(key) {
      return places.get(key) ?? [];
    },
    kindsWith(path, key) {
      return optionsAt(path).flatMap((option) => {
        if (option.properties === undefined || !Object.hasOwn(option.properties, key)) return [];
        return discriminators.flatMap((discriminator) => {
          const value = constantOf(option, discriminator);
          return value === undefined ? [] : [{ discriminator, value }];
        });
      });
    },
  };
}

function stepInto(node: JsonSchema, step: string | number): readonly JsonSchema[] {
  if (typeof step === "number") {
    const { items, prefixItems } = node;
    const item = prefixItems?.[step] ?? (Array.isArray(items) ? items[step] : items);
    return alternatives(item);
  }
  const properties = node.properties ?? {};
  return alternatives(Object.hasOwn(properties, step) ? properties[step] : node.additionalProperties);
}

function alternatives(node: unknown): readonly JsonSchema[] {
  if (typeof node !== "object" || node === null) return [];
  const schema = node as JsonSchema;
  return [schema, ...(schema.oneOf ?? []), ...(schema.anyOf ?? [])].flatMap((option) =>
    option === schema ? [schema] : alternatives(option),
  );
}

function constantOf(option: JsonSchema, name: string): string | undefined {
  const property = option.properties?.[name];
  return typeof property === "object" && typeof property.const === "string" ? property.const : undefined;
}

function collectPlaces(node: JsonSchema, place: string, places: Map<string, string[]>): void {
  for (const option of alternatives(node)) {
    for (const [key, child] of Object.entries(option.properties ?? {})) {
      const childPlace = place === "" ? key : `${place}.${key}`;
      const known = places.get(key) ?? [];
      if (!known.includes(childPlace)) places.set(key, [...known, childPlace]);
      if (typeof child === "object") collectPlaces(child, childPlace, places);
    }
    if (typeof option.additionalProperties === "object") {
      collectPlaces(option.additionalProperties, `${place}.<name>`, places);
    }
    const items = [option.items, ...(option.prefixItems ?? [])].flat();
    for (const item of items) if (typeof item === "object") collectPlaces(item, `${place}[]`, places);
  }
}
