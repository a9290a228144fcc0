import { get } from "node:http";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { Browser, Page } from "playwright-core";
import { axeFindings, startBrowser } from "../support/browser.js";
import { startDemoPage, type DemoPage } from "../support/demo-page.js";

const views = ["now", "charge", "plan", "tank", "journal"] as const;
let demo: DemoPage;
let browser: Browser;

beforeAll(async () => {
  [demo, browser] = await Promise.all([startDemoPage(20), startBrowser()]);
}, 60_000);

afterAll(async () => {
  await browser.close();
  await demo.end();
});

async function opened(options: Parameters<Browser["newContext"]>[0] = {}): Promise<Page> {
  const context = await browser.newContext({ locale: "en-GB", ...options });
  const page = await context.newPage();
  await page.goto(demo.address);
  await page.getByText("Live", { exact: true }).waitFor();
  return page;
}

describe("the page in a browser", () => {
  it("runs under a content security policy that lets nothing else run, and breaks none of it", async () => {
    const page = await opened();
    const complaints: string[] = [];
    page.on("console", (message) => complaints.push(message.text()));
    page.on("pageerror", (error) => complaints.push(error.message));
    const answer = await page.goto(demo.address);
    await page.getByText("Live", { exact: true }).waitFor();
    expect(answer?.headers()["content-security-policy"]).toContain("default-src 'none'");
    expect(answer?.headers()["content-security-policy"]).not.toContain("unsafe");
    for (const view of views) await page.goto(`${demo.address}#${view}`);
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it("weighs less than 150 kB compressed, in all, and asks no other host", async () => {
    const context = await browser.newContext();
    const page = await context.newPage();
    const hosts = new Set<string>();
    let weight_bytes = 0;
    page.on("request", (request) => hosts.add(new URL(request.url()).host));
    page.on("response", (response) => {
      weight_bytes += Number(response.headers()["content-length"] ?? 0);
    });
    await page.goto(demo.address);
    await page.getByText("Live", { exact: true }).waitFor();
    expect([...hosts]).toEqual([new URL(demo.address).host]);
    expect(weight_bytes).toBeGreaterThan(5_000);
    expect(weight_bytes).toBeLessThan(150_000);
    await page.context().close();
  });

  it("is first painted within a second", async () => {
    const page = await opened();
    await page.goto(demo.address);
    await page.getByRole("heading", { level: 1 }).waitFor();
    const painted_ms = Number(
      await page.evaluate("performance.getEntriesByName('first-contentful-paint')[0]?.startTime"),
    );
    expect(painted_ms).toBeGreaterThan(0);
    expect(painted_ms).toBeLessThan(1000);
    await page.context().close();
  });

  it("shows what the daemon tells of tanks and vessels, and goes on telling it", async () => {
    const page = await opened();
    const tank = page.getByRole("heading", { level: 3, name: "loach" });
    await tank.waitFor();
    const before = await page.getByRole("main").innerText();
    await expect.poll(() => page.getByRole("main").innerText(), { timeout: 20_000 }).not.toBe(before);
    await page.context().close();
  });

  it("draws the pressure over time, and says of what it is to whoever does not see it", async () => {
    const page = await opened();
    await page.goto(`${demo.address}#charge`);
    await page.locator(".chart canvas").waitFor();
    const name = await page
      .getByRole("img", { name: /^Pressure of cellar over time\. Last read \d/ })
      .getAttribute("aria-label");
    expect(name).toMatch(/Last read \d+\.\d bar[.;]/);
    await page.context().close();
  });

  it("moves between its views by the keyboard, with the focus at the heading of each", async () => {
    const page = await opened();
    const focused = (): Promise<unknown> =>
      page.evaluate("document.activeElement.tagName + ' ' + document.activeElement.textContent");
    await page.keyboard.press("Tab");
    expect(await focused()).toBe("A Skip to the content");
    await page.keyboard.press("Tab");
    await page.keyboard.press("Tab");
    expect(await focused()).toBe("A Charge");
    await page.keyboard.press("Enter");
    await expect.poll(focused).toBe("H1 Charge");
    expect(await page.title()).toBe("Charge, fizzward");
    expect(await page.getByRole("link", { name: "Charge", exact: true }).getAttribute("aria-current")).toBe(
      "page",
    );
    await page.context().close();
  });

  it.each([
    { light: "light" as const, theme: "auto" },
    { light: "dark" as const, theme: "auto" },
    { light: "dark" as const, theme: "dim" },
  ])("has nothing that axe finds wrong in any view: $light, $theme", async ({ light, theme }) => {
    const page = await opened({ colorScheme: light, viewport: { width: 390, height: 844 } });
    await page.evaluate(`localStorage.setItem("fizzward-display", JSON.stringify({ theme: "${theme}" }))`);
    await page.reload();
    for (const view of views) {
      await page.goto(`${demo.address}#${view}`);
      await page.getByText("Live", { exact: true }).waitFor();
      expect(await axeFindings(page), view).toEqual([]);
      const overflow = await page.evaluate("document.documentElement.scrollWidth - innerWidth");
      expect(overflow, `${view} is wider than a phone`).toBeLessThanOrEqual(0);
    }
    await page.context().close();
  });
});

describe("what a browser is not shown", () => {
  it.each([
    { host: "tank.example", because: "a foreign name that was led to this address" },
    { host: "127.0.0.1.tank.example:80", because: "a name that begins like ours" },
  ])("answers nothing to a request for $host: $because", async ({ host }) => {
    const { hostname, port } = new URL(demo.address);
    const answer = await new Promise<number | undefined>((resolve) =>
      get({ hostname, port, path: "/api/site", headers: { Host: host } }, (response) => {
        response.resume();
        resolve(response.statusCode);
      }),
    );
    expect(answer).toBe(421);
  });
});
