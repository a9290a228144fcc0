import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { root, textOf } from "../support/documented-commands.js";

/** As the sources give an alarm its id: in a condition, in a constant, by a function, or as the key of what is watched. */
const idsInSources = [
  /alarmId(?:: | = )[`"]([a-z][a-z0-9-]*)/gi,
  /return `([a-z][a-z0-9-]*)\/\$\{vesselId\}`/g,
  /^ {2}"([a-z-]+)": (?:\{|freshCharge)/gm,
] as const;

function kindsRaised(): ReadonlySet<string> {
  const texts = readdirSync(join(root, "daemon"), { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".ts") && !name.startsWith("page/"))
    .map((name) => readFileSync(join(root, "daemon", name), "utf8"))
    .filter((text) => text.includes("alarmId"));
  const found = texts.flatMap((text) => idsInSources.flatMap((pattern) => [...text.matchAll(pattern)]));
  return new Set(found.map(([, kind = ""]) => kind));
}

describe("the user guide's table of alarms", () => {
  const table = textOf("deploy/docs/user-guide.md").split("## An alarm comes")[1]?.split("\n## ")[0] ?? "";

  it("has a row for every kind that the daemon raises", () => {
    const kinds = [...kindsRaised()];
    expect(kinds.length).toBeGreaterThan(40);
    expect(kinds.filter((kind) => !table.includes(`\`${kind}`))).toEqual([]);
  });
});
