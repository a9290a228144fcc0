import { describe, expect, it } from "vitest";
import { createAlertDelivery, type AlertDelivery } from "../../../../daemon/alerts/alert-delivery.js";
import { createAlertCommands } from "../../../../daemon/control-socket/alert-commands.js";
import type { SocketReply } from "../../../../daemon/control-socket/control-socket.js";
import type { DigestConfig } from "../../../../daemon/digest/digest-facts.js";
import { createDigestWatch, type DigestWatch } from "../../../../daemon/digest/digest-watch.js";
import type { DeliveryOutcome } from "../../../../daemon/ports/alert-channel.js";
import type { SiteStatus } from "../../../../daemon/site-status.js";
import type { AlertMessage } from "../../../../lib/alerts/alert-message.js";
import type { Co2Band } from "../../../../lib/tank/co2-bands.js";
import { CollectingLogger } from "../../../support/collecting-logger.js";
import { benchYaml, modelOf } from "../../../support/control-bench.js";
import { FakeClock } from "../../../support/fake-clock.js";
import { edited } from "../../../support/marked-config.js";
import { MemoryDisk, MemorySiteStore } from "../../../support/memory-site-store.js";

const yaml = edited(benchYaml, [
  ["vessels:\n", "  gauge: { measures: pressure, unit: bar, reference: gauge, topic: gauge }\nvessels:\n"],
  ["workingPressureGauge_bar: 3 }", "workingPressureGauge_bar: 3, pressureSensor: gauge }"],
]);
const model = modelOf(yaml);
const hour_ms = 3_600_000;

/** A site whose daemon can be killed and started again on the same disk, at any time of the clock on the wall. */
class Site {
  readonly clock: FakeClock;
  readonly disk = new MemoryDisk();
  readonly logger = new CollectingLogger();
  readonly got: { readonly key: string; readonly message: AlertMessage }[] = [];
  answer: () => DeliveryOutcome | Promise<DeliveryOutcome> = () => ({ kind: "delivered", detail: "ok" });
  config: DigestConfig | undefined = { to: ["mail", "mail"], at: "07:30", picture_days: 7 };
  band: Co2Band = "in target";
  clockIsPlausible = true;
  store = new MemorySiteStore(() => this.clock.now_epochMs(), this.disk);
  #delivery: AlertDelivery | undefined;
  #watch: DigestWatch | undefined;

  constructor(startAt: string) {
    this.clock = new FakeClock(Date.parse(startAt));
  }

  async start(at?: string): Promise<this> {
    const { clock, logger } = this;
    if (at !== undefined) clock.setCivilTime(Date.parse(at));
    const store = new MemorySiteStore(() => clock.now_epochMs(), this.disk);
    this.store = store;
    await store.start();
    const deliver = (message: AlertMessage, key: string): Promise<DeliveryOutcome> => {
      this.got.push({ key, message });
      return Promise.resolve(this.answer());
    };
    const delivery = createAlertDelivery(
      { clock, machineClock: clock, store, logger, random: () => 0.5, newKey: () => "new" },
      { routes: [], channels: new Map([["mail", { deliver }]]), timeZone: () => model.timeZone },
      () => [],
    );
    const watch = createDigestWatch(
      {
        clock,
        machineClock: clock,
        store,
        logger,
        status: () => this.#status(),
        model: () => model,
        upkeep: () => [
          {
            task: "KH test",
            subject: { kind: "tank", id: "loach" },
            done_epochMs: undefined,
            state: { kind: "due" },
          },
        ],
        send: (messages, snapshot) => delivery.send(messages, snapshot),
      },
      () => this.config,
    );
    this.#delivery = delivery;
    this.#watch = watch;
    await delivery.start();
    await watch.start();
    return this;
  }

  /** Nothing that the process had in hand reaches the disk any more. */
  async kill(): Promise<void> {
    await this.store.stop();
    await this.end();
  }

  async end(): Promise<void> {
    await this.#watch?.stop();
    await this.#delivery?.stop();
  }

  async go(seconds: number): Promise<this> {
    await this.clock.advance(seconds * 1000);
    return this;
  }

