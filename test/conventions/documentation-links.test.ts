import { existsSync } from "node:fs";
import { dirname, join } from "node:path";
import { describe, expect, it } from "vitest";
import { documentationPages, root, textOf } from "../support/documented-commands.js";

/** As common renderers of Markdown name a heading: lower case, without punctuation, hyphens for spaces. */
function anchorOf(heading: string): string {
  return heading
    .toLowerCase()
    .replace(/[^\p{L}\p{N} -]/gu, "")
    .replaceAll(" ", "-");
}

function anchorsOf(page: string): readonly string[] {
  return [...textOf(page).matchAll(/^#+ (.+)$/gm)].map(([, heading = ""]) => anchorOf(heading));
}

const links = documentationPages().flatMap((page) =>
  [...textOf(page).matchAll(/\]\(([^)\s]+)\)/g)]
    .map(([, target = ""]) => ({ page, target }))
    .filter(({ target }) => !/^[a-z]+:/.test(target)),
);

describe("the links of the documentation", () => {
  it("are there", () => {
    expect(links.length).toBeGreaterThan(50);
  });

  it("lead to files of the repository and to headings that stand in them", () => {
    const broken = links.filter(({ page, target }) => {
      const [path = "", anchor] = target.split("#");
      const file = path === "" ? page : join(dirname(page), path);
      if (!existsSync(join(root, file))) return true;
      return anchor !== undefined && !anchorsOf(file).includes(anchor);
    });
    expect(broken.map(({ page, target }) => `${page}: ${target}`)).toEqual([]);
  });

  it("lead from the README to each page below deploy/docs", () => {
    const reached = links
      .filter(({ page }) => page === "README.md")
      .map(({ target }) => target.split("#")[0]);
    const pages = documentationPages().filter((page) => page.startsWith("deploy/docs/"));
    expect(pages.filter((page) => !reached.includes(page))).toEqual([]);
  });
});
