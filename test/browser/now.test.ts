import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import type { Browser, Page } from "playwright-core";
import { axeFindings, leastContrast, startBrowser } from "../support/browser.js";
import { bundlePage } from "../support/bundle-page.js";
import { awkwardSite, madeUpAlarm, madeUpSite, madeUpVessel, noon_epochMs } from "../support/made-up-site.js";
import { keptEntry, startScriptedPage, type ScriptedPage } from "../support/scripted-page.js";

let browser: Browser;
let scripted: ScriptedPage;
/** One for all tests that leave it as it was: a new one takes a second. */
let page: Page;
const kept = (fact: string) => keptEntry("cellar", fact);

beforeAll(async () => {
  bundlePage();
  [scripted, browser] = await Promise.all([startScriptedPage(madeUpSite()), startBrowser()]);
  page = await opened();
}, 60_000);

beforeEach(async () => {
  scripted.speakAgain();
  scripted.tell(madeUpSite());
  scripted.answer(() => undefined);
  await page.keyboard.press("Escape");
  await page.getByText("Nothing calls for you.").waitFor();
});

afterAll(async () => {
  await browser.close();
  await scripted.end();
});

async function opened(
  options: Parameters<Browser["newContext"]>[0] = {},
  prepare: (page: Page) => Promise<unknown> = () => Promise.resolve(),
): Promise<Page> {
  const context = await browser.newContext({
    locale: "en-GB",
    viewport: { width: 390, height: 844 },
    ...options,
  });
  const page = await context.newPage();
  await prepare(page);
  await page.goto(scripted.address);
  await page.getByText("Live", { exact: true }).waitFor();
  return page;
}

