import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { Browser, BrowserContext, Page, Request } from "playwright-core";
import type {
  ChargesPicture,
  PlanAnswer,
  PlanWish,
  SitePicture,
  WriteAnswer,
} from "../../daemon/page/page-contract.js";
import { reportCharge } from "../../lib/charge-log/charge-report.js";
import { compareCharges } from "../../lib/charge-log/compare-charges.js";
import { planCharge } from "../../lib/charge-plan/plan-charge.js";
import { axeFindings, startBrowser } from "../support/browser.js";
import { startDemoPage, type DemoPage } from "../support/demo-page.js";
import { eventually } from "../support/eventually.js";

/** The three views of a charge's life, on a phone, with answers of lib/ where the simulated home would take weeks. */
let demo: DemoPage;
let browser: Browser;
let real: SitePicture;

beforeAll(async () => {
  [demo, browser] = await Promise.all([startDemoPage(60), startBrowser()]);
  real = await eventually(
    async () => {
      const site = (await (await fetch(`${demo.address}api/site`)).json()) as SitePicture;
      if (site.vessels[0]?.supply?.told === undefined) throw new Error("no estimate yet");
      return site;
    },
    { timeout_ms: 40_000 },
  );
}, 60_000);

afterAll(async () => {
  await browser.close();
  await demo.end();
});

interface Answers {
  readonly site?: (site: SitePicture) => SitePicture;
  readonly posted?: Readonly<Record<string, (body: unknown) => unknown>>;
  readonly read?: Readonly<Record<string, unknown>>;
}

async function opened(view: string, { site, posted = {}, read = {} }: Answers): Promise<Page> {
  const context: BrowserContext = await browser.newContext({
    locale: "en-GB",
    viewport: { width: 390, height: 844 },
  });
  const page = await context.newPage();
  const json = (body: unknown) => ({ contentType: "application/json", body: JSON.stringify(body) });
  for (const [path, answer] of Object.entries(posted)) {
    await page.route(`**${path}`, (route, request: Request) =>
      request.method() === "POST" ? route.fulfill(json(answer(request.postDataJSON()))) : route.continue(),
    );
  }
  for (const [path, body] of Object.entries(read))
    await page.route(`**${path}`, (route) => route.fulfill(json(body)));
  if (site !== undefined) {
    const told = JSON.stringify(site(structuredClone(real)));
    await page.route("**/api/changes", (route) =>
      route.fulfill({ contentType: "text/event-stream", body: `event: site\ndata: ${told}\n\n` }),
    );
  }
  await page.goto(`${demo.address}#${view}`);
  return page;
}

/** What the daemon would answer, by the same function of lib/. */
function plan(body: unknown): PlanAnswer {
  const { days, sodiumBicarbonate_g, use_gPerDay = 1.5 } = body as PlanWish;
  const planned = planCharge({
    vessel: { volume_L: 2, ratedPressureGauge_bar: 25, reliefOpeningGauge_bar: 22, leastInletGauge_bar: 3.5 },
    wanted:
      sodiumBicarbonate_g === undefined
        ? { kind: "days", days: days ?? 0 }
        : { kind: "bicarbonate", sodiumBicarbonate_g },
    acidForm: "citric-acid-anhydrous",
    use: [
      { tank: "loach", co2_gPerDay: { value: use_gPerDay, low: 0.8 * use_gPerDay, high: 1.2 * use_gPerDay } },
    ],
  });
  const cautions = planned.kind === "plan" ? planned.cautions : [];
  return { kind: "answer", vesselId: "cellar", plan: planned, cautions, lines: [] };
}

