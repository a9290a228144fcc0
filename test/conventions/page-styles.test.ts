import { readdirSync, readFileSync } from "node:fs";
import { expect, it } from "vitest";

const folder = new URL("../../daemon/page/assets/", import.meta.url);

/** Every style sheet holds on every view: a class that two views style for themselves looks as neither meant it. */
it("no class is laid out by the style sheets of two views", () => {
  const laidOutBy = new Map<string, string[]>();
  for (const file of readdirSync(folder).filter((name) => name.endsWith(".css") && name !== "style.css")) {
    const text = readFileSync(new URL(file, folder), "utf8");
    const classes = new Set(
      [...text.matchAll(/^\.([a-z-]+)(?=[,\s]*(?:\{|\n\.))/gm)].map(([, name]) => name!),
    );
    for (const name of classes) laidOutBy.set(name, [...(laidOutBy.get(name) ?? []), file]);
  }
  expect(laidOutBy.size).toBeGreaterThan(50);
  expect([...laidOutBy].filter(([, files]) => files.length > 1)).toEqual([]);
});
