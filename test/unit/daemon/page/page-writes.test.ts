import { describe, expect, it } from "vitest";
import { createWrites } from "../../../../daemon/page/writes.js";
import type { ChargePlan } from "../../../../lib/charge-plan/plan-charge.js";
import type { Hold } from "../../../../lib/control/hold.js";
import type { Trip } from "../../../../lib/control/trip.js";
import { startPageBench } from "../../../support/page-bench.js";

const at_epochMs = Date.parse("2026-05-04T11:00:00+02:00");
const trip: Trip = {
  subject: { kind: "tank", id: "loach" },
  cause: "CO2 above the close limit",
  reason: "70 mg/L",
  at_epochMs,
};
const holds: readonly Hold[] = [
  { kind: "maintenance lock", subject: { kind: "valve", id: "outlet" }, since_epochMs: at_epochMs, note: "" },
  {
    kind: "refill in progress",
    subject: { kind: "vessel", id: "cellar" },
    since_epochMs: at_epochMs,
    note: "",
  },
];

const chargeClosed = {
  kind: "charge closed",
  vessel: "cellar",
  sodiumBicarbonate_g: 100,
  citricAcidAnhydrous_g: 82,
  water_kg: 0.5,
  sealedAt_degC: 20,
};

describe("what a page may have done", () => {
  it("is this list, and a new one is a decision", () => {
    const writes = createWrites({ machineClock: { monotonic_ms: () => 0 } } as Parameters<
      typeof createWrites
    >[0]);
    expect(
      writes.map(({ path }) => path.source.replaceAll("\\/", "/").replace("(?<id>[a-z0-9-]{1,40})", "ID")),
    ).toEqual([
      "^/api/journal$",
      "^/api/upkeep/done$",
      "^/api/alarms/acknowledge$",
      "^/api/valves/ID/close-for$",
      "^/api/valves/ID/open-until$",
      "^/api/vessels/ID/refill$",
      "^/api/plan$",
    ]);
  });

  it("re-arms no trip, lifts no hold and tries no relay, whatever is sent where", async () => {
    const page = await startPageBench({ snapshot: { trips: [trip], holds } });
    const before = page.control.run.cycle.snapshot();
    const paths = [
      "/api/journal",
      "/api/upkeep/done",
      "/api/alarms/acknowledge",
      "/api/valves/outlet/close-for",
      "/api/valves/outlet/open-until",
      "/api/vessels/cellar/refill",
      "/api/plan",
      "/api/rearm",
      "/api/tanks/loach/rearm",
      "/api/valves/outlet/rearm",
      "/api/holds/lift",
      "/api/vessels/cellar/refill/end",
      "/api/commission",
      "/api/accept-clock",
    ];
    const bodies = [
      { command: "rearm", kind: "tank", id: "loach" },
      { command: "hold-lift", kind: "maintenance lock", subject: { kind: "valve", id: "outlet" } },
      { command: "accept-clock" },
      { command: "commission", valve: "outlet" },
      { for_min: 0 },
      { until_epochMs: null },
      { until_epochMs: page.control.clock.now_epochMs() + 60_000 },
      { note: "" },
      { ...chargeClosed, sure: true },
    ];
    for (const path of paths) for (const body of bodies) await page.send(path, body);
    await page.control.seconds(5);
    const after = page.control.run.cycle.snapshot();
    expect(after.trips).toEqual(before.trips);
    expect(after.holds).toEqual(before.holds);
    expect(after.commissioned).toEqual(before.commissioned);
    expect(page.control.status.valves[0]!.decision.action).toBe("closed");
  });

  it("closes a valve for a time, and lets it follow its schedule again", async () => {
    const page = await startPageBench();
    expect(page.control.status.valves[0]!.decision.action).toBe("open");
    expect((await page.send("/api/valves/outlet/close-for", { for_min: 30 })).json()).toMatchObject({
      accepted: true,
    });
    await page.control.seconds(2);
    expect(page.control.status.valves[0]!.decision.action).toBe("closed");
    expect((await page.send("/api/valves/outlet/close-for", { for_min: 0 })).json()).toMatchObject({
      accepted: true,
    });
    expect(page.control.run.cycle.snapshot().overrides).toEqual([]);
  });

  it.each([
    { startAt: "2026-05-04T12:00:00+02:00", accepted: true, because: "inside the window" },
    { startAt: "2026-05-04T23:00:00+02:00", accepted: false, because: "outside of it" },
  ])("opens a valve as a hub may: $because", async ({ startAt, accepted }) => {
    const page = await startPageBench({ startAt });
    const until_epochMs = page.control.clock.now_epochMs() + 600_000;
    const answer = await page.send("/api/valves/outlet/open-until", { until_epochMs });
    expect(answer.json()).toMatchObject({ accepted });
    expect(page.control.run.cycle.snapshot().overrides).toHaveLength(accepted ? 1 : 0);
  });

  it("opens nothing that a person at the machine has closed, or that has tripped", async () => {
    const closed = {
      valveId: "outlet",
      action: "closed",
      until_epochMs: at_epochMs + 9e7,
      source: "local",
    } as const;
    for (const snapshot of [{ overrides: [closed] }, { trips: [trip] }]) {
      const page = await startPageBench({ snapshot });
      const until_epochMs = page.control.clock.now_epochMs() + 600_000;
      expect((await page.send("/api/valves/outlet/open-until", { until_epochMs })).json()).toMatchObject({
        accepted: false,
      });
    }
  });

  it("enters what was measured, and asks for a second word where it is unusual", async () => {
    const page = await startPageBench();
    const kept = await page.send("/api/journal", { kind: "kh test", kh_dKH: 4.5 });
    expect(kept.json()).toMatchObject({ accepted: true, entry: { subject: "loach" } });
    expect(page.control.run.journal.latest("kh test", "loach")).toMatchObject({ source: "remote" });
    const strange = { kind: "kh test", kh_dKH: 39 };
    expect((await page.send("/api/journal", strange)).json()).toMatchObject({
      accepted: false,
      needsSecondWord: true,
    });
    expect((await page.send("/api/journal", { ...strange, sure: true })).json()).toMatchObject({
      accepted: true,
    });
  });

  it("begins a refill, which closes, and records the charge without ending the hold", async () => {
    const page = await startPageBench();
    const begun = await page.send("/api/vessels/cellar/refill", { note: "from the page" });
    expect(begun.json()).toMatchObject({ accepted: true });
    expect(begun.text).toContain("slowly and outside");
    await page.control.seconds(60);
    expect(page.control.status.valves[0]!.decision.action).toBe("closed");
    expect((await page.send("/api/journal", chargeClosed)).json()).toMatchObject({ accepted: true });
    await page.control.seconds(10);
    expect(page.control.run.cycle.snapshot().holds).toMatchObject([{ kind: "refill in progress" }]);
  });

  it("plans a charge as the command line does, and tells a refusal plainly", async () => {
    const page = await startPageBench();
    const asked = async (wish: object) =>
      (await page.send("/api/plan", wish)).json() as {
        kind: string;
        plan?: ChargePlan;
        reason?: string;
        cautions?: [];
      };
    const small = await asked({ sodiumBicarbonate_g: 60 });
    expect(small.plan).toMatchObject({ kind: "plan", amounts: { sodiumBicarbonate_g: 60 } });
    expect(small.cautions!.length).toBeGreaterThan(2);
    expect((await asked({ sodiumBicarbonate_g: 400 })).plan).toMatchObject({ kind: "refused" });
    expect(await asked({ sodiumBicarbonate_g: 60, days: 3 })).toMatchObject({ kind: "not understood" });
    expect(await asked({ sodiumBicarbonate_g: -5 })).toMatchObject({ kind: "not understood" });
    expect(await asked({ days: 3, wine: true })).toMatchObject({ kind: "not understood" });
  });

  it("takes so much of a flood and no more, but always hears a wish to close", async () => {
    const page = await startPageBench();
    const answers: unknown[] = [];
    for (let k = 0; k < 20; k += 1) {
      answers.push((await page.send("/api/journal", { kind: "water change", changed_L: 10 + k })).json());
    }
    expect(answers.filter((answer) => (answer as { accepted: boolean }).accepted)).toHaveLength(10);
    const until_epochMs = page.control.clock.now_epochMs() + 600_000;
    for (let k = 0; k < 20; k += 1) await page.send("/api/valves/outlet/open-until", { until_epochMs });
    expect((await page.send("/api/valves/outlet/close-for", { for_min: 10 })).json()).toMatchObject({
      accepted: true,
    });
  });
});
