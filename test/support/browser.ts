import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { chromium, type Browser, type Page } from "playwright-core";

const chromiumFile = "/usr/bin/chromium";
/** Nothing but the page under test is asked: no updates, no other host. */
const quiet = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

export function startBrowser(): Promise<Browser> {
  return chromium.launch({ executablePath: chromiumFile, args: quiet });
}

const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** What the rules of WCAG 2.2, levels A and AA, find wrong with the page as it stands. */
export async function axeFindings(page: Page): Promise<readonly string[]> {
  await page.evaluate(axeSource);
  const found: unknown = await page.evaluate(
    `axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }).then(({ violations }) =>
      violations.map(({ id, help, nodes }) => id + ": " + help + " at " + nodes.map(({ target, any }) => target.join(" ") + " " + any.map(({ message }) => message).join(" ")).join(" | ")))`,
  );
  return found as readonly string[];
}