describe("Plan a charge", () => {
  it("answers while one types, keeps what is typed, and shows a refusal with the largest charge that fits", async () => {
    const page = await opened("plan", { posted: { "/api/plan": plan } });
    await page.getByText("grams of bicarbonate").click();
    const grams = page.getByLabel("Sodium bicarbonate, g");
    await grams.fill("100");
    // 0.762 g to each gram, three bicarbonate to one acid by the molar masses of IUPAC 2021, and 8 % more: 82.3 g.
    await page.getByRole("region", { name: "Weigh" }).getByText("82.3 g").waitFor();
    await grams.fill("300");
    await page
      .getByRole("region", { name: "No charge is planned" })
      .getByText(/allowed is 19\.8 bar/u)
      .waitFor();
    expect(await grams.inputValue()).toBe("300");
    expect(await axeFindings(page)).toEqual([]);
    await page.getByRole("button", { name: "Plan this one" }).click();
    await page.getByRole("region", { name: "Weigh" }).waitFor();
    expect(Number(await grams.inputValue())).toBeLessThan(120);
    await page.context().close();
  });

  it("does not press a daemon that cannot answer, however often the site changes", async () => {
    let asks = 0;
    const page = await opened("plan", {});
    await page.route("**/api/plan", (route) => {
      asks += 1;
      return route.fulfill({ status: 503, body: "too many ask at once" });
    });
    await page.reload();
    await page.getByText("Too many ask at once.").waitFor();
    await page.waitForTimeout(2500);
    expect(asks).toBe(1);
    await page.context().close();
  });

  it("plans nothing for a vessel without both pressures, and names the keys", async () => {
    const asked: unknown[] = [];
    const page = await opened("plan", {
      posted: { "/api/plan": (body) => asked.push(body) },
      site: ({ vessels, ...site }) => ({
        ...site,
        vessels: vessels.map((vessel) => ({ ...vessel, reliefOpeningGauge_bar: undefined })),
      }),
    });
    await page.getByText("vessels.cellar.reliefOpeningGauge_bar").waitFor();
    expect(await page.getByText("vessels.cellar.ratedPressureGauge_bar").count()).toBe(0);
    expect(await page.getByRole("form", { name: "What it should do" }).count()).toBe(0);
    expect(asked).toEqual([]);
    await page.context().close();
  });

  it("asks for two signs before the vessel is opened, and never calls it empty or safe", async () => {
    const page = await opened("plan", { posted: { "/api/plan": plan } });
    await page.getByLabel(/the gauge stands at its zero/u).check();
    await page.getByLabel(/at the open vent nothing hisses/u).check();
    await page.reload();
    expect(await page.getByLabel(/the gauge stands at its zero/u).isChecked()).toBe(true);
    const said = (await page.getByRole("main").innerText()).replaceAll(
      "no proof that the vessel is empty",
      "",
    );
    expect(said).not.toMatch(/\b(is|are|now) (empty|safe)\b/iu);
    await page.context().close();
  });

  it("says at the steps and after the record that only a command at the machine ends the refill", async () => {
    const page = await opened("plan", {
      site: (real) => ({
        ...real,
        holds: [
          {
            kind: "refill in progress",
            subject: { kind: "vessel", id: "cellar" },
            since_epochMs: real.now_epochMs,
            note: "",
          },
        ],
      }),
      posted: {
        "/api/plan": plan,
        "/api/journal": (): WriteAnswer => ({ accepted: true, text: "charge closed" }),
      },
    });
    const command = page.getByText("fizzward refill end cellar");
    await command.waitFor();
    const form = page.getByRole("form", { name: "Record the charge" });
    await form.getByLabel("Sodium bicarbonate weighed, g").fill("80");
    await form.getByLabel("Citric acid anhydrous weighed, g").fill("66");
    await form.getByLabel("Water, g").fill("500");
    await form.getByLabel("Vessel when it was closed").fill("19");
    await page.getByRole("button", { name: "Record this charge" }).click();
    await form.getByText("The valves stay closed until you end the refill").waitFor();
    expect(await command.count()).toBe(2);
    await page.context().close();
  });

  it("records what was weighed beside what was planned, by one entry of a closed charge", async () => {
    const kept: unknown[] = [];
    const page = await opened("plan", {
      posted: {
        "/api/plan": plan,
        "/api/journal": (body): WriteAnswer => {
          kept.push(body);
          return { accepted: true, text: "charge closed" };
        },
      },
    });
    await page.getByText("grams of bicarbonate").click();
    await page.getByLabel("Sodium bicarbonate, g").fill("100");
    await page.getByText("Planned: 82.3 g").waitFor();
    const form = page.getByRole("form", { name: "Record the charge" });
    await page.getByRole("button", { name: "Record this charge" }).click();
    await form.getByText("Fill in what was weighed").waitFor();
    expect(kept).toEqual([]);
    await form.getByLabel("Sodium bicarbonate weighed, g").fill("101");
    await form.getByLabel("Citric acid anhydrous weighed, g").fill("82,5");
    await form.getByLabel("Water, g").fill("500");
    await form.getByLabel("Vessel when it was closed").fill("19");
    await page.getByRole("button", { name: "Record this charge" }).click();
    await form.getByText("Go to Charge").waitFor();
    expect(kept).toEqual([
      {
        kind: "charge closed",
        vessel: "cellar",
        sodiumBicarbonate_g: 101,
        citricAcidAnhydrous_g: 82.5,
        water_kg: 0.5,
        closedWith: "water",
        sealedAt_degC: 19,
        plannedBicarbonate_g: 100,
        plannedAcid_g: 82.3,
      },
    ]);
    await page.context().close();
  });
});

