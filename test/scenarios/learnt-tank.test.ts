import { beforeAll, describe, expect, it } from "vitest";
import { storedLearning } from "../../daemon/tank/learning-memory.js";
import type { LearntTankStatus } from "../../daemon/tank/learnt-tank-status.js";
import { learningSnapshotName } from "../../daemon/tank/tank-learner.js";
import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import { createRandomSource, drawNormal } from "../../lib/simulation/random-source.js";
import { advanceTank, tankPh, type SimulatedTankState } from "../../lib/simulation/simulated-tank.js";
import type { TankLearning } from "../../lib/tank/tank-learning-state.js";
import { benchYaml, ControlBench } from "../support/control-bench.js";
import { learningTank, runLearningDays } from "../support/learning-days.js";
import { edited } from "../support/marked-config.js";
import { MemorySiteStore } from "../support/memory-site-store.js";

/**
 * Virtual days of the control path around a tank of finer physics than the learning's: layers, a probe that lags, rates that
 * follow the temperature. Lights 10:00 to 19:00 in Berlin, gas until 18:30.
 */
const step_s = 20;
const dose_mgPerLPerH = 5;
const target_mgPerL = 10;

const yaml = edited(benchYaml, [
  ["kh_dKH: 4", `kh_dKH: ${learningTank.kh_dKH}`],
  ["topic: loach/ph,", "topic: loach/ph, accuracy: 0.05,"],
  ["limits: { co2Close_mgPerL: 60,", `limits: { co2TargetLow_mgPerL: ${target_mgPerL}, co2Close_mgPerL: 60,`],
]);
const lights = 'photoperiods: [{ lightsOn: "10:00", lightsOff: "19:00" }]';
const optedIn = yaml.replace(
  lights,
  `${lights}\n    lead_min: 60\n    useLearntLead: { atLeast_min: 45, atMost_min: 75 }`,
);

interface World {
  readonly bench: ControlBench;
  /** The valve's seat: gas flows whatever the relay does. */
  hangsOpen: boolean;
  probeIsSilent: boolean;
  co2_mgPerL(): number;
}

function worldOf(startAt: string, config: string, seed = 5): World {
  const bench = new ControlBench({ startAt, yaml: config, step_s });
  const random = createRandomSource(seed);
  let water: SimulatedTankState = { co2_mgPerL: 5, temperature_degC: 24.6, heaterOn: false };
  let last_epochMs = bench.clock.now_epochMs();
  let wanderPh = 0;
  const world: World = {
    bench,
    hangsOpen: false,
    probeIsSilent: false,
    co2_mgPerL: () => water.co2_mgPerL,
  };
  const injection_molPerH =
    (dose_mgPerLPerH * learningTank.volume_L) /
    learningTank.diffuserEfficiency_ratio /
    molarMass_gPerMol.co2 /
    1000;
  const advance = (): void => {
    const now_epochMs = bench.clock.now_epochMs();
    const duration_s = (now_epochMs - last_epochMs) / 1000;
    if (duration_s <= 0) return;
    last_epochMs = now_epochMs;
    const flows = world.hangsOpen || bench.relay.isOn();
    const lightsOn = bench.model.tanks.get("loach")!.lights.stateAt(now_epochMs).kind === "open";
    const memory = Math.exp(-duration_s / 3600);
    wanderPh = wanderPh * memory + 0.004 * Math.sqrt(1 - memory ** 2) * drawNormal(random);
    water = advanceTank(learningTank, water, {
      duration_s,
      injectedCo2_mol: flows ? (injection_molPerH * duration_s) / 3600 : 0,
      lightsOn,
      aerating: false,
      room_degC: 20,
      roomCo2_ppm: 650,
    });
  };
  bench.sensors.set("loach/ph", () => {
    advance();
    if (world.probeIsSilent) return undefined;
    return (tankPh(learningTank, water) + wanderPh + 0.006 * drawNormal(random)).toFixed(2);
  });
  bench.sensors.set("loach/temperature", () => water.temperature_degC.toFixed(1));
  return world;
}

function learntOf({ bench }: World): LearntTankStatus {
  return bench.status.learnt[0]!;
}

/** Minutes from the opening until the tank's true CO2 stands at the target, from where the night has left it. */
function trueLead_min(startCo2_mgPerL: number): number {
  let water: SimulatedTankState = { co2_mgPerL: startCo2_mgPerL, temperature_degC: 24.5, heaterOn: false };
  let minutes = 0;
  while (water.co2_mgPerL < target_mgPerL) {
    water = advanceTank(learningTank, water, {
      duration_s: 60,
      injectedCo2_mol:
        (dose_mgPerLPerH * learningTank.volume_L) /
        learningTank.diffuserEfficiency_ratio /
        molarMass_gPerMol.co2 /
        1000 /
        60,
      lightsOn: false,
      aerating: false,
      room_degC: 20,
      roomCo2_ppm: 650,
    });
    minutes += 1;
  }
  return minutes;
}

