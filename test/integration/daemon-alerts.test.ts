import Database from "better-sqlite3";
import { mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { kill, runCommand, type DaemonProcess } from "../support/daemon-process.js";
import { startHttpReceiver, type HttpReceiver } from "../support/http-receiver.js";

const bench = useDaemonBench();
const secret = "lantern-reed-42";
const lowAlarm = "without-auto-off/outlet";

let receiver: HttpReceiver;
beforeEach(async () => {
  receiver = await startHttpReceiver();
});
afterEach(() => receiver.close());

function begin(folder = mkdtempSync(join(tmpdir(), "fizzward-alerts-"))): Promise<DaemonProcess> {
  writeFileSync(join(folder, "token"), `${secret}\n`, { mode: 0o600 });
  return bench().run({
    folder,
    config: {
      sections: `
alerts:
  channels:
    phone:
      kind: webhook
      url: "${receiver.url}/{secret}"
      headers: { Authorization: "Bearer {secret}" }
      secretFile: token
      timeout_s: 30
    hall: { kind: mqtt, topic: hall/notice, body: { text: "{heading}", key: "{key}" } }
  routes:
    - { to: [phone, hall], groupWithin_s: 0 }
`,
    },
  });
}

const keyOf = (index: number): unknown => receiver.got[index]?.headers["idempotency-key"];

async function told(count: number): Promise<void> {
  await vi.waitFor(() => expect(receiver.got.length).toBeGreaterThanOrEqual(count), { timeout: 15_000 });
}

describe("an alarm of the running daemon", () => {
  it("that is sent and not marked before a kill comes again under the same key; a receiver that hangs delays no valve", async () => {
    receiver.answerWith(() => undefined);
    const running = await begin();
    await told(1);
    const sent_ms = performance.now();
    await bench().observer.publish("tank/ph", "6.8");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 5000, interval: 10 });
    expect(performance.now() - sent_ms).toBeLessThan(2500);

    kill(running.processIds().daemon, "SIGKILL");
    await running.exitCode();
    receiver.answerWith((response) => void response.writeHead(204).end());
    const again = await begin(running.folder);
    await told(2);
    expect(keyOf(1)).toBe(keyOf(0));
    expect(JSON.parse(receiver.got[1]!.body)).toMatchObject({ alarms: [{ id: lowAlarm }] });
    await vi.waitFor(
      () => {
        const database = new Database(`${again.folder}/site.db`, { readonly: true });
        const rows = database.prepare("SELECT DISTINCT state FROM outbox").pluck().all();
        database.close();
        expect(rows).toEqual(["delivered"]);
      },
      { timeout: 10_000 },
    );
    const hall = bench().observer.messages.filter(({ topic }) => topic === "hall/notice");
    expect(new Set(hall.map(({ payload }) => payload)).size).toBe(1);
    expect(running.output() + again.output()).not.toContain(secret);
  }, 60_000);

  it("is listed, acknowledged here and from afar, and its channel tried, without a word of its secret", async () => {
    const running = await begin();
    const config = ["--config", running.configFile];
    await told(1);
    const list = await runCommand(["alarms", "list", ...config]);
    expect(list.output).toContain(`${lowAlarm}  low, unacknowledged`);
    expect(list.output).toContain("time to respond: 30 days");

    const topic = "fizzward/mill-house/alarms/acknowledge";
    await bench().observer.publish(topic, JSON.stringify({ id: "a", alarm: lowAlarm }));
    await vi.waitFor(
      () =>
        expect(
          bench().observer.messages.filter((message) => message.topic === `${topic}/answer`),
        ).toHaveLength(1),
      { timeout: 5000 },
    );
    const shelved = await runCommand(["alarms", "shelve", lowAlarm, "--for", "60", ...config]);
    expect(shelved.output).toContain("is shelved for 60 min");
    const twice = await runCommand(["alarms", "acknowledge", lowAlarm, ...config]);
    expect(twice).toMatchObject({ exitCode: 1 });
    expect(twice.output).toContain("it is shelved");
    expect((await runCommand(["alarms", "acknowledge", ...config])).exitCode).not.toBe(0);
    await vi.waitFor(
      () => {
        const last = bench()
          .observer.messages.filter((message) => message.topic.endsWith("/alarms"))
          .at(-1);
        expect(last?.payload).toContain('"state":"shelved"');
      },
      { timeout: 5000 },
    );

    const trial = await runCommand(["alerts", "test", "phone", ...config]);
    expect(trial.output).toContain("phone has taken the trial message: answered 204");
    receiver.answerWith((response) => void response.writeHead(500).end());
    const failing = await runCommand(["alerts", "test", "phone", ...config]);
    expect(failing).toMatchObject({ exitCode: 1 });
    expect(failing.output).toContain("answered 500");
    const channels = await runCommand(["alerts", "list", ...config]);
    expect(channels.output).toMatch(/phone {2}last delivered .*, 0 waiting/);
    expect([running.output(), trial.output, failing.output, channels.output].join("")).not.toContain(secret);
  }, 60_000);

  it("goes by other channels once the config is read again; one that cannot be taken leaves them and raises an alarm", async () => {
    const running = await begin();
    const config = ["--config", running.configFile];
    await told(1);
    expect((await runCommand(["alerts", "digest", ...config])).exitCode).toBe(1);
    const before = readFileSync(running.configFile, "utf8");
    const reload = (text: string): void => {
      writeFileSync(running.configFile, text);
      kill(running.processIds().daemon, "SIGHUP");
    };
    reload(
      before
        .replace(
          "    hall: {",
          '    hall: { kind: mqtt, topic: hall/second, body: { text: "{text}" } }\n    old: {',
        )
        .replace("  routes:", '  digest: { to: [hall], at: "03:00" }\n  routes:'),
    );
    await running.logged("the config was read again", 10_000);
    expect((await runCommand(["alerts", "test", "hall", ...config])).exitCode).toBe(0);
    await vi.waitFor(
      () => expect(bench().observer.messages.some(({ topic }) => topic === "hall/second")).toBe(true),
      { timeout: 5000 },
    );
    await vi.waitFor(
      async () => {
        const { output } = await runCommand(["alerts", "digest", ...config]);
        expect(output).toMatch(/daily digest of [^]*tank loach: CO2/);
      },
      { timeout: 15_000, interval: 1000 },
    );
    reload("site: nonsense\n");
    await vi.waitFor(
      () => {
        const last = bench()
          .observer.messages.filter(({ topic }) => topic.endsWith("/alarms"))
          .at(-1);
        expect(last?.payload).toContain("the config was read again and cannot be taken");
      },
      { timeout: 15_000 },
    );
    writeFileSync(running.configFile, before);
    expect((await runCommand(["alerts", "test", "hall", ...config])).exitCode).toBe(0);
  }, 90_000);
});