describe("Charge", () => {
  it("says of a charge that comes on too strong to keep away, with what that rests on", async () => {
    const page = await opened("charge", {
      site: ({ vessels, ...site }) => ({ ...site, vessels: vessels.map(tooStrong) }),
    });
    const card = page.getByRole("region", { name: "Pressurising" });
    await card.getByText("Too strong: keep away from the vessel").waitFor();
    await card.getByText(/20\.1 bar read 5\.0 h after closing/u).waitFor();
    await card.getByText("Comes to rest at about 21.2 bar warm").waitFor();
    expect(await axeFindings(page)).toEqual([]);
    await page.context().close();
  });

  it("takes a gauge by the same pad as the first view", async () => {
    const page = await opened("charge", {
      posted: {
        "/api/journal": (): WriteAnswer => ({ accepted: true, text: "gauge: 9.5 bar" }),
      },
    });
    await page.getByRole("button", { name: "Enter gauge of cellar" }).click();
    await page.getByLabel("Pressure on the gauge").fill("9.5");
    await page.getByRole("button", { name: "Enter", exact: true }).click();
    await page.getByText("Written down: gauge: 9.5 bar.").waitFor();
    await page.context().close();
  });

  it("gives every charge as a line of CSV, a report, and says which served best only where the data tell", async () => {
    const page = await opened("charge", { read: { "/api/charges": twelveCharges() } });
    await page.getByText("Which served best cannot be told yet.").first().waitFor();
    const [file] = await Promise.all([
      page.waitForEvent("download"),
      page.getByRole("button", { name: "Download as CSV" }).click(),
    ]);
    const chunks: Buffer[] = [];
    for await (const chunk of await file.createReadStream()) chunks.push(chunk as Buffer);
    // RFC 4180: lines end with CRLF, each with as many fields as the header; no field here holds a comma but in quotes.
    const lines = Buffer.concat(chunks).toString("utf8").split("\r\n");
    expect(lines).toHaveLength(14);
    expect(lines[0]?.split(",")).toContain("deliveredHigh95_g");
    const fields = (line = ""): number => line.replaceAll(/"[^"]*"/gu, "x").split(",").length;
    expect(new Set(lines.slice(0, 13).map(fields)).size).toBe(1);
    await page.getByRole("button", { name: /^Report of cellar 3$/u }).click();
    await expect.poll(() => page.evaluate("document.activeElement.textContent")).toBe("Charge cellar 3");
    expect(await axeFindings(page)).toEqual([]);
    await page.emulateMedia({ media: "print" });
    expect(await page.getByRole("region", { name: "Charge cellar 3" }).isVisible()).toBe(true);
    expect(await page.getByText("Charges so far").isVisible()).toBe(false);
    await page.context().close();
  });
});

