import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { startBrowser } from "./browser.js";
import { startDemoPage } from "./demo-page.js";

/**
 * Pictures of every view, light, dark and dim, on a phone and on a desk, and once in imperial units: FOLDER [VIEWS [ADDRESS]].
 * VIEWS: names with commas, or "all". Without an address it runs the simulated home itself.
 */
const [folder = "pictures", wanted = "all", given] = process.argv.slice(2);
const allViews = ["now", "charge", "plan", "tank", "journal"];
const views = wanted === "all" ? allViews : wanted.split(",");
const screens = { phone: { width: 390, height: 844 }, desk: { width: 1280, height: 900 } };
const lights = ["light", "dark", "dim", "imperial"] as const;

mkdirSync(folder, { recursive: true });
const demo = given === undefined ? await startDemoPage(600) : undefined;
const address = given ?? demo?.address ?? "";
const browser = await startBrowser();
for (const [screen, viewport] of Object.entries(screens)) {
  for (const light of lights) {
    const context = await browser.newContext({
      viewport,
      locale: light === "imperial" ? "en-US" : "en-GB",
      colorScheme: light === "light" || light === "imperial" ? "light" : "dark",
    });
    if (light === "dim") {
      await context.addInitScript(
        'localStorage.setItem("fizzward-display", JSON.stringify({ theme: "dim" }))',
      );
    }
    const page = await context.newPage();
    for (const view of views) {
      await page.goto(`${address}#${view}`);
      await page.getByText("Live", { exact: true }).waitFor();
      await page.waitForTimeout(500);
      await page.screenshot({ path: join(folder, `${view}-${screen}-${light}.png`), fullPage: true });
    }
    await context.close();
  }
}
await browser.close();
await demo?.end();
process.stdout.write(`pictures in ${folder}\n`);
