import { createApp, type App } from "../../daemon/app.js";
import type { SiteConfig } from "../../daemon/config/config-schema.js";
import type { Logger } from "../../daemon/ports/logger.js";
import type { SiteEvent } from "../../daemon/ports/site-store.js";
import { SqliteSiteStore } from "../../daemon/store/sqlite-site-store.js";
import { createSupplyHere } from "../../daemon/supply/supply-tracker.js";
import { learningHere } from "../../daemon/tank/tank-learner.js";
import { createMemoryDeadMan, type MemoryDeadMan } from "../support/memory-dead-man.js";
import type { MemoryBroker, MemoryMessageBus } from "../support/memory-message-bus.js";
import { LifeTime, type LeapingClock } from "./leaping-clock.js";
import { PacedRunner } from "./paced-runner.js";
import { WatchedStore } from "./watched-store.js";

/** Time leaps by minutes where nothing goes on: the dead-man's patience goes with that. */
const longestBeatGap_ms = 1_300_000;
/** What is reckoned beside the control path, at home in threads, is known so much later. */
const jobTakes_ms = 8 * 60_000;
/** A locked database is found out at once, and does not hold the simulation up. */
const busyTimeout_ms = 5;

export interface LifeOptions {
  readonly config: SiteConfig;
  readonly clock: LeapingClock;
  readonly broker: MemoryBroker;
  readonly logger: Logger;
  readonly random: () => number;
  readonly onEvent: (event: SiteEvent) => void;
}

/** One life of the daemon's own composition: from its start until it is stopped or killed. */
export interface DaemonLife {
  readonly app: App;
  readonly store: WatchedStore;
  readonly time: LifeTime;
  /** What has been reckoned beside the control path by now is told. */
  answerDue(): void;
  /** The way to the broker breaks, and is there again. */
  loseBroker(reason: string): void;
  findBroker(): void;
  stop(): Promise<void>;
  /** As the kernel does it: connections break, the broker publishes the wills, nothing more is written. */
  kill(): Promise<void>;
}

export async function beginLife(options: LifeOptions): Promise<DaemonLife> {
  const { config, clock, broker, logger } = options;
  const time = new LifeTime(clock);
  const store = new WatchedStore(
    new SqliteSiteStore({ ...config.store, timing: { busyTimeout_ms } }, { clock: time, logger }),
  );
  const now_ms = (): number => time.monotonic_ms();
  const learning = new PacedRunner(learningHere, now_ms, jobTakes_ms);
  const supply = new PacedRunner(createSupplyHere(), now_ms, jobTakes_ms);
  const buses: MemoryMessageBus[] = [];
  const deadMen: MemoryDeadMan[] = [];
  const app = createApp({
    config,
    access: { addresses: config.broker.addresses },
    clock: time,
    machineClock: time,
    logger,
    random: options.random,
    synchronisation: () => "unknown",
    relaysCountAsCommissioned: true,
    onEvent: options.onEvent,
    adapters: {
      createBus: ({ will }) => {
        const bus = broker.createBus({ logger, ...(will === undefined ? {} : { will }) });
        buses.push(bus);
        return bus;
      },
      createDeadMan: (relays) => {
        const deadMan = createMemoryDeadMan({ broker, clock, relays, longestBeatGap_ms });
        deadMen.push(deadMan);
        return deadMan;
      },
      store,
      learningRunner: learning,
      supplyRunner: supply,
    },
  });
  const loseBroker = (reason: string): void => {
    deadMen.forEach((deadMan) => deadMan.kill());
    buses.forEach((bus) => bus.dropConnection(reason));
  };
  await app.start();
  return {
    app,
    store,
    time,
    answerDue: () => {
      learning.answerDue();
      supply.answerDue();
    },
    loseBroker,
    findBroker: () => {
      deadMen.forEach((deadMan) => deadMan.revive());
      buses.forEach((bus) => bus.restoreConnection());
    },
    stop: async () => {
      time.end();
      await app.stop();
    },
    kill: async () => {
      store.cutOff();
      loseBroker("the daemon was killed");
      time.end();
      await app.stop();
    },
  };
}
