import { describe, expect, it } from "vitest";
import { ageText, statusLines } from "../../../daemon/status-text.js";
import { benchYaml, ControlBench } from "../../support/control-bench.js";
import { edited } from "../../support/marked-config.js";

/** Berlin is two hours ahead of these instants; the window of the bench is 09:00 to 18:30 there. */
async function lines(
  startAt: string,
  change: (bench: ControlBench) => void = () => undefined,
  options: { readonly seconds?: number; readonly yaml?: string } = {},
): Promise<readonly string[]> {
  const bench = new ControlBench({ startAt, ...(options.yaml === undefined ? {} : { yaml: options.yaml }) });
  bench.sensors.set("loach/ph", () => "6.80");
  await bench.start();
  await bench.seconds(30);
  change(bench);
  await bench.seconds(options.seconds ?? 2);
  return statusLines(bench.status, bench.model);
}

describe("the status for people", () => {
  it("shows what a silent sensor was refused for only where that came after its last value", async () => {
    const wildOnce = (bench: ControlBench): void => void bench.sensors.set("loach/ph", () => "77");
    const bench = new ControlBench({ startAt: "2026-05-04T09:00:00Z" });
    await bench.start();
    const live = bench.sensors.get("loach/ph")!;
    wildOnce(bench);
    await bench.seconds(2);
    bench.sensors.set("loach/ph", live);
    await bench.seconds(5);
    bench.sensors.delete("loach/ph");
    await bench.seconds(300);
    const said = (): string => statusLines(bench.status, bench.model).join("\n");
    expect(said()).toContain("guard sensor loach-ph gives no believable value");
    expect(said()).not.toMatch(/last refused|last rejected|77/);
    wildOnce(bench);
    await bench.seconds(2);
    expect(said()).toMatch(/last refused: implausible, 77/);
    expect(said()).toMatch(/last rejected: implausible, 77/);
  });

  it("says in local time what flows, what is known with its age, and that nothing is wrong", async () => {
    expect(await lines("2026-05-04T09:00:00Z")).toEqual([
      "mill-pond, 2026-05-04 11:00:31 (Europe/Berlin)",
      "valve outlet  reports open, is told open: dosing window",
      "  dosing window until 18:30",
      expect.stringMatching(
        /^tank loach {2}CO2 \d\d mg\/L \(80 %: \d+ to \d+\), in target, pH 6\.80 \(0 s old\), 24\.5 degC \(0 s old\), KH 4 dKH by the config$/,
      ),
      "  probe: +-0.20 pH. Never calibrated here: calibrate it in two buffers, best 7 and 4.",
      "  lead not learnt yet: gas opens 60 min before the lights, as the config says; it takes some nights",
      "vessel cellar  no sensor; its gauge is read by eye",
      "sensor loach-ph  pH 6.80 (0 s old)",
      "sensor loach-temperature  24.5 degC (0 s old)",
      "no alarm",
    ]);
  });

  it("names the next opening with its date, when it is on another day", async () => {
    const said = await lines("2026-05-04T18:00:00Z");
    expect(said).toContain("valve outlet  reports closed, is told closed: outside the dosing window");
    expect(said).toContain("  dosing window from 2026-05-05 09:00");
  });

  it("says why gas is held off, everything else that would hold it off, and what to do", async () => {
    const silent = (bench: ControlBench): void => {
      bench.sensors.delete("loach/ph");
      bench.sensors.set("loach/temperature", () => "31");
    };
    const said = await lines("2026-05-04T09:00:00Z", silent, { seconds: 300 });
    const text = said.join("\n");
    expect(text).toContain("reports closed, is told closed: guard sensor silent: loach-ph has given no");
    expect(text).toContain(
      "  and then: temperature above the limit: loach is at 31.0 degC, the limit is 30 degC",
    );
    expect(text).toContain(
      "tank loach  CO2 not known, pH 6.80 (5 min old, no longer believed), 31.0 degC (0 s old)",
    );
    expect(text).toMatch(/alarm, high, since 11:0\d: guard sensor loach-ph gives no believable value\. Gas/);
    expect(text).not.toContain("no alarm");
  });

  it("names a trip with the command that re-arms it", async () => {
    const acid = (bench: ControlBench): void => void bench.sensors.set("loach/ph", () => "5.90");
    const said = await lines("2026-05-04T09:00:00Z", acid, { seconds: 5 });
    expect(said.join("\n")).toMatch(
      /tripped {2}tank loach: pH below the floor \(then: pH 5\.90, the floor is 6\), since 11:00; re-arm with: rearm tank loach/,
    );
  });

  it("shows a vessel's gauge, and a sensor that has never spoken with what it was refused for", async () => {
    const yaml = edited(benchYaml, [
      ["volume_L: 2,", "volume_L: 2, pressureSensor: gauge,"],
      [
        "vessels:",
        "  gauge: { measures: pressure, unit: bar, reference: gauge, topic: gauge, maximumAge_s: 60 }\nvessels:",
      ],
    ]);
    const wild = (bench: ControlBench): void => void bench.sensors.set("gauge", () => "9999");
    const said = await lines("2026-05-04T09:00:00Z", wild, { yaml });
    expect(said).toContain("vessel cellar  no value yet");
    expect(said.find((line) => line.startsWith("sensor gauge"))).toMatch(
      /^sensor gauge {2}no value yet; last refused: implausible, 9999 bar gauge/,
    );
    const calm = (bench: ControlBench): void => void bench.sensors.set("gauge", () => "12.345");
    expect(await lines("2026-05-04T09:00:00Z", calm, { yaml })).toContain(
      "vessel cellar  12.35 bar gauge (0 s old)",
    );
  });
});

it.each([
  [0.4, "0 s"],
  [119.9, "119 s"],
  [120, "2 min"],
  [7199, "119 min"],
  [7200, "2 h"],
  [172_800, "2 days"],
])("an age of %d s is %s", (age_s, text) => {
  expect(ageText(age_s)).toBe(text);
});
