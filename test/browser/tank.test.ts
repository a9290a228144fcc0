import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import type { Browser, Page } from "playwright-core";
import { axeFindings, startBrowser } from "../support/browser.js";
import { bundlePage } from "../support/bundle-page.js";
import { madeUpSite, madeUpTank, madeUpTankHistory } from "../support/made-up-site.js";
import { keptEntry, startScriptedPage, type ScriptedPage } from "../support/scripted-page.js";

let browser: Browser;
let scripted: ScriptedPage;
let page: Page;
const twoTanks = madeUpSite({ tanks: [madeUpTank(), madeUpTank({ tankId: "shrimp" })] });
const kept = (fact: string) => keptEntry("loach", fact);

beforeAll(async () => {
  bundlePage();
  [scripted, browser] = await Promise.all([startScriptedPage(twoTanks), startBrowser()]);
  const context = await browser.newContext({ locale: "en-GB", viewport: { width: 390, height: 844 } });
  page = await context.newPage();
}, 60_000);

beforeEach(async () => {
  answerJournalWith(undefined);
  await page.goto(`${scripted.address}#now`);
  await page.goto(`${scripted.address}#tank/loach`);
  await page.getByRole("article", { name: "Tank loach" }).waitFor();
});

afterAll(async () => {
  await browser.close();
  await scripted.end();
});

function answerJournalWith(answer: unknown): void {
  scripted.answer((path) => (path.includes("/history") ? madeUpTankHistory() : answer));
}

describe("the view of a tank", () => {
  it("enters the drop checker at one tap on its colour, by its word", async () => {
    answerJournalWith(kept("drop checker: yellow-green"));
    await page.getByRole("button", { name: "yellow-green" }).click();
    await page.getByText("Written down: drop checker: yellow-green.").waitFor();
    expect(scripted.sent.at(-1)).toEqual({
      path: "/api/journal",
      body: { kind: "drop checker", tank: "loach", colour: "yellow-green" },
    });
  });

  it("asks once more before it sends what is unusual, and then says that it is sure", async () => {
    answerJournalWith({
      accepted: false,
      reason: "the KH is 35 dKH; usual is up to 30 dKH",
      needsSecondWord: true,
    });
    await page.getByText("KH test", { exact: true }).click();
    await page.getByLabel("KH, dKH").fill("3");
    scripted.tell(twoTanks);
    await page.getByLabel("KH, dKH").press("5");
    await page.getByRole("button", { name: "Write down" }).click();
    await page.getByText("That is unusual.").waitFor();
    expect(scripted.sent.at(-1)?.body).toEqual({ kind: "kh test", tank: "loach", kh_dKH: 35 });
    answerJournalWith(kept("KH test: 35 dKH"));
    await page.getByRole("button", { name: "It is right, write it down" }).click();
    await page.getByText("Written down: KH test: 35 dKH.").waitFor();
    expect(scripted.sent.at(-1)?.body).toEqual({ kind: "kh test", tank: "loach", kh_dKH: 35, sure: true });
  });

  it("goes to another tank by its link, and keeps it in the address", async () => {
    await page.getByRole("link", { name: "shrimp" }).first().click();
    await page.getByRole("article", { name: "Tank shrimp" }).waitFor();
    expect(new URL(page.url()).hash).toBe("#tank/shrimp");
    answerJournalWith(kept("drop checker: green"));
    await page.getByRole("button", { name: "green", exact: true }).click();
    await page.getByText("Written down: drop checker: green.").waitFor();
    expect(scripted.sent.at(-1)?.body).toMatchObject({ tank: "shrimp" });
  });

  it("draws the course, and tells it to who does not see it as a sentence and as a table", async () => {
    const chart = page.getByRole("img", { name: /^CO2, mg\/L of loach over time\. Between 4 and 24 mg\/L/ });
    await chart.waitFor();
    await page.getByText("As a table").click();
    const rows = page.getByRole("table", { name: "CO2 over time" }).getByRole("row");
    expect(await rows.count()).toBeGreaterThan(10);
    expect(await rows.count()).toBeLessThan(27);
    expect(await axeFindings(page)).toEqual([]);
    expect(await page.evaluate("document.documentElement.scrollWidth - innerWidth")).toBeLessThanOrEqual(0);
  }, 60_000);
});
