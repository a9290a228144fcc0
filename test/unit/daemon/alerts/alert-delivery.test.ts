import { describe, expect, it } from "vitest";
import { createAlertDelivery, type AlertDelivery } from "../../../../daemon/alerts/alert-delivery.js";
import type { AlertChannel, DeliveryOutcome } from "../../../../daemon/ports/alert-channel.js";
import { createSiteAlarms, type SiteAlarms } from "../../../../daemon/alarms/site-alarms.js";
import type { AlarmCondition } from "../../../../lib/alarm/alarm-condition.js";
import type { AlertMessage } from "../../../../lib/alerts/alert-message.js";
import type { AlertRoute } from "../../../../lib/alerts/alert-route.js";
import { CollectingLogger } from "../../../support/collecting-logger.js";
import { FakeClock } from "../../../support/fake-clock.js";
import { MemoryDisk, MemorySiteStore } from "../../../support/memory-site-store.js";

const condition = (alarmId: string, priority: AlarmCondition["priority"] = "critical"): AlarmCondition => ({
  alarmId,
  priority,
  subjects: [],
  cause: `cause of ${alarmId}`,
  consequence: "what follows",
  whatToDo: "what to do",
  allowableResponse_min: 10,
  onDelay_s: 0,
  offDelay_s: 0,
  suppressedBy: [],
  latch: "none",
});

const route: AlertRoute = {
  channels: ["phone"],
  priorities: ["critical", "high", "medium", "low"],
  subjects: [],
  groupWithin_s: 30,
  repeatAfter_min: 240,
  tellsReturn: true,
  quietHours: undefined,
  escalation: undefined,
};

/** A receiver of which a test says what it answers. */
class Receiver implements AlertChannel {
  readonly got: { readonly key: string; readonly message: AlertMessage }[] = [];
  answer: () => DeliveryOutcome | Promise<DeliveryOutcome> = () => ({ kind: "delivered", detail: "ok" });

  async deliver(message: AlertMessage, key: string, signal: AbortSignal): Promise<DeliveryOutcome> {
    this.got.push({ key, message });
    return Promise.race([
      this.answer(),
      new Promise<DeliveryOutcome>((resolve) =>
        signal.addEventListener("abort", () => resolve({ kind: "failed", reason: "broken off" })),
      ),
    ]);
  }

  get keys(): readonly string[] {
    return [...new Set(this.got.map(({ key }) => key))];
  }
}

/** A house whose daemon can be stopped or killed and started again on the same disk. */
class House {
  readonly clock = new FakeClock(Date.parse("2026-05-04T10:00:00Z"));
  readonly disk = new MemoryDisk();
  readonly logger = new CollectingLogger();
  readonly phone = new Receiver();
  readonly mail = new Receiver();
  readonly channels = new Map<string, AlertChannel>([
    ["phone", this.phone],
    ["mail", this.mail],
  ]);
  routes: readonly AlertRoute[] = [route];
  holding: readonly AlarmCondition[] = [];
  store = new MemorySiteStore(() => this.clock.now_epochMs(), this.disk);
  #alarms: SiteAlarms | undefined;
  #delivery: AlertDelivery | undefined;
  #keys = 0;

  get delivery(): AlertDelivery {
    if (this.#delivery === undefined) throw new Error("not started");
    return this.#delivery;
  }

  async start(): Promise<this> {
    const { clock, logger } = this;
    const store = new MemorySiteStore(() => clock.now_epochMs(), this.disk);
    this.store = store;
    await store.start();
    const record = (): void => undefined;
    const alarms = createSiteAlarms({ clock, store, record }, await store.loadSnapshot("alarms"));
    this.#alarms = alarms;
    this.#delivery = createAlertDelivery(
      {
        clock,
        machineClock: clock,
        store,
        logger,
        random: () => 0.5,
        newKey: () => `key-${(this.#keys += 1)}`,
      },
      { routes: this.routes, channels: this.channels, timeZone: () => "Europe/Berlin" },
      () => alarms.list(),
    );
    await this.#delivery.start();
    return this;
  }

  /** The process is gone: nothing it had in hand reaches the disk any more. */
  async kill(): Promise<void> {
    await this.store.stop();
    await this.delivery.stop();
  }

  async go(seconds: number, step_s = 1): Promise<this> {
    for (let gone_s = 0; gone_s < seconds; gone_s += step_s) {
      this.#alarms?.follow(this.holding);
      await this.clock.advance(step_s * 1000);
    }
    return this;
  }

  get outbox(): readonly string[] {
    return [...this.disk.outbox.values()].map(({ messageKey, state }) => `${messageKey} ${state}`);
  }
}

