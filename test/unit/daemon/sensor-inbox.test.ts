import { describe, expect, it } from "vitest";
import { createSensorInbox, type SensorInbox } from "../../../daemon/sensor-inbox.js";
import type { SensorRules } from "../../../lib/readings/sensor-rules.js";
import { benchYaml, modelOf } from "../../support/control-bench.js";
import { CollectingLogger } from "../../support/collecting-logger.js";
import { FakeClock } from "../../support/fake-clock.js";
import { createMemoryBroker } from "../../support/memory-message-bus.js";

/** The bench's thermometer may be silent for 300 s. */
function thermometerInbox() {
  const clock = new FakeClock(Date.parse("2026-05-04T09:00:00Z"));
  const logger = new CollectingLogger();
  const broker = createMemoryBroker({ clock, logger });
  const bus = broker.createBus({ logger });
  const { sensors } = modelOf(benchYaml);
  const inbox = createSensorInbox({ bus, clock, store: { appendReading: () => undefined } }, sensors);
  return { clock, broker, bus, inbox, sensors };
}

function wordOf(inbox: SensorInbox, clock: FakeClock): string | undefined {
  const now = { now_epochMs: clock.now_epochMs(), now_monotonicMs: clock.monotonic_ms() };
  return inbox.view("loach-temperature", now)?.firstWord.kind;
}

describe("a sensor's first word", () => {
  it("is awaited from when it can be heard: a broker that is away for hours takes nothing off", async () => {
    const { clock, bus, inbox } = thermometerInbox();
    await clock.advance(7_200_000);
    expect(wordOf(inbox, clock)).toBe("awaited");
    await bus.start();
    await clock.advance(300_000);
    expect(wordOf(inbox, clock)).toBe("awaited");
    await clock.advance(1000);
    expect(wordOf(inbox, clock)).toBe("overdue");
  });

  it("is not awaited anew because the connection was lost meanwhile", async () => {
    const { clock, bus, inbox } = thermometerInbox();
    await bus.start();
    await clock.advance(200_000);
    bus.dropConnection("no route");
    bus.restoreConnection();
    await clock.advance(101_000);
    expect(wordOf(inbox, clock)).toBe("overdue");
  });

  it("is not what the broker has held back, nor what is not believed", async () => {
    const { clock, broker, bus, inbox } = thermometerInbox();
    broker.publish("loach/temperature", "24.5", { retain: true });
    await bus.start();
    broker.publish("loach/temperature", "99");
    expect(wordOf(inbox, clock)).toBe("awaited");
    broker.publish("loach/temperature", "24.5");
    expect(wordOf(inbox, clock)).toBe("spoken");
  });

  it("is awaited for a sensor that a new config names, from then on", async () => {
    const { clock, bus, inbox, sensors } = thermometerInbox();
    await bus.start();
    await clock.advance(1_000_000);
    const moved = { ...sensors.get("loach-temperature")!, topic: "loach/other" };
    inbox.replaceSensors(new Map(sensors).set("loach-temperature", moved));
    expect(wordOf(inbox, clock)).toBe("awaited");
    await clock.advance(301_000);
    expect(wordOf(inbox, clock)).toBe("overdue");
  });
});

describe("another config of a sensor", () => {
  const changed = (change: Partial<SensorRules>) => {
    const { sensors, ...site } = thermometerInbox();
    const model = sensors.get("loach-temperature")!;
    const next = new Map(sensors).set("loach-temperature", {
      ...model,
      rules: { ...model.rules, ...change },
    });
    const value = (): number | undefined =>
      site.inbox.freshValue("loach-temperature", {
        now_epochMs: site.clock.now_epochMs(),
        now_monotonicMs: site.clock.monotonic_ms(),
      });
    return { ...site, value, apply: () => site.inbox.replaceSensors(next) };
  };

  it.each<{ because: string; change: Partial<SensorRules>; value: number | undefined }>([
    { because: "its age is within the new limit", change: { maximumAge_s: 60 }, value: 24.5 },
    { because: "its age is not", change: { maximumAge_s: 20 }, value: undefined },
    { because: "another gate is for readings to come", change: { spikeGate: 1 }, value: 24.5 },
    { because: "it is corrected anew", change: { calibration: { gain: 1, offset: 0.5 } }, value: 25 },
    {
      because: "it is outside the new span",
      change: { plausible: { minimum: 26, maximum: 30 } },
      value: undefined,
    },
    {
      because: "the number means another temperature",
      change: { unit: { kind: "temperature", unit: "degF" } },
      value: undefined,
    },
  ])("makes the last reading $value, as $because", async ({ change, value: expected }) => {
    const { clock, bus, broker, value, apply } = changed(change);
    await bus.start();
    broker.publish("loach/temperature", "24.5");
    await clock.advance(30_000);
    expect(value()).toBe(24.5);
    apply();
    expect(value()).toBe(expected);
  });
});
