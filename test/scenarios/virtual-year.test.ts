import { describe, expect, it } from "vitest";
import { createControlCycle, type ControlCycle } from "../../daemon/control-cycle.js";
import { emptySnapshot, readSnapshot } from "../../daemon/control-snapshot.js";
import type { DeadMan, RelayMessage } from "../../daemon/ports/dead-man.js";
import type { Logger } from "../../daemon/ports/logger.js";
import type { DosingRule } from "../../lib/schedule/dosing-windows.js";
import { createRandomSource } from "../../lib/simulation/random-source.js";
import { benchYaml, commissionedAll, modelOf } from "../support/control-bench.js";
import { FakeClock } from "../support/fake-clock.js";
import { IntlWindowOracle, openMinutes } from "../support/intl-window-oracle.js";
import { edited } from "../support/marked-config.js";
import {
  createMemoryBroker,
  type MemoryBroker,
  type MemoryMessageBus,
} from "../support/memory-message-bus.js";
import { MemoryDisk, MemorySiteStore } from "../support/memory-site-store.js";
import { createSimpleRelay, type SimpleRelay } from "../support/simple-relay.js";

/**
 * A year of the control path against windows that are computed without it: the wall clock of Intl.DateTimeFormat (ECMA-402 over
 * the IANA time zone database in ICU), looked up minute by minute.
 *
 * To keep it short the daemon ticks each second for a minute around every edge of a window and for 75 s after every start, and
 * each 280 s elsewhere; the relay's own timer then still is re-armed in time. With VIRTUAL_YEAR=fine these are three minutes
 * and 30 s; with VIRTUAL_YEAR=every-second it ticks each second all year. The dead-man is a plain one for that reason: its rule of two seconds is tried elsewhere.
 */
const everySecond = process.env.VIRTUAL_YEAR === "every-second";
const isFineRun = process.env.VIRTUAL_YEAR !== undefined;
const coarse_ms = everySecond ? 1000 : isFineRun ? 30_000 : 280_000;
const fineAround_ms = isFineRun ? 90_000 : 30_000;
const fineAfterStart_ms = isFineRun ? 180_000 : 75_000;
const sensorEvery_ms = 30_000;
/** So long after a start the valve may still be closed in a window: sensors must speak first. */
const graceAfterStart_ms = 60_000;
const restartsInAYear = 200;
const day_ms = 86_400_000;
const year_days = 365;

const days = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"] as const;
/** By day, over midnight, and on the nights of both clock changes with ends inside the hour that is left out or comes twice. */
const rule: DosingRule = {
  photoperiods: [
    { lightsOn: "10:00", lightsOff: "17:00", days },
    { lightsOn: "23:30", lightsOff: "04:15", days: ["mon", "wed"] },
    { lightsOn: "23:30", lightsOff: "01:45", days: ["sat"] },
    { lightsOn: "02:30", lightsOff: "05:00", days: ["sun"] },
  ],
  lead_min: 60,
  earlyClose_min: 30,
  datesOff: ["2026-12-24", { from: "2026-07-06", to: "2026-07-19" }],
};

const year = { from: "2026-01-01T00:00:00Z", to: "2027-01-01T00:00:00Z" };
const berlin = {
  timeZone: "Europe/Berlin",
  changes: ["2026-03-29T01:00:00Z", "2026-10-25T01:00:00Z"],
  ...year,
};
const newYork = {
  timeZone: "America/New_York",
  changes: ["2026-03-08T07:00:00Z", "2026-11-01T06:00:00Z"],
  ...year,
};
/** The whole years are for the finer runs; for every run a month around each clock change, and the days off. */
const spans = isFineRun
  ? [berlin, newYork]
  : [
      {
        ...berlin,
        changes: berlin.changes.slice(0, 1),
        from: "2026-03-10T00:00:00Z",
        to: "2026-04-14T00:00:00Z",
      },
      { ...berlin, changes: [], from: "2026-06-27T00:00:00Z", to: "2026-07-28T00:00:00Z" },
      {
        ...berlin,
        changes: berlin.changes.slice(1),
        from: "2026-10-10T00:00:00Z",
        to: "2026-11-14T00:00:00Z",
      },
      { ...berlin, changes: [], from: "2026-12-10T00:00:00Z", to: "2027-01-01T00:00:00Z" },
      {
        ...newYork,
        changes: newYork.changes.slice(0, 1),
        from: "2026-02-21T00:00:00Z",
        to: "2026-03-23T00:00:00Z",
      },
      {
        ...newYork,
        changes: newYork.changes.slice(1),
        from: "2026-10-17T00:00:00Z",
        to: "2026-11-16T00:00:00Z",
      },
    ];