const failed: DeliveryOutcome = { kind: "failed", reason: "connect ECONNREFUSED" };
const never = (): Promise<DeliveryOutcome> => new Promise(() => undefined);

describe("alerts on their way", () => {
  it("go out once, and stay settled on disk with an event", async () => {
    const house = await new House().start();
    house.holding = [condition("a")];
    await house.go(120);
    expect(house.phone.got.map(({ message }) => message.notices.map(({ alarmId }) => alarmId))).toEqual([
      ["a"],
    ]);
    expect(house.outbox).toEqual(["key-1 delivered"]);
    expect(house.disk.events.filter(({ area }) => area === "alert").map(({ what }) => what)).toEqual([
      "delivered",
    ]);
  });

  it("are on disk before they are sent", async () => {
    const house = await new House().start();
    const onDisk: (readonly string[])[] = [];
    house.phone.answer = () => {
      onDisk.push(house.outbox);
      return { kind: "delivered", detail: "" };
    };
    house.holding = [condition("a")];
    await house.go(5);
    expect(onDisk).toEqual([["key-1 waiting"]]);
  });

  it("that were sent before a crash but not marked go out again under the same key, and no other", async () => {
    const house = await new House().start();
    house.phone.answer = async () => {
      // Taken, and at that instant the power goes.
      await house.store.stop();
      return { kind: "delivered", detail: "" };
    };
    house.holding = [condition("a")];
    await house.go(3);
    await house.kill();
    house.phone.answer = () => ({ kind: "delivered", detail: "" });
    await house.start();
    await house.go(600);
    expect(house.phone.got.map(({ key }) => key)).toEqual(["key-1", "key-1"]);
    expect(house.outbox).toEqual(["key-1 delivered"]);
  });

  it("survive a day without network and a restart in it: all arrive, each once, no backlog of repetitions", async () => {
    const house = await new House().start();
    house.phone.answer = () => failed;
    house.holding = [condition("a")];
    await house.go(6 * 3600, 60);
    house.holding = [condition("a"), condition("b")];
    await house.go(6 * 3600, 60);
    await house.kill();
    await house.start();
    await house.go(12 * 3600, 60);
    const tries = house.phone.got.length;
    // Two messages for a day at a quarter of an hour at most: not a flood either.
    expect(tries).toBeLessThan(350);
    house.phone.answer = () => ({ kind: "delivered", detail: "" });
    await house.go(1000, 10);
    const delivered = house.phone.got.slice(tries);
    expect(
      delivered.map(({ message }) => message.notices.map((told) => `${told.notice} ${told.alarmId}`)),
    ).toEqual([["raised a"], ["raised b"], expect.arrayContaining(["repeated a", "repeated b"])]);
    expect(house.phone.keys).toHaveLength(3);
    expect(house.outbox.every((line) => line.endsWith("delivered"))).toBe(true);
  }, 30_000);

  it("go out when the network comes, though with it a clock is set right that had been days behind", async () => {
    const house = await new House().start();
    house.phone.answer = () => failed;
    house.holding = [condition("a")];
    await house.go(120, 5);
    house.clock.setCivilTime(house.clock.now_epochMs() + 5 * 86_400_000);
    house.phone.answer = () => ({ kind: "delivered", detail: "" });
    await house.go(120, 5);
    expect(house.outbox[0]).toBe("key-1 delivered");
  });

  it("are given up after three days, and the alarm of the channel has said so long before", async () => {
    const house = await new House().start();
    house.phone.answer = () => failed;
    house.holding = [condition("a")];
    await house.go(700, 5);
    expect(house.delivery.conditions()).toMatchObject([
      {
        alarmId: "alert-channel/phone",
        priority: "medium",
        cause: expect.stringContaining("ECONNREFUSED") as string,
      },
    ]);
    await house.go(73 * 3600, 600);
    expect(house.outbox[0]).toBe("key-1 given up");
    house.phone.answer = () => ({ kind: "delivered", detail: "" });
    await house.go(3600, 60);
    expect(house.delivery.conditions()).toEqual([]);
  }, 30_000);

  it("to one who hangs hold up neither another channel nor the look at the alarms", async () => {
    const house = new House();
    house.routes = [{ ...route, channels: ["phone", "mail"] }];
    await house.start();
    house.phone.answer = never;
    house.holding = [condition("a")];
    await house.go(40);
    house.holding = [condition("a"), condition("b")];
    await house.go(40);
    expect(house.mail.got).toHaveLength(2);
    expect(house.phone.got).toHaveLength(1);
    await house.delivery.stop();
    expect(house.outbox.filter((line) => line.endsWith("waiting"))).toHaveLength(2);
  });

  it("that are refused for themselves let the next one pass", async () => {
    const house = await new House().start();
    house.phone.answer = () =>
      house.phone.got.at(-1)!.key === "key-1"
        ? { kind: "refused", reason: "answered 422" }
        : { kind: "delivered", detail: "" };
    house.holding = [condition("a")];
    await house.go(60);
    house.holding = [condition("a"), condition("b")];
    await house.go(60);
    expect(house.outbox).toEqual(["key-1 waiting", "key-2 delivered"]);
  });

  it("go out though the disk fails", async () => {
    const house = await new House().start();
    house.store.fail("full", 0);
    house.holding = [condition("store", "critical")];
    await house.go(10);
    expect(house.phone.got).toHaveLength(1);
  });

  it("wait as long as the receiver asks", async () => {
    const house = await new House().start();
    house.phone.answer = () => ({ kind: "failed", reason: "answered 429", retryAfter_s: 600 });
    house.holding = [condition("a")];
    await house.go(590);
    expect(house.phone.got).toHaveLength(1);
    await house.go(20);
    expect(house.phone.got).toHaveLength(2);
  });

  it("for a channel that is no longer in the config are given up at the next start", async () => {
    const house = await new House().start();
    house.phone.answer = () => failed;
    house.holding = [condition("a")];
    await house.go(10);
    await house.kill();
    house.channels.delete("phone");
    house.routes = [];
    await house.start();
    await house.go(3);
    expect(house.outbox).toEqual(["key-1 given up"]);
  });

  it("are told anew where the memory of what was told cannot be read", async () => {
    const house = await new House().start();
    house.holding = [condition("a")];
    await house.go(5);
    await house.kill();
    house.disk.snapshots.set("alerts", { json: '{"state":{"told":"odd"}}', at_epochMs: 0 });
    await house.start();
    await house.go(5);
    expect(house.phone.keys).toHaveLength(2);
  });

  it("write nothing while nothing changes but the words of an alarm", async () => {
    const house = await new House().start();
    house.holding = [condition("a")];
    await house.go(60);
    const writes: unknown[] = [];
    const keep = house.store.keepOutbox.bind(house.store);
    house.store.keepOutbox = (change) => {
      writes.push(change);
      return keep(change);
    };
    for (let second = 0; second < 60; second += 1) {
      house.holding = [{ ...condition("a"), cause: `stale for ${second} s` }];
      await house.go(1);
    }
    expect(writes).toEqual([]);
  });
});

