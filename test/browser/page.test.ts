import { get } from "node:http";
import Database from "better-sqlite3";
import { connectAsync } from "mqtt";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { Browser, Page } from "playwright-core";
import { axeFindings, startBrowser } from "../support/browser.js";
import { startDemoPage, type DemoPage } from "../support/demo-page.js";
import { eventually } from "../support/eventually.js";
import { startPageBench } from "../support/page-bench.js";

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

describe("the token, for a page that other machines reach", () => {
  it("is asked for, a wrong one is told from too many, and the right one opens the page for good", async () => {
    const token = "pebble-fern-lantern-otter-mill-9";
    const { address, control } = await startPageBench({ token, isBundled: true });
    const context = await browser.newContext({ locale: "en-GB" });
    const page = await context.newPage();
    const attempt = async (typed: string): Promise<void> => {
      await page.getByLabel("Token").fill(typed);
      await page.getByRole("button", { name: "Enter" }).click();
    };
    await page.goto(`${address}#journal`);
    await page.getByRole("heading", { level: 1, name: "Enter the token" }).waitFor();
    expect(await page.getByRole("main").innerText()).not.toContain("loach");
    expect(await axeFindings(page)).toEqual([]);
    for (const wrong of ["pebble", "fern", "lantern"]) {
      const answered = page.waitForResponse(/\/api\/login$/);
      await attempt(wrong);
      expect((await answered).status()).toBe(401);
      await page.getByRole("alert").getByText("That did not work: that is not the token").waitFor();
    }
    await attempt(token);
    await page.getByText(/^That did not work: too many tries; wait [12] s$/).waitFor();
    // The pause after the third wrong one.
    await page.waitForTimeout(2000);
    await attempt(token);
    await page.getByRole("heading", { level: 1, name: "Journal and upkeep" }).waitFor();
    await page.getByText("Live", { exact: true }).waitFor();
    expect(await page.evaluate("document.cookie")).toBe("");
    await page.reload();
    await page.getByRole("heading", { level: 1, name: "Journal and upkeep" }).waitFor();
    expect(await page.getByLabel("Token").count()).toBe(0);
    await page.goto(`${address}#tank/loach`);
    await page.getByRole("button", { name: "green", exact: true }).click();
    await page.getByText("Written down: drop checker: green.").waitFor();
    expect(control.disk.journal.at(-1)).toMatchObject({ kind: "drop checker", source: "remote" });
    await context.close();
  }, 30_000);
});

describe("what is written on the page", () => {
  it("is in the daemon's database once the page says so: gauge, colour, hardness, an entry, an alarm that was seen", async () => {
    const page = await opened({ viewport: { width: 390, height: 844 } });
    const store = new Database(demo.storeFile(), { readonly: true });
    const facts = (kind: string): readonly unknown[] =>
      store
        .prepare("SELECT fact FROM journal WHERE kind = ? AND source = 'remote'")
        .all(kind)
        .map((row) => JSON.parse((row as { fact: string }).fact) as unknown);
    await page.getByRole("button", { name: "Enter gauge of cellar" }).click();
    await page.getByLabel("Unit of the gauge's face").selectOption("psi");
    await page.getByLabel("Pressure on the gauge").fill("190");
    await page.getByRole("button", { name: "Enter", exact: true }).click();
    await page.getByText(/^Written down: gauge: 190 psi \(13\.10 bar\)\./).waitFor();
    // 190 psi of 6894.757 Pa each (NIST SP 811, B.8): 13.1 bar.
    expect(facts("gauge reading")).toMatchObject([
      {
        vesselId: "cellar",
        asRead: { value: 190, unit: "psi" },
        pressureGauge_bar: expect.closeTo(13.1, 2) as number,
      },
    ]);
    await page.goto(`${demo.address}#tank/loach`);
    await page.getByRole("button", { name: "blue-green" }).click();
    await page.getByText("Written down: drop checker: blue-green.").waitFor();
    expect(facts("drop checker")).toMatchObject([{ tankId: "loach", colour: "blue-green" }]);
    await page.getByText("KH test", { exact: true }).click();
    await page.getByLabel("KH, dKH").fill("4,5");
    await page.getByRole("button", { name: "Write down" }).click();
    await page.getByText(/^Written down: KH test: 4\.5 dKH\./).waitFor();
    expect(facts("kh test")).toMatchObject([{ tankId: "loach", kh_dKH: 4.5 }]);
    await page.goto(`${demo.address}#journal`);
    const entry = page.getByRole("form", { name: "Write something down" });
    await page.getByText("Write something down", { exact: true }).click();
    await entry.getByLabel("What").selectOption("bubble count");
    await entry.getByLabel("Bubbles a minute").fill("42");
    await entry.getByRole("button", { name: "Write it down" }).click();
    await entry.getByText("Written down: bubble count: 42 a minute").waitFor();
    expect(facts("bubble count")).toMatchObject([{ valveId: "cellar-outlet", bubbles_perMin: 42 }]);
    store.close();
    await page.context().close();
  }, 30_000);

  it("takes an alarm as seen, and keeps that it was", async () => {
    const page = await opened();
    const relay = await connectAsync(demo.brokerAddress);
    const store = new Database(demo.storeFile(), { readonly: true });
    const alarms = page.getByRole("region", { name: "Alarms" });
    // Whatever the time of day is there: a relay that reports open though it was told to close.
    await page.getByRole("button", { name: "Shut for 12 hrs: cellar-outlet" }).click();
    await page.getByText("cellar-outlet is being shut.").waitFor();
    await eventually(
      async () => {
        await relay.publishAsync("cellar/relay/1/state", '{"state":"ON"}');
        if ((await alarms.count()) === 0) throw new Error("no alarm yet");
      },
      { timeout_ms: 10_000, interval_ms: 200 },
    );
    const seen = alarms.getByRole("button", { name: /^I have seen it/ }).first();
    const name = (await seen.getAttribute("aria-label")) ?? "";
    await seen.click();
    await page.getByText("Seen.", { exact: true }).waitFor();
    await expect.poll(() => page.getByRole("button", { name, exact: true }).count()).toBe(0);
    await expect
      .poll(() => store.prepare("SELECT count(*) AS seen FROM events WHERE what LIKE '%acknowledged%'").get())
      .not.toEqual({ seen: 0 });
    store.close();
    await relay.endAsync();
    await page.context().close();
  }, 30_000);
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
