import { readFile, stat } from "node:fs/promises";
import type { SecretFileReader } from "./secret-reading.js";

/** Reads a file that the config names from this machine. */
export const readSecretFile: SecretFileReader = async (path) => ({
  text: await readFile(path, "utf8"),
  mode: (await stat(path)).mode,
});
