import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import type { Browser, Page } from "playwright-core";
import { axeFindings, startBrowser } from "../support/browser.js";
import { bundlePage } from "../support/bundle-page.js";
import { madeUpSite, madeUpTank, madeUpTankHistory, noon_epochMs } from "../support/made-up-site.js";
import { keptEntry, startScriptedPage, type ScriptedPage } from "../support/scripted-page.js";

let browser: Browser;
let scripted: ScriptedPage;
let page: Page;
const hour_ms = 3_600_000;
const tomorrow = (hours: number): number => noon_epochMs + (hours + 12) * hour_ms;
const today = (hours: number): number => noon_epochMs + (hours - 12) * hour_ms;
const twoTanks = madeUpSite({
  tanks: [
    madeUpTank({
      gasDay: {
        morning: {
          kind: "known",
          opens_epochMs: tomorrow(7 + 2 / 3),
          lightsOn_epochMs: tomorrow(10),
          reached_epochMs: tomorrow(10),
          reachedLow80_epochMs: tomorrow(9.5),
          reachedHigh80_epochMs: tomorrow(10 + 5 / 6),
          lowEdge_mgPerL: 15,
          wantedOpening_epochMs: tomorrow(7 + 2 / 3),
          isInTime: true,
        },
        evening: {
          kind: "known",
          closes_epochMs: today(18.5),
          dark_epochMs: today(19.5),
          below_epochMs: today(21.5),
          belowLow80_epochMs: today(20 + 5 / 6),
          belowHigh80_epochMs: undefined,
          lowEdge_mgPerL: 15,
          isBelowBeforeDark: false,
        },
      },
    }),
    madeUpTank({
      tankId: "shrimp",
      gasDay: {
        morning: {
          kind: "not known",
          because: "no morning has been watched yet",
          opens_epochMs: tomorrow(8),
          lightsOn_epochMs: tomorrow(10),
        },
        evening: {
          kind: "not known",
          because: "no night has been watched to its end yet",
          closes_epochMs: today(18.5),
        },
      },
    }),
  ],
});
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

  it("draws what was measured in a night with the fall that was fitted, and keeps its rate in the table", async () => {
    const chart = page.getByRole("img", {
      name: /^How CO2 falls at night, mg\/L of loach over time\. Between/,
    });
    await chart.waitFor();
    // Some of it is drawn in the colour of the fitted line.
    const drawn = await page.evaluate(`(() => {
      const canvas = document.querySelector('[aria-label^="How CO2 falls"] canvas');
      const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
      const token = getComputedStyle(document.documentElement).getPropertyValue("--series-2").trim();
      const [r, g, b] = token.match(/[0-9a-f]{2}/g).map((pair) => parseInt(pair, 16));
      let hits = 0;
      for (let k = 0; k < data.length; k += 4) if (data[k] === r && data[k + 1] === g && data[k + 2] === b) hits += 1;
      return hits;
    })()`);
    expect(drawn).toBeGreaterThan(50);
    await page.locator("summary", { hasText: "Night by night" }).click();
    const row = page.getByRole("table", { name: "Night by night" }).getByRole("row").nth(2);
    expect(await row.innerText()).toMatch(/0\.25 per hour\s+0\.22 to 0\.28/);
  });

  it("says when gas comes for the lights and when it has left, or why that is not known", async () => {
    const day = page.getByRole("region", { name: "Gas and the day" });
    expect(await day.innerText()).toMatch(
      /Gas on at Tue 3 Mar, 7:40, so that 15 mg\/L is reached at lights on, 10:00\..*\(8 times in 10 9:30 to 10:50\)\..*Gas off at 18:30; below 15 mg\/L by about 21:30 \(20:50 at the earliest, 9 times in 10; the latest is not known\)\./s,
    );
    await page.goto(`${scripted.address}#tank/shrimp`);
    await page.getByRole("article", { name: "Tank shrimp" }).waitFor();
    expect(await day.innerText()).toMatch(
      /When the band is reached is not known: no morning has been watched yet\..*When the gas has left is not known: no night has been watched to its end yet\./s,
    );
  });

  it("takes a water change in gallons where these were chosen, keeps litres, and says it back in gallons", async () => {
    const context = await browser.newContext({ locale: "en-US", viewport: { width: 390, height: 844 } });
    const other = await context.newPage();
    await other.goto(`${scripted.address}#tank/loach`);
    await other.getByText("Water changed", { exact: true }).click();
    answerJournalWith({
      ...kept("water change: 37.85 L"),
      said: ["water change: ", { kind: "volume", volume_L: 37.85 }],
    });
    // 10 gal of 231 cubic inches, 3.785411784 L each (NIST SP 811, B.8).
    await other.getByLabel("How much, gal").fill("10");
    await other.getByRole("button", { name: "Write down" }).click();
    await other.getByText("Written down: water change: 10.0 gal.").waitFor();
    expect(scripted.sent.at(-1)?.body).toEqual({ kind: "water change", tank: "loach", changed_L: 37.85 });
    await context.close();
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
    const chart = page.getByRole("img", {
      name: /^CO2, mg\/L of loach over time\. Between 4 and 24 mg\/L, wanted 15 to 30 mg\/L, gas shut at 60 mg\/L$/,
    });
    await chart.waitFor();
    await page.getByText("As a table").click();
    const rows = page.getByRole("table", { name: "CO2 over time" }).getByRole("row");
    expect(await rows.count()).toBeGreaterThan(10);
    expect(await rows.count()).toBeLessThan(27);
    expect(await axeFindings(page)).toEqual([]);
    expect(await page.evaluate("document.documentElement.scrollWidth - innerWidth")).toBeLessThanOrEqual(0);
  }, 60_000);
});
