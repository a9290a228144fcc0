import { z } from "zod";
import { siteSchema } from "./config-schema.js";

type JsonSchema = z.core.JSONSchema.BaseSchema;

/** What a keeper may write, as JSON Schema 2020-12: editors complete and check by it. */
export function configJsonSchema(): JsonSchema {
  return {
    ...z.toJSONSchema(siteSchema, { io: "input", target: "draft-2020-12" }),
    title: "Configuration of fizzward",
  };
}

export function configJsonSchemaText(): string {
  return `${JSON.stringify(configJsonSchema(), null, 2)}\n`;
}