function yamlFor(timeZone: string): string {
  const photoperiods = rule.photoperiods
    .map(
      (span) =>
        `{ lightsOn: "${span.lightsOn}", lightsOff: "${span.lightsOff}", days: [${span.days.join(", ")}] }`,
    )
    .join(", ");
  return edited(benchYaml, [
    ["timeZone: Europe/Berlin", `timeZone: ${timeZone}`],
    [
      '[{ lightsOn: "10:00", lightsOff: "19:00" }]',
      `[${photoperiods}]\n    datesOff: ["2026-12-24", { from: "2026-07-06", to: "2026-07-19" }]`,
    ],
    ["autoOff_s: 120", "autoOff_s: 300"],
  ]);
}

interface Life {
  readonly cycle: ControlCycle;
  readonly bus: MemoryMessageBus;
  readonly since_epochMs: number;
}

/** The house in which the daemon lives, dies and is started again. */
class House {
  readonly clock: FakeClock;
  readonly #logger = new SilentLogger();
  readonly #broker: MemoryBroker;
  readonly #disk = new MemoryDisk();
  readonly #model;
  readonly relay: SimpleRelay;
  life: Life | undefined;
  #lastSpoke_monotonicMs = Number.NEGATIVE_INFINITY;
  #beat = 0;
  ticks = 0;
  inTicks_ms = 0;

  constructor(yaml: string, from_epochMs: number) {
    this.#model = modelOf(yaml);
    this.clock = new FakeClock(from_epochMs);
    this.#broker = createMemoryBroker({ clock: this.clock, logger: this.#logger });
    this.relay = createSimpleRelay({
      broker: this.#broker,
      clock: this.clock,
      commandTopic: "relay/1/command",
      stateTopic: "relay/1/state",
      autoOff_s: 300,
    });
  }

