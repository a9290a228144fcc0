import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";

const lib = fileURLToPath(new URL("../../lib/", import.meta.url));
const references = readFileSync(join(lib, "REFERENCES.md"), "utf8");
const listed = [...references.matchAll(/^- \[(\w+)\]/gm)].map(([, key]) => key!);
const sources = readdirSync(lib, { recursive: true, encoding: "utf8" })
  .filter((name) => name.endsWith(".ts"))
  .map((name) => ({ name, text: readFileSync(join(lib, name), "utf8") }));
/** A key is an author and a year, as [PlummerBusenberg1982], or a named database, as [IANAtz]. */
const cited = sources.flatMap(({ name, text }) =>
  [...text.matchAll(/\[([A-Z]\w*(?:\d{3,4}[a-z]?|tz))\]/g)].map(([, key]) => ({ name, key: key! })),
);

describe("the references of lib/", () => {
  it("has an entry for every key that a docstring cites", () => {
    expect(cited.filter(({ key }) => !listed.includes(key))).toEqual([]);
    expect(cited.length).toBeGreaterThan(20);
  });

  it("lists no work that nobody cites, and none twice", () => {
    const known = new Set(cited.map(({ key }) => key));
    expect(listed.filter((key) => !known.has(key))).toEqual([]);
    expect(listed.filter((key, index) => listed.indexOf(key) !== index)).toEqual([]);
  });
});
