import { writeFileSync } from "node:fs";
import { configJsonSchemaText } from "./json-schema.js";

// Run from the folder of the project: node dist/daemon/config/write-json-schema.js
writeFileSync("config/fizzward.schema.json", configJsonSchemaText());
