import { describe, expect, it } from "vitest";
import { createPublications } from "../../../daemon/publications.js";
import { parseConfig } from "../../../daemon/config/load-config.js";
import { statusLines } from "../../../daemon/status-text.js";
import { benchYaml, ControlBench, modelOf } from "../../support/control-bench.js";
import { edited } from "../../support/marked-config.js";

const withBattery = (battery: string): string =>
  edited(benchYaml, [["stuckAfter_min: 30 }", `stuckAfter_min: 30, battery: ${battery} }`]]);

async function bench(battery: string): Promise<ControlBench> {
  const started = new ControlBench({ yaml: withBattery(battery), startAt: "2026-05-04T09:00:00Z" });
  await started.start();
  await started.seconds(5);
  return started;
}

const alarmOf = ({ status }: ControlBench) =>
  status.alarms.find(({ condition }) => condition.alarmId === "battery/loach-ph");
const isRaised = (site: ControlBench): boolean => alarmOf(site)?.state === "unacknowledged";

describe("the battery of a sensor", () => {
  const percent = "{ topic: loach/state, value: $.battery, unit: percent, low: 15 }";

  it("is told low at its limit, and good again only well above it", async () => {
    const site = await bench(percent);
    const says = async (battery: unknown): Promise<boolean> => {
      site.broker.publish("loach/state", JSON.stringify({ battery }));
      await site.seconds(2);
      return isRaised(site);
    };
    expect(await says(16)).toBe(false);
    expect(await says(15)).toBe(true);
    expect(alarmOf(site)!.condition).toMatchObject({
      priority: "low",
      cause: "the battery of sensor loach-ph is low: 15 %, the limit is 15 %",
      consequence: expect.stringContaining("gas is held off") as string,
    });
    expect(alarmOf(site)!.condition.subjects).toContainEqual({ kind: "tank", id: "loach" });
    expect(await says(19)).toBe(true);
    expect(await says("no number")).toBe(true);
    expect(await says(21)).toBe(false);
    expect(await says(16)).toBe(false);
  });

  it("stands in status and in the document of its tank, also as the broker has kept it", async () => {
    const site = await bench("{ topic: loach/battery, unit: volt, low: 2.7 }");
    expect(statusLines(site.status, site.model).join("\n")).not.toContain("battery");
    site.broker.publish("loach/battery", "2.612");
    await site.seconds(2);
    expect(statusLines(site.status, site.model).join("\n")).toMatch(
      /^sensor loach-ph {2}.*, battery 2\.61 V, which is low/m,
    );
    createPublications({ bus: site.run.bus, clock: site.clock }, () => site.model).publish(site.status);
    await site.seconds(1);
    const document = site.broker.passed.filter(({ topic }) => topic.endsWith("tank/loach")).at(-1);
    expect(JSON.parse(document!.payload)).toMatchObject({
      pH: { battery: { value: 2.612, unit: "volt", low: true } },
    });
  });

  it("moves no valve", async () => {
    const site = await bench(percent);
    await site.seconds(60);
    expect(site.decision.action).toBe("open");
    site.broker.publish("loach/state", '{"battery": 0}');
    await site.seconds(5);
    expect(isRaised(site)).toBe(true);
    expect(site.decision.action).toBe("open");
  });

  it("is forgotten when the config does not name it any more", async () => {
    const site = await bench(percent);
    site.broker.publish("loach/state", '{"battery": 3}');
    await site.seconds(2);
    site.run.cycle.replaceModel(modelOf(benchYaml));
    await site.seconds(2);
    expect(isRaised(site)).toBe(false);
  });

  it("has a limit that a battery can be above", () => {
    const faults = (battery: string): readonly string[] => {
      const parsed = parseConfig(withBattery(battery), "/bench/site.yaml");
      return parsed.kind === "invalid" ? parsed.faults.map(({ keyPath, what }) => `${keyPath} ${what}`) : [];
    };
    expect(faults("{ topic: a/b, unit: percent, low: 100 }")).toEqual([
      expect.stringMatching(/^sensors\.loach-ph\.battery\.low is 100 percent/),
    ]);
    expect(faults("{ topic: a/b, unit: volt, low: 2700 }")).toHaveLength(1);
    expect(faults("{ topic: a/b, unit: volt, low: 2.7, value: 'x' }")).toHaveLength(1);
    expect(faults("{ topic: a/b, unit: volt, low: 2.7 }")).toEqual([]);
  });
});
