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

/** Runs in the page: what no rule of axe looks at is that a filter and an opacity change what is seen. */
const contrastScript = `(() => {
  const channels = (text) => (text.match(/[\\d.]+/g) ?? ["0", "0", "0", "0"]).map(Number);
  const over = ([r, g, b, a = 1], below) => [r, g, b].map((value, k) => value * a + below[k] * (1 - a));
  const linear = (value) => (value / 255 <= 0.04045 ? value / 255 / 12.92 : ((value / 255 + 0.055) / 1.055) ** 2.4);
  const luma = ([r, g, b], of) => 0.2126 * of(r) + 0.7152 * of(g) + 0.0722 * of(b);
  const ancestors = (element) => { const all = []; for (let one = element; one !== null; one = one.parentElement) all.push(one); return all; };
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
    const element = node.parentElement;
    const text = node.textContent.trim();
    if (text === "" || element.closest(".unseen, option, noscript, svg") !== null || !element.checkVisibility()) continue;
    const around = ancestors(element);
    const ground = around.reduceRight((below, one) => over(channels(getComputedStyle(one).backgroundColor), below), [255, 255, 255]);
    const opacity = around.reduce((all, one) => all * Number(getComputedStyle(one).opacity), 1);
    const isGrey = around.some((one) => getComputedStyle(one).filter.includes("grayscale(1)"));
    const seen = (colour) => (isGrey ? Array(3).fill(luma(colour, (value) => value)) : colour);
    const [r, g, b] = channels(getComputedStyle(element).color);
    const lights = [over([r, g, b, opacity], ground), ground].map((colour) => luma(seen(colour), linear)).sort((one, other) => other - one);
    found.push({ text, ratio: (lights[0] + 0.05) / (lights[1] + 0.05) });
  }
  return found.sort((one, other) => one.ratio - other.ratio);
})()`;

/**
 * The text with the least contrast to its ground, as it is seen under filters and opacity.
 * @see Filter Effects Module Level 1, grayscale(); WCAG 2.2, relative luminance and contrast ratio
 */
export async function leastContrast(page: Page): Promise<{ readonly text: string; readonly ratio: number }> {
  const found =
    await page.evaluate<readonly { readonly text: string; readonly ratio: number }[]>(contrastScript);
  const [least] = found;
  if (least === undefined) throw new Error("no text is seen");
  return least;
}