describe("five days of a tank whose lead may be learnt", () => {
  const opened = new Map<string, number>();
  const raised = new Set<string>();
  const leads: { readonly at_epochMs: number; readonly lead_min: number }[] = [];
  let world: World;
  let nightEnd_mgPerL = NaN;

  beforeAll(async () => {
    world = worldOf("2026-05-01T19:30:00+02:00", optedIn);
    const { bench } = world;
    await bench.start();
    let wasOn = false;
    await bench.stretch("2026-05-06T19:30:00+02:00", () => {
      for (const alarm of bench.alarms()) raised.add(alarm);
      const now_epochMs = bench.clock.now_epochMs();
      if (bench.relay.isOn() && !wasOn) {
        nightEnd_mgPerL = world.co2_mgPerL();
        opened.set(new Date(now_epochMs).toISOString().slice(0, 10), now_epochMs);
      }
      wasOn = bench.relay.isOn();
      const { usedLead_min: lead_min } = bench.status.learnt[0] ?? { usedLead_min: 60 };
      if (leads.at(-1)?.lead_min !== lead_min) leads.push({ at_epochMs: now_epochMs, lead_min });
    });
  }, 300_000);

  it("learns its gas exchange, its dose and the lead to within their intervals", () => {
    const learnt = learntOf(world);
    // The first night began with little CO2, of which little could fall.
    expect(learnt.exchange).toMatchObject({ kind: "estimate", nights: 4, change: undefined });
    if (learnt.exchange.kind !== "estimate") return;
    expect(learnt.exchange.kLow90_perH).toBeLessThan(learningTank.gasExchange_perH);
    expect(learnt.exchange.kHigh90_perH).toBeGreaterThan(learningTank.gasExchange_perH * 0.95);
    expect(learnt.dose!.dose_mgPerLPerH / dose_mgPerLPerH).toBeGreaterThan(0.88);
    expect(learnt.dose!.dose_mgPerLPerH / dose_mgPerLPerH).toBeLessThan(1.12);
    const { lead } = learnt;
    expect(lead.kind).toBe("reached");
    if (lead.kind !== "reached") return;
    const true_min = trueLead_min(nightEnd_mgPerL);
    expect(lead.lead_min / true_min).toBeGreaterThan(0.85);
    expect(lead.lead_min / true_min).toBeLessThan(1.2);
    expect(lead.leadLow80_min).toBeLessThanOrEqual(lead.lead_min);
    expect(lead.leadHigh80_min).toBeGreaterThanOrEqual(lead.lead_min);
  });

  it("moves the lead by 10 minutes a day at most, and stays within the keeper's limits", () => {
    expect(leads.map(({ lead_min }) => lead_min)).toEqual([60, 70, 75]);
    for (const [index, { at_epochMs }] of leads.slice(2).entries()) {
      expect(at_epochMs - leads[index + 1]!.at_epochMs).toBeGreaterThanOrEqual(24 * 3_600_000);
    }
  });

  it("opens by the lead that was in use when the window was entered", () => {
    const days = [...opened.values()].map((at_epochMs) => {
      const used = leads.filter((lead) => lead.at_epochMs <= at_epochMs).at(-1)!.lead_min;
      const lightsOn_epochMs = Date.parse(
        `${new Date(at_epochMs).toISOString().slice(0, 10)}T10:00:00+02:00`,
      );
      return Math.abs((lightsOn_epochMs - at_epochMs) / 60_000 - used);
    });
    expect(days).toHaveLength(5);
    expect(Math.max(...days)).toBeLessThan(1);
  });

  it("calls every closing a closing, and raises nothing", () => {
    expect(learntOf(world).verdict?.proof.kind).toBe("gas stopped");
    expect([...raised]).toEqual([]);
  });
});