describe("other channels and routes of a config that is read again", () => {
  it("get what waits, at once and under its key; what was told is not told anew, and a channel that is gone gives up", async () => {
    const house = new House();
    house.routes = [{ ...route, channels: ["phone", "mail"] }];
    await house.start();
    house.phone.answer = () => failed;
    house.mail.answer = () => failed;
    house.holding = [condition("a")];
    await house.go(400);
    const pager = new Receiver();
    const hall = new Receiver();
    house.delivery.replace(
      [{ ...route, channels: ["phone", "hall"] }],
      new Map([
        ["phone", pager],
        ["hall", hall],
      ]),
    );
    await house.go(2);
    expect(pager.got.map(({ key }) => key)).toEqual([house.phone.keys[0]]);
    expect(hall.got).toEqual([]);
    expect(house.outbox).toEqual(["key-1 delivered", "key-2 given up"]);
    house.holding = [condition("a"), condition("b")];
    await house.go(60);
    expect(hall.got.map(({ message }) => message.notices.map(({ alarmId }) => alarmId))).toEqual([["b"]]);
    expect(house.delivery.channels().map(({ channel }) => channel)).toEqual(["phone", "hall"]);
  });
});

describe("the end of the daemon", () => {
  it("waits no longer than three seconds for a channel that does not heed it", async () => {
    const house = new House();
    house.channels.set("phone", { deliver: never });
    await house.start();
    house.holding = [condition("a")];
    await house.go(5);
    let ended = false;
    void house.delivery.stop().then(() => {
      ended = true;
    });
    await house.clock.advance(2900);
    expect(ended).toBe(false);
    await house.clock.advance(200);
    expect(ended).toBe(true);
    expect(house.outbox).toEqual(["key-1 waiting"]);
  });
});

describe("a trial message", () => {
  it("goes past the outbox, and says what became of it", async () => {
    const house = await new House().start();
    expect(await house.delivery.tryChannel("phone")).toEqual({ kind: "delivered", detail: "ok" });
    house.phone.answer = () => failed;
    expect(await house.delivery.tryChannel("phone")).toEqual(failed);
    expect(await house.delivery.tryChannel("pager")).toBeUndefined();
    expect(house.outbox).toEqual([]);
    expect(house.phone.got[0]!.message.notices).toEqual([]);
  });
});