  async start(): Promise<void> {
    const { clock } = this;
    // What piled up would only fill the memory; the newest reading tells the store up to when time is known.
    this.#disk.readings.splice(0, this.#disk.readings.length - 1);
    (this.#broker.passed as unknown[]).length = 0;
    const store = new MemorySiteStore(() => clock.now_epochMs(), this.#disk);
    await store.start();
    const stored = await store.loadSnapshot("control");
    if (stored === undefined) {
      await store.saveSnapshot("control", { ...emptySnapshot, commissioned: commissionedAll(this.#model) });
    }
    const bus = this.#broker.createBus({ logger: this.#logger });
    const cycle = createControlCycle(
      {
        clock,
        bus,
        deadMan: new PlainDeadMan(this.#broker),
        store,
        journal: { latest: () => undefined, entriesOf: () => [] },
        logger: this.#logger,
        synchronisation: () => "unknown",
        // What is learnt and estimated beside the control path has scenarios of its own.
        learningRunner: noRunner,
        supplyRunner: noRunner,
      },
      this.#model,
      readSnapshot(await store.loadSnapshot("control")),
    );
    await bus.start();
    this.life = { cycle, bus, since_epochMs: clock.now_epochMs() };
  }

  /** Killed: the broker publishes the closing command that the dead-man left with it. */
  kill(): void {
    this.life?.bus.dropConnection("killed");
    this.life = undefined;
    this.#broker.publish("relay/1/command", "OFF");
  }

  /** What happens at one instant. */
  instant(): void {
    const now_monotonicMs = this.clock.monotonic_ms();
    if (now_monotonicMs - this.#lastSpoke_monotonicMs >= sensorEvery_ms) {
      this.#lastSpoke_monotonicMs = now_monotonicMs;
      this.#beat += 1;
      // It moves, so that it does not count as stuck, and by less than asks for another estimate.
      this.#broker.publish("loach/ph", (6.8 + 0.0005 * (this.#beat % 7)).toFixed(4));
      this.#broker.publish("loach/temperature", "24.5");
    }
    if (this.life === undefined) return;
    const before_ms = performance.now();
    this.life.cycle.tick();
    this.inTicks_ms += performance.now() - before_ms;
    this.ticks += 1;
  }
}

/** Armed from the first completed tick on. */
class PlainDeadMan implements DeadMan {
  #armed = false;
  readonly #broker: MemoryBroker;
  constructor(broker: MemoryBroker) {
    this.#broker = broker;
  }
  start = (): Promise<void> => Promise.resolve();
  stop = (): Promise<void> => Promise.resolve();
  beat = (): void => {
    this.#armed = true;
  };
  send = (_relayId: string, { topic, payload }: RelayMessage): void => this.#broker.publish(topic, payload);
  isArmed = (): boolean => this.#armed;
}

const noRunner = {
  run: (_job: unknown, done: (result: undefined) => void): void => {
    done(undefined);
  },
  stop: (): Promise<void> => Promise.resolve(),
};

class SilentLogger implements Logger {
  debug = (): void => undefined;
  info = (): void => undefined;
  warn = (): void => undefined;
  error = (): void => undefined;
}

describe.each(spans)("$timeZone from $from to $to", ({ timeZone, changes, from, to }) => {
  const from_epochMs = Date.parse(from);
  const to_epochMs = Date.parse(to);
  const share_ratio = (to_epochMs - from_epochMs) / (year_days * day_ms);
  const oracle = new IntlWindowOracle(timeZone, from_epochMs, to_epochMs);
  const open = openMinutes([oracle.rawWindows(rule)], from_epochMs, to_epochMs);
  const isInside = (at_epochMs: number): boolean =>
    open[Math.floor((at_epochMs - from_epochMs) / 60_000)] === 1;
  const edges_epochMs = [...open.keys()]
    .filter((minute) => minute > 0 && open[minute] !== open[minute - 1])
    .map((minute) => from_epochMs + minute * 60_000);

  it("has windows across, or cut short by, both clock changes", () => {
    // Less than a year's share in the month with two weeks off.
    expect(edges_epochMs.length).toBeGreaterThan(400 * share_ratio);
    for (const change of changes) {
      const at_epochMs = Date.parse(change);
      const near = edges_epochMs.filter(
        (edge_epochMs) => Math.abs(edge_epochMs - at_epochMs) < 5 * 3_600_000,
      );
      expect(near.length).toBeGreaterThanOrEqual(2);
      expect([-60, -1, 0, 60].some((minutes) => isInside(at_epochMs + minutes * 60_000))).toBe(true);
    }
  });

  it(
    "has gas only inside its windows, from the second on which they open to the second on which they close",
    async () => {
      const random = createRandomSource(20260101);
      const kills = killInstants(
        random,
        { from_epochMs, to_epochMs },
        edges_epochMs,
        changes.map((change) => Date.parse(change)),
      );
      const house = new House(yamlFor(timeZone), from_epochMs);
      const faults: string[] = [];
      let edge = 0;
      let kill = 0;
      let opened = 0;
      let slowestOpening_ms = 0;
      let openedInLife = true;
      let wasOn = false;

      await house.start();
      while (house.clock.now_epochMs() < to_epochMs) {
        const now_epochMs = house.clock.now_epochMs();
        if (now_epochMs >= (kills[kill] ?? Infinity)) {
          kill += 1;
          house.kill();
          wasOn = false;
          for (let second = Math.ceil(random() * 90); second > 0; second -= 1) {
            if (house.relay.isOn()) faults.push(`${instant(house)} on without a daemon`);
            house.instant();
            house.clock.advanceWithoutWaiting(1000);
          }
          await house.start();
          openedInLife = false;
          continue;
        }
        house.instant();

        const isOn = house.relay.isOn();
        const inside = isInside(now_epochMs);
        const alive_ms = now_epochMs - house.life!.since_epochMs;
        if (isOn && !inside) faults.push(`${instant(house)} on outside its window`);
        if (!isOn && inside && alive_ms > graceAfterStart_ms)
          faults.push(`${instant(house)} off inside its window`);
        if (isOn && !wasOn) {
          opened += 1;
          if (!openedInLife)
            slowestOpening_ms = Math.max(slowestOpening_ms, insideFor(now_epochMs, alive_ms));
        }
        if (isOn) openedInLife = true;
        wasOn = isOn;

        while ((edges_epochMs[edge] ?? Infinity) < now_epochMs - fineAround_ms) edge += 1;
        const untilFine_ms = (edges_epochMs[edge] ?? Infinity) - fineAround_ms - now_epochMs;
        const isFine = untilFine_ms <= 0 || alive_ms < fineAfterStart_ms;
        const untilKill_ms = Math.max(1000, (kills[kill] ?? Infinity) - now_epochMs);
        house.clock.advanceWithoutWaiting(isFine ? 1000 : Math.min(coarse_ms, untilFine_ms, untilKill_ms));
        // What was promised on the way settles now and then.
        if (house.ticks % 1000 === 0) await Promise.resolve();
      }

      expect(faults.slice(0, 10)).toEqual([]);
      expect(kill).toBe(kills.length);
      expect(house.life!.cycle.status()!.trips).toEqual([]);
      expect(house.life!.cycle.status()!.alarms).toEqual([]);
      // It must have had something to do, and restarts must have met open windows.
      expect(opened).toBeGreaterThan(edges_epochMs.length / 2);
      expect(slowestOpening_ms).toBeGreaterThan(5000);
      expect(slowestOpening_ms).toBeLessThanOrEqual(sensorEvery_ms + 2000);
      if (process.env.VIRTUAL_YEAR !== undefined) {
        const perTick_us = (house.inTicks_ms * 1000) / house.ticks;
        console.log(
          `${timeZone}: ${house.ticks} ticks, ${perTick_us.toFixed(1)} us each; slowest opening after a restart ${slowestOpening_ms} ms`,
        );
      }

      /** How long it could have been open in this life: since the start, or since the window opened if that was later. */
      function insideFor(now_epochMs: number, alive_ms: number): number {
        let inside_ms = 0;
        while (inside_ms < alive_ms && isInside(now_epochMs - inside_ms - 1000)) inside_ms += 1000;
        return inside_ms;
      }
    },
    everySecond ? 3_600_000 : 300_000,
  );
});

function instant(house: House): string {
  return new Date(house.clock.now_epochMs()).toISOString();
}

/** Anywhere in the year, and a quarter of them within a minute of an edge or around a clock change. */
function killInstants(
  random: () => number,
  { from_epochMs, to_epochMs }: { readonly from_epochMs: number; readonly to_epochMs: number },
  edges_epochMs: readonly number[],
  changes_epochMs: readonly number[],
): readonly number[] {
  const lasts_ms = to_epochMs - from_epochMs;
  const restarts = Math.round((restartsInAYear * lasts_ms) / (year_days * day_ms));
  const anywhere = Array.from({ length: restarts }, () => from_epochMs + random() * lasts_ms);
  const nearEdges = Array.from({ length: Math.ceil(restarts / 4) }, () => {
    const edge_epochMs = edges_epochMs[Math.floor(random() * edges_epochMs.length)]!;
    return edge_epochMs + (random() - 0.7) * 120_000;
  });
  const nearChanges = changes_epochMs.flatMap((change_epochMs) =>
    Array.from({ length: 6 }, () => change_epochMs + (random() - 0.5) * 3 * 3_600_000),
  );
  return [...anywhere, ...nearEdges, ...nearChanges]
    .map((at_epochMs) => Math.floor(at_epochMs / 1000) * 1000)
    .filter((at_epochMs) => at_epochMs > from_epochMs && at_epochMs < to_epochMs - 600_000)
    .sort((a, b) => a - b);
}