describe("a night of a tank that is known", () => {
  let known: TankLearning;
  const evening = "2026-05-08T18:00:00+02:00";

  beforeAll(() => {
    known = runLearningDays(4);
  });

  async function begun(config = yaml): Promise<World> {
    const world = worldOf(evening, config);
    const { bench } = world;
    const store = new MemorySiteStore(() => bench.clock.now_epochMs(), bench.disk);
    await store.start();
    const learning = storedLearning(new Map([["loach", known]]));
    expect(await store.saveSnapshot(learningSnapshotName, learning)).toBe(true);
    await store.stop();
    // The evening's gas brings the tank to where a day leaves it.
    world.hangsOpen = true;
    await bench.start();
    return world;
  }

  it("raises the alarm within hours when the valve hangs open, trips it, and lets nobody re-arm it that night", async () => {
    const world = await begun();
    const { bench } = world;
    await bench.stretch("2026-05-08T23:59:00+02:00");
    expect(bench.alarms()).toEqual(["trip/valve/outlet/gas did not stop"]);
    const alarm = bench.status.alarms.find(({ raised }) => raised)!;
    expect(alarm.condition.whatToDo).toContain("shut the vessel by hand, aerate, watch the fish");
    expect(alarm.condition.cause).toMatch(
      /gas did not stop \(when it tripped: loach: in \d\.\d h of the night CO2 by pH and KH/,
    );
    const refused = await bench.say({ command: "rearm", kind: "valve", id: "outlet" });
    expect(refused.kind).toBe("refused");
    expect((refused as { readonly text: string }).text).toContain("the cause is not known to be gone");
    world.hangsOpen = false;
    await bench.stretch("2026-05-09T12:00:00+02:00");
    expect(bench.decision).toMatchObject({ action: "closed", gist: "tripped" });
    expect(await bench.say({ command: "rearm", kind: "valve", id: "outlet" })).toMatchObject({
      kind: "done",
    });
    await bench.stretch("2026-05-09T12:01:00+02:00");
    expect(bench.decision.action).toBe("open");
  }, 120_000);

  it("goes on watching over a kill: the night is one, and its fit that of a night without", async () => {
    const undisturbed = await begun();
    const killed = await begun();
    for (const world of [undisturbed, killed]) {
      world.hangsOpen = false;
      await world.bench.stretch("2026-05-09T01:00:00+02:00");
    }
    await killed.bench.kill();
    await killed.bench.start();
    const nightsBefore = known.nights.filter(({ fit }) => fit.kind === "fitted").length;
    for (const { bench } of [undisturbed, killed]) await bench.stretch("2026-05-09T10:30:00+02:00");
    const [one, other] = [undisturbed, killed].map((world) => learntOf(world).latestNight!);
    expect(other!.from_epochMs).toBe(one!.from_epochMs);
    expect(other!.until_epochMs).toBe(one!.until_epochMs);
    expect(one!.fit.kind).toBe("fitted");
    expect(other!.fit.kind).toBe("fitted");
    if (one!.fit.kind !== "fitted" || other!.fit.kind !== "fitted") return;
    // At most the minutes that were not yet taken together are missing.
    expect(Math.abs(other!.fit.k_perH / one!.fit.k_perH - 1)).toBeLessThan(0.03);
    expect(learntOf(killed).exchange).toMatchObject({ kind: "estimate", nights: nightsBefore + 1 });
  }, 120_000);

  it("says nothing of a night in which the probe fell silent, though the valve hangs open", async () => {
    const world = await begun();
    const { bench } = world;
    await bench.stretch("2026-05-08T19:45:00+02:00");
    world.probeIsSilent = true;
    await bench.stretch("2026-05-09T06:00:00+02:00");
    expect(learntOf(world).night?.proof).toMatchObject({ kind: "cannot be told" });
    expect(learntOf(world).verdict?.nightFrom_epochMs).not.toBe(learntOf(world).night?.from_epochMs);
    expect(bench.alarms().filter((id) => id.includes("not-falling") || id.includes("trip"))).toEqual([]);
    expect(bench.alarms()).toContain("guard-silent/loach-ph");
  }, 120_000);

  it("bridges a silence of the probe by balance for the eye, and opens no gas on it", async () => {
    const world = await begun();
    const { bench } = world;
    world.hangsOpen = false;
    await bench.stretch("2026-05-09T07:30:00+02:00");
    expect(learntOf(world).inSilence).toBeUndefined();
    const status = async (): Promise<string> =>
      ((await bench.say({ command: "status" })) as { readonly text: string }).text;
    expect(await status()).not.toContain("by balance");
    world.probeIsSilent = true;
    // The window opens at 09:00.
    await bench.stretch("2026-05-09T09:20:00+02:00");
    const { inSilence } = learntOf(world);
    expect(inSilence?.kind).toBe("by balance");
    if (inSilence?.kind !== "by balance") return;
    expect(inSilence.co2Low80_mgPerL).toBeLessThan(world.co2_mgPerL());
    expect(inSilence.co2High80_mgPerL).toBeGreaterThan(world.co2_mgPerL());
    expect(await status()).toMatch(
      /CO2 about [\d.]+ mg\/L \(80 %: [\d.]+ to [\d.]+\) by balance, since the probe is silent for 1\d\d min; reckoned, not measured: no gas is opened on it/,
    );
    expect(bench.decision.action).toBe("closed");
    expect(bench.status.tanks[0]!.co2).toBeUndefined();
    expect(bench.alarms()).toContain("guard-silent/loach-ph");
    world.probeIsSilent = false;
    await bench.stretch("2026-05-09T09:40:00+02:00");
    expect(learntOf(world).inSilence).toBeUndefined();
    expect(bench.decision.action).toBe("open");
  }, 120_000);

  it("only offers the lead where the keeper lets nothing be learnt", async () => {
    const world = await begun();
    const { bench } = world;
    world.hangsOpen = false;
    await bench.stretch("2026-05-08T20:30:00+02:00");
    expect(learntOf(world)).toMatchObject({ usedLead_min: 60, lead: { kind: "reached" } });
    const { text } = (await bench.say({ command: "status" })) as { readonly text: string };
    expect(text).toMatch(
      /learnt lead \d+ min \(80 %: \d+ to \d+\) for 10 mg\/L when the lights go on after the night; lead_min is 60/,
    );
  }, 120_000);
});