describe("Journal and upkeep", () => {
  it("records a task as done, shows a withdrawn entry as such, and lists only of one subject", async () => {
    const done: unknown[] = [];
    const at_epochMs = real.now_epochMs;
    const entry = { at_epochMs, enteredAt_epochMs: at_epochMs, source: "local", note: "" };
    const page = await opened("journal", {
      site: (site) => ({
        ...site,
        upkeep: site.upkeep.map((item) =>
          item.task === "O-ring" ? { ...item, state: { kind: "due" } } : item,
        ),
      }),
      posted: {
        "/api/upkeep/done": (body): WriteAnswer => {
          done.push(body);
          return { accepted: true, text: "upkeep done: O-ring" };
        },
      },
      read: {
        "/api/journal?*": {
          entries: [
            {
              ...entry,
              entryId: 2,
              withdrawn: true,
              withdrawnAt_epochMs: at_epochMs,
              fact: { kind: "kh test", tankId: "loach", kh_dKH: 14 },
              said: ["KH test: 14 dKH"],
            },
            {
              ...entry,
              entryId: 1,
              withdrawn: false,
              fact: { kind: "weighing", vesselId: "cellar", vesselMass_g: 4200 },
              said: ["weighing: 4200 g"],
            },
          ],
        },
      },
    });
    const due = page.getByRole("region", { name: "Due now" });
    await due.getByText(/loosen nothing under pressure/u).waitFor();
    await due.getByRole("button", { name: "Done: Look at the seal of cellar" }).click();
    await due.getByText("Written down: Look at the seal of cellar").waitFor();
    expect(done).toEqual([{ task: "O-ring", subject: "cellar" }]);
    const list = page.getByRole("region", { name: "What was done" });
    await list.getByText(/^withdrawn .*it counts no more$/u).waitFor();
    await list.getByLabel("Only of").selectOption("cellar");
    await list.getByText("weighing: 4200 g").waitFor();
    expect(await list.getByText("KH test: 14 dKH").count()).toBe(0);
    await page.context().close();
  });
});

type Vessel = SitePicture["vessels"][number];

function tooStrong(vessel: Vessel): Vessel {
  const { supply } = vessel;
  if (supply?.told === undefined) throw new Error("no estimate");
  return {
    ...vessel,
    restsAt: { value_bar: 21.2, low95_bar: 20.4, high95_bar: 22 },
    supply: {
      ...supply,
      told: {
        ...supply.told,
        estimate: { ...supply.told.estimate, phase: "settling" },
        pressurising: {
          kind: "too-strong",
          strength: { value: 1.4, deviation: 0.03 },
          warmGauge: { value: 21.2, deviation: 0.4 },
          plannedGauge_bar: 14.6,
          shownOfWarm_ratio: 0.95,
          nearsRating: true,
          ready_epochMs: undefined,
          plannedReady_epochMs: undefined,
          evidence: "20.1 bar read 5.0 h after closing",
          advice: ["Keep away from it."],
          said: {
            evidence: [{ kind: "pressure", gauge_bar: 20.1, places: 1 }, " read 5.0 h after closing"],
            advice: [["Keep away from it."]],
          },
        },
      },
    },
  };
}

/** Invented charges, as alike as real ones are not. */
function twelveCharges(): ChargesPicture {
  const day_ms = 86_400_000;
  const charges = Array.from({ length: 12 }, (_, k) => {
    const closed_epochMs = real.now_epochMs - (13 - k) * 25 * day_ms;
    const weighed = {
      acid: { kind: "citric-acid-anhydrous", mass_g: 82 },
      sodiumBicarbonate_g: 100,
      water_kg: 0.5,
    } as const;
    const delivered_g = 40 + (k % 5);
    const report = reportCharge(
      {
        ...weighed,
        chargeId: `cellar ${k}`,
        vesselId: "cellar",
        recipe: "ours, twice tried",
        vesselVolume_L: 2,
        weighing_g: 1,
        closedWith: k % 2 === 0 ? "water" : "ice",
        closed_epochMs,
        workingPressureGauge_bar: 2.5,
        ready_epochMs: undefined,
        settledGauge_bar: undefined,
        delivered_g: { value: delivered_g, low: delivered_g - 2, high: delivered_g + 2 },
        byValve: [],
        byTank: [],
        leak_gPerDay: { value: 0.1, low: 0, high: 0.3 },
        left_g: undefined,
        dosing_days: 22,
        forecastAtHalf: undefined,
        ended: { kind: "spent", at_epochMs: closed_epochMs + 24 * day_ms },
        prices: undefined,
      },
      real.now_epochMs,
    );
    return { ...report, ...weighed };
  });
  const comparisons = (["closedWith", "recipe"] as const).map((by) => compareCharges(charges, "yield", by));
  return { charges, comparisons, sentences: [] };
}
