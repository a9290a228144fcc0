import { describe, expect, it } from "vitest";
import { createSupplyModel } from "../../../../lib/estimation/supply-model.js";
import { createRandomSource } from "../../../../lib/simulation/random-source.js";
import {
  gaugeHoldNeeded_h,
  gaugeLeakVerdict,
  gaugeTemperatureEffect,
  type GaugeLook,
} from "../../../../lib/supply-watch/gauge-leak-test.js";
import { suppliedCharge } from "../../../support/supply-trace-rows.js";

const hour_ms = 3_600_000;
const { map } = createSupplyModel(suppliedCharge());
const gaugeOf = (reacted_g: number, temperature_degC: number): number =>
  map.pressureOf({
    reacted_g,
    atFirst_g: 0.95 * map.co2Available_g,
    temperature_degC,
    retained_ratio: 1,
    air_ratio: 0.6,
    airHaste_ratio: 1.1,
  }).pressureAbsolute_bar - 1.01325;
const half_g = map.co2Available_g / 2;
const test = { matters_gPerDay: 1, accuracy_bar: 0.1 };

function look(at_h: number, lost_g: number, temperature_degC?: number): GaugeLook {
  return {
    at_epochMs: at_h * hour_ms,
    pressureGauge_bar: gaugeOf(half_g - lost_g, temperature_degC ?? 20),
    ...(temperature_degC === undefined ? {} : { temperature_degC }),
  };
}

describe("leak test by a gauge read by eye", () => {
  it("gives a loss of 4 g a day with an interval that holds it, whatever the room did", () => {
    const verdict = gaugeLeakVerdict(map, [look(0, 0, 23), look(48, 8, 18)], test);
    expect(verdict.kind).toBe("leaks");
    if (verdict.kind !== "leaks") return;
    expect(verdict.low95_gPerDay).toBeLessThan(4);
    expect(verdict.high95_gPerDay).toBeGreaterThan(4);
    expect(verdict.leak_gPerDay).toBeGreaterThan(3.2);
    expect(verdict.leak_gPerDay).toBeLessThan(4.8);
  });

  it("calls no vessel leaking that only cooled, and says what the cooling did to the gauge", () => {
    const looks = [look(0, 0, 24), look(12, 0, 18)];
    expect(gaugeLeakVerdict(map, looks, test).kind).toBe("cannot-be-told");
    const effect = gaugeTemperatureEffect(map, looks)!;
    expect(effect.change_K).toBe(-6);
    const fell_bar = looks[1]!.pressureGauge_bar - looks[0]!.pressureGauge_bar;
    expect(effect.onGauge_bar / fell_bar).toBeGreaterThan(0.85);
    expect(effect.onGauge_bar / fell_bar).toBeLessThan(1.15);
  });

  it("says before it begins how long it takes, and keeps the word", () => {
    const needed_h = gaugeHoldNeeded_h(map, look(0, 0, 20), test)!;
    expect(gaugeLeakVerdict(map, [look(0, 0, 20), look(1.1 * needed_h, 0, 20)], test).kind).toBe("tight");
    expect(gaugeLeakVerdict(map, [look(0, 0, 20), look(0.8 * needed_h, 0, 20)], test).kind).toBe(
      "cannot-be-told",
    );
    const leak_g = (1.1 * needed_h) / 24;
    expect(gaugeLeakVerdict(map, [look(0, 0, 20), look(1.1 * needed_h, 1.2 * leak_g, 20)], test).kind).toBe(
      "leaks",
    );
  });

  it("needs longer with a coarser dial, longer without a thermometer, and names a dial with which it is no test", () => {
    const by = (accuracy_bar: number, temperature_degC?: number): number =>
      gaugeHoldNeeded_h(map, look(0, 0, temperature_degC), { ...test, accuracy_bar }) ?? Infinity;
    expect(by(0.5, 20)).toBeGreaterThan(by(0.1, 20));
    expect(by(0.1)).toBeGreaterThan(by(0.1, 20));
    expect(by(3, 20)).toBe(Infinity);
  });

  it("holds the true loss in about 95 of 100 tests whose gauge is read to a division", () => {
    // JCGM 100:2008, 4.3.7: what is rounded to a step is off by up to half of it, any error alike.
    const random = createRandomSource(11);
    const division_bar = 0.5;
    let inside = 0;
    const draws = 400;
    for (let k = 0; k < draws; k += 1) {
      const leak_gPerDay = 4 * random();
      const looks = [0, 60 + 24 * random()].map((at_h): GaugeLook => {
        const true_bar = gaugeOf(half_g - (leak_gPerDay * at_h) / 24, 20);
        // Nobody knows where between two divisions the pointer stood.
        const zero_bar = division_bar * random();
        const pressureGauge_bar = Math.round((true_bar + zero_bar) / division_bar) * division_bar - zero_bar;
        return { at_epochMs: at_h * hour_ms, pressureGauge_bar, temperature_degC: 20 };
      });
      const verdict = gaugeLeakVerdict(map, looks, { ...test, accuracy_bar: division_bar / 2 });
      if (verdict.kind === "leaks") {
        if (verdict.low95_gPerDay <= leak_gPerDay && leak_gPerDay <= verdict.high95_gPerDay) inside += 1;
      } else if (verdict.kind === "cannot-be-told" || leak_gPerDay <= verdict.below_gPerDay) inside += 1;
    }
    expect(inside / draws).toBeGreaterThanOrEqual(0.94);
  });

  it.each([
    { looks: [], needed: false, because: "nothing was read" },
    { looks: [look(0, 0, 20)], needed: true, because: "one look is no difference" },
    { looks: [look(5, 0, 20), look(5, 0, 20)], needed: true, because: "both at one instant" },
  ])("cannot tell from too few looks: $because", ({ looks, needed }) => {
    const verdict = gaugeLeakVerdict(map, looks, test);
    expect(verdict).toMatchObject({ kind: "cannot-be-told", why: "no-readings", closed_h: 0 });
    if (verdict.kind === "cannot-be-told") expect(verdict.needed_h !== undefined).toBe(needed);
  });

  it("takes looks in any order, and more of them make it surer", () => {
    const two = [look(0, 0, 20), look(72, 9, 20)];
    const more = [look(72, 9, 20), look(0, 0, 20), look(1, 0.125, 20), look(71, 8.875, 20)];
    const width = (looks: readonly GaugeLook[]): number => {
      const verdict = gaugeLeakVerdict(map, looks, test);
      return verdict.kind === "leaks" ? verdict.high95_gPerDay - verdict.low95_gPerDay : Infinity;
    };
    expect(width(more)).toBeLessThan(width(two));
    expect(width([...two].reverse())).toBe(width(two));
  });
});