describe("the view of now", () => {
  it("says in one place whether anything is wrong, whether gas is on, and what comes next", async () => {
    const verdict = page.getByRole("region", { name: "In short" });
    expect(await verdict.innerText()).toMatch(
      /^Nothing calls for you\.\s+Gas is on until 18:30\. Next: refill cellar Sat 14 Mar, 17:30\.$/,
    );
  });

  it("takes a gauge that shows what is expected in two taps", async () => {
    scripted.answer((path) => (path === "/api/journal" ? kept("gauge: 12.4 bar") : undefined));
    const before = scripted.sent.length;
    await page.getByRole("button", { name: "Enter gauge of cellar" }).click();
    await page.getByRole("button", { name: "Enter", exact: true }).click();
    await page.getByText("Written down: gauge: 12.4 bar.").waitFor();
    expect(scripted.sent.slice(before)).toEqual([
      {
        path: "/api/journal",
        body: { kind: "gauge reading", vessel: "cellar", pressure: 12.4, unit: "bar" },
      },
    ]);
  });

  it("says a caution as a sentence of its own", async () => {
    const answer = kept("gauge: 27 bar");
    const remarks = [
      "caution: that is above the rated pressure; keep away",
      "look at the gauge's unit from afar",
    ];
    scripted.answer((path) =>
      path === "/api/journal" ? { ...answer, entry: { ...answer.entry, remarks } } : undefined,
    );
    await page.getByRole("button", { name: "Enter gauge of cellar" }).click();
    await page.getByRole("button", { name: "Enter", exact: true }).click();
    await page
      .getByText(
        "Written down: gauge: 27 bar. Caution: that is above the rated pressure; keep away. Look at the gauge's unit from afar.",
      )
      .waitFor();
  });

  it("proposes what was read last, in the unit it was read in, and says what it should show by now", async () => {
    scripted.tell(
      madeUpSite({
        vessels: [
          madeUpVessel({
            readByEye: {
              at_epochMs: noon_epochMs - 2 * 86_400_000,
              pressureGauge_bar: 12.65,
              asRead: { value: 12.9, unit: "kgf/cm2" },
            },
          }),
        ],
      }),
    );
    scripted.answer((path) => (path === "/api/journal" ? kept("gauge: 12.9 kgf/cm2") : undefined));
    await page.getByRole("button", { name: "Enter gauge of cellar" }).click();
    // 12.38 bar over 0.980665 bar to the kgf/cm2 (standard gravity by definition): 12.6.
    await page
      .getByText("Read last as 12.9 kgf/cm², 2 days ago; it should show about 12.6 kgf/cm² now.")
      .waitFor();
    await page.getByText("With the temperature").click();
    await page.getByLabel("Vessel or room, °C").fill("21,5");
    await page.getByRole("button", { name: "Enter", exact: true }).click();
    await page.getByText("Written down: gauge: 12.9 kgf/cm2.").waitFor();
    expect(scripted.sent.at(-1)?.body).toEqual({
      kind: "gauge reading",
      vessel: "cellar",
      pressure: 12.9,
      unit: "kgf/cm2",
      temperature_degC: 21.5,
    });
  });

  it("takes it by the keyboard alone, in the unit of the gauge's face, and keeps what is typed while the site changes", async () => {
    scripted.answer((path) => (path === "/api/journal" ? kept("gauge: 170 psi") : undefined));
    await page.getByRole("button", { name: "Enter gauge of cellar" }).focus();
    await page.keyboard.press("Enter");
    await page.getByLabel("Unit of the gauge's face").selectOption("psi");
    expect(await page.getByLabel("Pressure on the gauge").inputValue()).toBe("180");
    await page.getByLabel("Pressure on the gauge").focus();
    await page.keyboard.press("ControlOrMeta+a");
    await page.keyboard.type("17");
    scripted.tell(madeUpSite({ vessels: [madeUpVessel({ expectedGauge_bar: 3 })] }));
    await page.keyboard.type("0");
    await page.keyboard.press("Enter");
    await page.getByText("Written down: gauge: 170 psi.").waitFor();
    expect(scripted.sent.at(-1)?.body).toMatchObject({ pressure: 170, unit: "psi" });
  });

  it("says why a gauge was not taken, and keeps the pad open", async () => {
    scripted.answer(() => ({ accepted: false, reason: "the pressure is 900 bar; allowed is 0 to 400 bar" }));
    await page.getByRole("button", { name: "Enter gauge of cellar" }).click();
    for (const key of ["9", "0", "0"]) await page.getByRole("button", { name: key, exact: true }).click();
    await page.getByRole("button", { name: "Enter", exact: true }).click();
    await page.getByText("Not written down: the pressure is 900 bar").waitFor();
    expect(scripted.sent.at(-1)?.body).toMatchObject({ pressure: 900 });
    expect(await page.getByLabel("Pressure on the gauge").inputValue()).toBe("900");
  });

  it("acknowledges the alarm whose button is pressed, and says what to do and how long there is", async () => {
    scripted.tell(madeUpSite({ alarms: [madeUpAlarm()] }));
    scripted.answer((path) =>
      path === "/api/alarms/acknowledge" ? { accepted: true, text: "" } : undefined,
    );
    await page.getByText("One thing needs you now.").waitFor();
    const alarms = page.getByRole("region", { name: "Alarms" });
    expect(await alarms.innerText()).toContain("Time for it: 1 hr 42 mins, until 13:42.");
    await alarms.getByRole("button").click();
    await expect
      .poll(() => scripted.sent.at(-1))
      .toEqual({
        path: "/api/alarms/acknowledge",
        body: { alarm: "guard-silent/loach-ph" },
      });
    scripted.tell(madeUpSite({ alarms: [madeUpAlarm({ state: "acknowledged" })] }));
    await page.getByText("One alarm stands; you have seen it.").waitFor();
    expect(await alarms.getByRole("button").count()).toBe(0);
  });

  it("shows a trip with the command of the machine and nothing that re-arms or opens", async () => {
    scripted.tell(awkwardSite());
    const trips = page.getByRole("region", { name: "Safety closings" });
    await trips.waitFor();
    expect(await trips.locator("code").innerText()).toBe("fizzward rearm tank shrimp");
    expect(await trips.locator("button, a, input, select").count()).toBe(0);
    const valve = page.getByRole("article", { name: "Valve cellar-outlet" });
    expect(await valve.getByRole("button", { name: /open/i }).count()).toBe(0);
    const everything = await page.getByRole("button").allInnerTexts();
    expect(everything.filter((text) => /re-?arm|release|reset/i.test(text))).toEqual([]);
  });

  it("does not call for a person now of an alarm that is over, and does once one stands beside it", async () => {
    const over = madeUpAlarm({ state: "returned to normal unacknowledged" });
    scripted.tell(madeUpSite({ alarms: [over] }));
    await page.getByText("An alarm is over that nobody has seen.").waitFor();
    scripted.tell(madeUpSite({ alarms: [over, madeUpAlarm({ id: "broker" })] }));
    await page.getByText("One thing needs you now.").waitFor();
  });

  it("says first to leave a room full of CO2, and no more once its air is good again", async () => {
    const trip = {
      subject: { kind: "valve", id: "cellar-outlet" },
      cause: "CO2 in the room from 15000 ppm",
      reason: "cellar-air shows 16000 ppm",
      at_epochMs: madeUpSite().now_epochMs,
      whatToDo: "Open windows and doors and leave the room.",
      stands: true,
    } as const;
    scripted.tell(madeUpSite({ trips: [trip] }));
    await page.getByText("Leave the room: there is too much CO2 in its air.").waitFor();
    expect(await page.getByRole("region", { name: "Safety closings" }).innerText()).toContain(trip.whatToDo);
    scripted.tell(madeUpSite({ trips: [{ ...trip, stands: false }] }));
    await page.getByText("Gas was shut for safety: cellar-outlet.").waitFor();
  });

  it("shuts gas at one tap and asks before it opens", async () => {
    scripted.answer(() => ({ accepted: true, text: "" }));
    await page.getByRole("button", { name: "Shut for 1 hr: cellar-outlet" }).click();
    await expect
      .poll(() => scripted.sent.at(-1))
      .toEqual({
        path: "/api/valves/cellar-outlet/close-for",
        body: { for_min: 60 },
      });
    const before = scripted.sent.length;
    await page.getByRole("button", { name: "Open …: cellar-outlet" }).click();
    await page.getByText("Stay beside the tank and watch the fish.").waitFor();
    expect(scripted.sent.length).toBe(before);
    await page.getByRole("button", { name: "Open until 12:30" }).click();
    await expect
      .poll(() => scripted.sent.at(-1))
      .toEqual({
        path: "/api/valves/cellar-outlet/open-until",
        body: { until_epochMs: noon_epochMs + 30 * 60_000 },
      });
  });

  it("leaves focus and what was unfolded alone when the site changes", async () => {
    scripted.tell(awkwardSite());
    const fold = page.getByText("Everything that holds it closed: 2");
    await fold.click();
    await page.getByRole("button", { name: "Shut for 1 hr: attic-outlet" }).focus();
    scripted.tell({ ...awkwardSite(), alarms: [], now_epochMs: noon_epochMs + 60_000 });
    await page.getByRole("region", { name: "Alarms" }).waitFor({ state: "detached" });
    expect(await page.evaluate("document.activeElement.getAttribute('aria-label')")).toBe(
      "Shut for 1 hr: attic-outlet",
    );
    expect(await page.getByText("loach-ph has given no believable value for 20 min").isVisible()).toBe(true);
  });

  it("greys everything and says since when, once nothing has been heard for a while, as easy to read as before", async () => {
    const fresh = await opened({}, (one) => one.clock.install());
    scripted.tell(awkwardSite());
    scripted.fallSilent();
    await fresh.clock.fastForward(15_000);
    await fresh
      .getByRole("banner")
      .getByText(/^Stale: nothing was heard since \d/)
      .waitFor();
    for (const theme of ["light", "dark", "dim"]) {
      await fresh.evaluate(`document.documentElement.dataset.theme = "${theme}"`);
      expect(await fresh.evaluate("getComputedStyle(document.querySelector('main')).filter")).toBe(
        theme === "dim" ? "none" : "grayscale(1)",
      );
      expect(await axeFindings(fresh), theme).toEqual([]);
      const { ratio, text } = await leastContrast(fresh);
      expect(ratio, `${theme}: ${text}`).toBeGreaterThanOrEqual(4.5);
    }
    await fresh.context().close();
  }, 60_000);

  it.each(["light", "dark", "dim"])(
    "has nothing that axe finds wrong when all that is awkward comes at once, nor is it too wide: %s",
    async (light) => {
      const fresh = await opened({
        colorScheme: light === "light" ? "light" : "dark",
        viewport: { width: 320, height: 640 },
      });
      scripted.tell(awkwardSite());
      await fresh.evaluate(
        `localStorage.setItem("fizzward-display", '{"theme":"${light === "dim" ? "dim" : "auto"}"}')`,
      );
      await fresh.reload();
      await fresh.getByRole("region", { name: "Safety closings" }).waitFor();
      expect(await axeFindings(fresh)).toEqual([]);
      expect(await fresh.evaluate("document.documentElement.scrollWidth - innerWidth")).toBeLessThanOrEqual(
        0,
      );
      await fresh.getByRole("button", { name: "Enter gauge of attic" }).click();
      if (light === "dim") expect(await axeFindings(fresh), "the pad").toEqual([]);
      await fresh.context().close();
    },
    60_000,
  );
});
