import { mkdtempSync, readFileSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { SiteEvent } from "../../daemon/ports/site-store.js";
import { createRandomSource } from "../../lib/simulation/random-source.js";
import { CollectingLogger } from "../support/collecting-logger.js";
import { startHttpReceiver } from "../support/http-receiver.js";
import { drawFaults, type DrawnFault, type FaultSubjects } from "./faults-of-the-year.js";
import { homeConfig, homeVessels, year } from "./home-config.js";
import { setFlow_molPerH } from "./home-physics.js";
import { Household } from "./household.js";
import { Keeper, type Notice } from "./keeper.js";
import { judged, type AlarmTruth } from "./year-alarms.js";
import { YearFaults } from "./year-faults.js";
import { YearObserver } from "./year-observer.js";
import type { RaisedAlarm, YearRecord } from "./year-record.js";

export interface HomeYearOptions {
  readonly seed: number;
  readonly days: number;
  /** When it begins; left out, with the year. */
  readonly from?: string;
  /** How many faults a year are drawn; 0: none. */
  readonly faultsPerYear: number;
  /** Faults in the place of those that would be drawn. */
  readonly faults?: (subjects: FaultSubjects) => readonly DrawnFault[];
  /** Alarms whose messages get lost on their way to the keeper, to see that the report finds out. */
  readonly isMuted?: (alarmId: string) => boolean;
  /** What the keeper and the faults do, as it happens. */
  readonly log?: (line: string) => void;
}

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
/** What is learnt and kept for some weeks has come to its size by then. */
const warmUp_days = 60;
const heapEvery_days = 15;

/** Runs a year, or some days of it, and tells what truly happened. */
export async function runHomeYear(options: HomeYearOptions): Promise<YearRecord> {
  const began_ms = performance.now();
  const { seed, days } = options;
  const folder = mkdtempSync(join(tmpdir(), "fizzward-home-year-"));
  const phone = await startHttpReceiver();
  const from_epochMs = Date.parse(options.from ?? year.from);
  const config = homeConfig({ folder, phoneUrl: `${phone.url}/told`, from_epochMs });
  const to_epochMs = from_epochMs + days * day_ms;
  const writtenBefore_bytes = writtenBytes();
  const logger = new CollectingLogger();
  const events: SiteEvent[] = [];
  const household = new Household({
    config,
    startAt_epochMs: from_epochMs,
    seed,
    logger,
    onEvent: (event) => events.push(event),
  });
  const log = (line: string): void =>
    options.log?.(`${new Date(household.now_epochMs).toISOString().slice(0, 16)} ${line}`);
  const observer = new YearObserver(household, homeVessels);
  const subjects: FaultSubjects = {
    random: createRandomSource(seed),
    databaseFile: config.store.file,
    valves: [...household.model.valves].map(([valveId, { vesselId, rules }]) => ({
      valveId,
      vesselId,
      tankIds: rules.tankIds,
    })),
  };
  const drawnFaults =
    options.faults?.(subjects) ??
    drawFaults(subjects, { from_epochMs: from_epochMs + 5 * day_ms, to_epochMs }, options.faultsPerYear);
  const faults = new YearFaults(household, drawnFaults, {
    log,
    leakBegins: (vesselId) => observer.leakBegins(vesselId),
  });
  const keeper = new Keeper({
    household,
    observer,
    recipes: homeVessels,
    socketPath: config.control.clientSocket,
    random: createRandomSource(seed + 1),
    mend: (alarmId) => faults.mend(alarmId),
    shutByHand: (alarmId) => faults.shutByHand(alarmId),
    log,
  });
  const alarms: (Omit<RaisedAlarm, "isTold"> & { isTold: boolean })[] = [];
  const heaps: YearRecord["heaps"][number][] = [];
  let nextHeap_epochMs = from_epochMs + Math.min(warmUp_days, days / 2) * day_ms;
  let nextHousekeeping_epochMs = from_epochMs + hour_ms;

  try {
    await household.startDaemon();
    await keeper.setUp();
    while (household.now_epochMs < to_epochMs) {
      await household.leap(
        Math.min(to_epochMs, Math.max(faults.next_epochMs(), household.now_epochMs + 1000)),
      );
      observer.see(faults.explained(keeper.refilledVessels));
      takeEvents();
      takeNotices();
      await faults.act();
      await keeper.act();
      const { now_epochMs } = household;
      if (now_epochMs >= nextHousekeeping_epochMs) {
        nextHousekeeping_epochMs += hour_ms;
        await household.life?.store.runHousekeeping(now_epochMs);
      }
      if (now_epochMs >= nextHeap_epochMs) {
        nextHeap_epochMs += heapEvery_days * day_ms;
        takeHeap();
      }
    }
    takeHeap();
    for (const { vesselId } of homeVessels) observer.endCharge(vesselId, false);
    await faults.endAll();
    await household.stopDaemon();
    return {
      seed,
      from_epochMs,
      to_epochMs,
      days: observer.days,
      charges: observer.ended,
      alarms,
      faults: faults.past,
      aboveAlarm_h: observer.aboveAlarm_h,
      aboveClose_h: observer.aboveClose_h,
      aboveCloseBeyondLag_h: observer.aboveCloseBeyondLag_h,
      grams: observer.grams,
      written_bytes: writtenBytes() - writtenBefore_bytes,
      storeFile_bytes: statSync(config.store.file).size,
      heaps,
      leaps: household.leaps,
      took_s: (performance.now() - began_ms) / 1000,
    };
  } finally {
    await household.stopDaemon();
    await phone.close();
    rmSync(folder, { recursive: true, force: true });
  }

  function takeEvents(): void {
    for (const event of events.splice(0)) {
      if (event.area === "supply" || event.area === "trip")
        log(`${event.area} ${event.subject}: ${event.what}`);
      if (event.area !== "alarm" || !["raised", "no longer suppressed"].includes(event.what)) continue;
      const judgement = judged(event.subject, truthNow());
      const { subject: alarmId, reason: cause } = event;
      log(`alarm ${alarmId} (${judgement}): ${cause}`);
      alarms.push({
        at_epochMs: household.now_epochMs,
        alarmId,
        priority: String(event.details.priority),
        cause,
        judgement,
        isTold: false,
      });
    }
    for (const { level, fields, message } of logger.lines.splice(0)) {
      if (level === "error") log(`the daemon's log: ${message} ${JSON.stringify(fields)}`);
    }
  }

  function takeNotices(): void {
    for (const { body } of (phone.got as unknown as { readonly body: string }[]).splice(0)) {
      const { alarms: sent } = JSON.parse(body) as { readonly alarms: readonly Notice[] };
      const notices = sent.filter(({ id }) => options.isMuted?.(id) !== true);
      for (const { id, notice } of notices) {
        if (notice !== "raised") continue;
        faults.told(id);
        observer.told(id);
        const raised = [...alarms].reverse().find(({ alarmId }) => alarmId === id);
        if (raised !== undefined) raised.isTold = true;
      }
      keeper.hear(notices);
    }
  }

  function truthNow(): AlarmTruth {
    const truth = household.home.truth();
    return {
      explained: faults.explains,
      left_days: (vesselId) => {
        const ends_epochMs = observer.runsOutAt(vesselId);
        return ends_epochMs === undefined ? undefined : (ends_epochMs - household.now_epochMs) / day_ms;
      },
      gauge_bar: (vesselId) => truth.vessels[vesselId]?.pressureGauge_bar ?? 0,
      offsetPh: (sensorId) => household.home.shown(sensorId, 7) - 7,
      co2_mgPerL: (tankId) => truth.tanks[tankId]?.co2_mgPerL ?? 0,
      limits: (tankId) => {
        const limits = household.model.tanks.get(tankId)?.limits;
        return {
          high: limits?.co2TargetHigh_mgPerL ?? 30,
          alarm: limits?.co2Alarm_mgPerL ?? 40,
          close: limits?.co2Close_mgPerL ?? 60,
        };
      },
      flow_ratio: (vesselId) => {
        const [valveId, valve] =
          Object.entries(household.physics.valves).find(([, { vessel }]) => vessel === vesselId) ?? [];
        if (valveId === undefined || valve === undefined) return undefined;
        const flow_molPerH = truth.flow_molPerH[valveId] ?? 0;
        return flow_molPerH > 0 ? flow_molPerH / setFlow_molPerH(valve) : undefined;
      },
    };
  }

  function takeHeap(): void {
    const collect = globalThis.gc;
    if (collect === undefined) return;
    collect();
    const { heapUsed, rss } = process.memoryUsage();
    heaps.push({ at_epochMs: household.now_epochMs, heapUsed_bytes: heapUsed, rss_bytes: rss });
  }
}

/** What this process has handed to the kernel to be written, by its own count; 0 where there is none. */
function writtenBytes(): number {
  try {
    return Number(/wchar: (\d+)/.exec(readFileSync("/proc/self/io", "utf8"))?.[1] ?? 0);
  } catch {
    return 0;
  }
}