  async ask(): Promise<SocketReply> {
    const replies: SocketReply[] = [];
    const handle = createAlertCommands(this.#delivery!, this.#watch!, () => Promise.resolve());
    await handle(
      { command: "alerts-digest" },
      {
        reply: (line) => replies.push(line),
        nextLine: () => Promise.resolve(undefined),
        isGone: () => false,
      },
    );
    return replies.at(-1)!;
  }

  get texts(): readonly string[] {
    return this.got.map(({ message }) => message.digest!.text);
  }

  /** As much of a control pass as a digest asks for. */
  #status(): SiteStatus {
    const { clock } = this;
    return {
      at_epochMs: clock.now_epochMs(),
      at_monotonicMs: clock.monotonic_ms(),
      clock: this.clockIsPlausible ? { kind: "plausible" } : { kind: "implausible", reason: "x" },
      tanks: [{ tankId: "loach", band: this.band }],
      supplies: [],
    } as unknown as SiteStatus;
  }
}

const key = "mill-pond.digest.2026-05-04.mail";

describe("the digest of a running daemon", () => {
  it("is sent once to each channel when its time comes, with hours, alarms, upkeep and the picture of the pressure", async () => {
    const site = await new Site("2026-05-04T06:30:00+02:00").start();
    const start_epochMs = site.clock.now_epochMs();
    for (let hour = -48; hour < 0; hour += 1) {
      site.store.appendReading({
        sensorId: "gauge",
        quantity: "pressureGauge_bar",
        value: 12 + hour / 48,
        at_epochMs: start_epochMs + hour * hour_ms,
      });
    }
    await site.go(1800);
    site.band = "alarm";
    for (const what of ["raised", "returned to normal", "raised again"]) {
      void site.store.recordEvent({
        at_epochMs: site.clock.now_epochMs(),
        area: "alarm",
        subject: "co2/loach",
        what,
        reason: "CO2 is about 45 mg/L",
        details: { priority: "high" },
      });
    }
    await site.go(1795);
    expect(site.got).toEqual([]);
    await site.go(10);
    expect(site.got.map((sent) => sent.key)).toEqual([key]);
    const { digest, notices } = site.got[0]!.message;
    expect(notices).toEqual([]);
    expect(digest!.heading).toBe("daily digest of 2026-05-04");
    expect(digest!.text).toContain("tank loach: CO2 in target 0.5 h, alarm 0.5 h\n");
    expect(digest!.text).toContain("vessel cellar: what is left is not known");
    expect(digest!.text).toContain("tank loach  KH test: due now");
    expect(digest!.text).toContain(
      "co2/loach  high, 2 times, last on 2026-05-04 07:00: CO2 is about 45 mg/L",
    );
    expect(digest!.pictures).toMatchObject([
      { vesselId: "cellar", alt: expect.stringContaining("11.0 bar at first, 12.0 bar at last") as string },
    ]);
    await site.go(3600);
    expect(site.got).toHaveLength(1);
    await site.end();
  });

  it("covers from the last one on, and is not sent again over restarts on the same day", async () => {
    const site = await new Site("2026-05-04T07:29:00+02:00").start();
    await site.go(90);
    for (const at of ["07:31:00", "09:00:00", "18:00:00"]) {
      await site.kill();
      await site.start(`2026-05-04T${at}+02:00`);
      await site.go(30);
    }
    expect(site.got).toHaveLength(1);
    await site.end();
    await site.start("2026-05-05T07:29:50+02:00");
    await site.go(20);
    expect(site.got.map((sent) => sent.key)).toEqual([key, "mill-pond.digest.2026-05-05.mail"]);
    expect(site.texts[1]).toContain("From 2026-05-04 07:30 to 2026-05-05 07:30.");
    await site.end();
  });

  it("goes out again under the same key, and no other, when the daemon is killed between the sending and its mark", async () => {
    const site = await new Site("2026-05-04T07:29:00+02:00").start();
    site.answer = async () => {
      await site.store.stop();
      return { kind: "delivered", detail: "" };
    };
    await site.go(90);
    await site.kill();
    site.answer = () => ({ kind: "delivered", detail: "" });
    await site.start();
    await site.go(600);
    expect(site.got.map((sent) => sent.key)).toEqual([key, key]);
    expect(site.got[1]!.message).toEqual(site.got[0]!.message);
    await site.end();
  });

  it("keeps its key when the disk took nothing, so that a receiver drops the second", async () => {
    const site = await new Site("2026-05-04T07:29:00+02:00").start();
    await site.end();
    await site.start();
    await site.go(10);
    site.store.fail("full", 0);
    await site.go(90);
    expect(site.got.map((sent) => sent.key)).toEqual([key]);
    await site.kill();
    await site.start("2026-05-04T08:00:00+02:00");
    await site.go(10);
    expect(site.got.map((sent) => sent.key)).toEqual([key, key]);
    await site.end();
  });

  it("that was due while nobody watched is sent at the next start within twelve hours, and not later", async () => {
    const site = await new Site("2026-05-03T12:00:00+02:00").start();
    await site.go(60);
    await site.end();
    await site.start("2026-05-04T19:29:00+02:00");
    await site.go(5);
    expect(site.got.map((sent) => sent.key)).toEqual([key]);
    await site.end();
    await site.start("2026-05-05T19:31:00+02:00");
    await site.go(60);
    expect(site.got).toHaveLength(1);
    await site.end();
    // What was left out is told with the next one.
    await site.start("2026-05-06T07:29:58+02:00");
    await site.go(5);
    expect(site.texts[1]).toContain("From 2026-05-04 19:29 to 2026-05-06 07:30.");
    await site.end();
  });

  it("waits for a clock that is plausible, and counts nothing meanwhile", async () => {
    const site = await new Site("2026-05-04T07:00:00+02:00").start();
    await site.go(60);
    site.clockIsPlausible = false;
    await site.go(2400);
    expect(site.got).toEqual([]);
    site.clockIsPlausible = true;
    await site.go(5);
    expect(site.texts[0]).toContain("not watched 0.7 h");
    await site.end();
  });

  it("keeps the hours of each band over an orderly end, and all but five minutes over a kill", async () => {
    const site = await new Site("2026-05-04T01:00:00+02:00").start();
    site.band = "caution";
    await site.go(1800);
    await site.end();
    await site.start();
    await site.go(1799);
    await site.kill();
    await site.start();
    site.band = "in target";
    await site.go(5);
    const now = await site.ask();
    const [, hours] = /caution (\d\.\d) h/.exec(now.kind === "done" ? now.text : "") ?? [];
    expect(Number(hours)).toBeGreaterThanOrEqual(0.9);
    expect(Number(hours)).toBeLessThanOrEqual(1);
    await site.end();
  });

  it("is shown on demand without being sent, and refused where the config names none", async () => {
    const site = await new Site("2026-05-04T05:00:00+02:00").start();
    await site.go(30);
    const shown = await site.ask();
    expect(shown).toMatchObject({ kind: "done", text: expect.stringContaining("tank loach: CO2") as string });
    await site.go(30);
    expect(site.got).toEqual([]);
    site.config = undefined;
    expect(await site.ask()).toMatchObject({
      kind: "refused",
      text: expect.stringContaining("alerts.digest") as string,
    });
    await site.go(4 * 3600);
    expect(site.got).toEqual([]);
    await site.end();
  });

  it("goes out without picture and alarms when the store does not answer, and says so", async () => {
    const site = await new Site("2026-05-04T07:29:00+02:00").start();
    site.store.events = () => Promise.reject(new Error("busy"));
    site.store.readings = () => Promise.reject(new Error("busy"));
    await site.go(90);
    expect(site.texts[0]).toContain("could not be read from the store");
    expect(site.got[0]!.message.digest!.pictures).toEqual([]);
    await site.end();
  });

  it("begins anew where its memory cannot be read, and is not told to have been sent", async () => {
    const site = await new Site("2026-05-04T06:00:00+02:00").start();
    await site.go(10);
    await site.kill();
    site.disk.snapshots.set("digest", { json: '{"state":{"tanks":7}}', at_epochMs: 0 });
    await site.start("2026-05-04T07:29:55+02:00");
    await site.go(10);
    expect(site.got.map((sent) => sent.key)).toEqual([key]);
    await site.end();
  });
});
