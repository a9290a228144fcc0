import Database from "better-sqlite3";
import { describe, expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { kill, runCommand, type DaemonProcess } from "../support/daemon-process.js";

const bench = useDaemonBench();
const enterTopic = "fizzward/mill-house/journal/enter";
const answerTopic = `${enterTopic}/answer`;

type Answer = Readonly<Record<string, unknown>>;

const begin = (folder?: string): Promise<DaemonProcess> =>
  bench().run({
    config: {
      timeZone: "Europe/Berlin",
      vesselKeys: ", ratedPressureGauge_bar: 20, reliefOpeningGauge_bar: 18",
    },
    ...(folder === undefined ? {} : { folder }),
  });

const journalOf =
  (running: DaemonProcess) =>
  (...args: readonly string[]) => {
    const [command = "", ...rest] = args;
    return runCommand(["journal", command, "--config", running.configFile, ...rest]);
  };

const answers = (): readonly Answer[] =>
  bench()
    .observer.messages.filter(({ topic }) => topic === answerTopic)
    .map(({ payload }) => JSON.parse(payload) as Answer);

const say = (content: unknown): Promise<void> =>
  bench().observer.publish(enterTopic, typeof content === "string" ? content : JSON.stringify(content));

const answered = (count: number, timeout_ms = 10_000): Promise<readonly Answer[]> =>
  vi.waitFor(
    () => {
      const heard = answers();
      if (heard.length < count) throw new Error(`${heard.length} of ${count} answers`);
      return heard;
    },
    { timeout: timeout_ms, interval: 10 },
  );

const lastTank = (): Answer | undefined => {
  const last = bench()
    .observer.messages.filter(({ topic }) => topic === "fizzward/mill-house/tank/loach")
    .at(-1);
  return last === undefined ? undefined : (JSON.parse(last.payload) as Answer);
};

describe("the journal by command line", () => {
  it("keeps what a person saw and did, lists it, and lets a wrong line be withdrawn", async () => {
    const running = await begin();
    const journal = journalOf(running);
    await vi.waitFor(() => expect(lastTank()).toMatchObject({ kh_dKH: 4, khFrom: "config" }), {
      timeout: 10_000,
    });
    const kh = await journal("kh", "--tank", "loach", "4.5", "--note", "new bottle");
    expect(kh).toMatchObject({ exitCode: 0 });
    expect(kh.output).toMatch(/^kept as entry 1: \d{4}-\d\d-\d\d \d\d:\d\d, loach, KH test: 4.5 dKH\n$/);
    const entered = [
      ["drop-checker", "green"],
      ["gauge", "12.5", "kg/cm2", "--temperature", "21"],
      ["calibration", "7.00=7.08", "4.01=4.11", "--temperature", "24"],
      ["degassed-ph", "7.6", "--how", "aerated-a-day"],
      ["water-change", "30"],
      ["bubble-count", "60"],
      ["weighing", "3.45", "kg"],
      ["regulator-set", "3", "bar"],
      [
        "charge-closed",
        "--bicarbonate",
        "80",
        "--acid-anhydrous",
        "66",
        "--ice",
        "0.5",
        "--temperature",
        "18",
      ],
    ];
    for (const [index, args] of entered.entries()) {
      const { exitCode, output } = await journal(...args);
      expect(output).toContain(`kept as entry ${index + 2}: `);
      expect(exitCode).toBe(0);
    }
    const list = await journal("list");
    for (const words of [
      'loach  KH test: 4.5 dKH  "new bottle"',
      "loach  drop checker: green",
      "cellar  gauge: 12.5 kgf/cm2 (12.26 bar) at 21 degC",
      "tank-ph  calibration: buffer 7.00 showed 7.08 at 24 degC; buffer 4.01 showed 4.11 at 24 degC",
      "loach  degassed pH: 7.6, aerated a day",
      "loach  water change: 30 L",
      "outlet  bubble count: 60 a minute",
      "cellar  weighing: 3450 g",
      "cellar  regulator set: 3 bar",
      "cellar  charge closed: 80 g sodium bicarbonate, 66 g citric acid, 0.5 kg ice at 18 degC",
    ]) {
      expect(list.output).toContain(words);
    }
    await vi.waitFor(() => expect(lastTank()).toMatchObject({ kh_dKH: 4.5, khFrom: "KH test" }), {
      timeout: 10_000,
    });

    const withdrawn = await journal("withdraw", "1");
    expect(withdrawn.exitCode).toBe(0);
    expect(withdrawn.output).toContain("withdrawn: 1  ");
    await vi.waitFor(() => expect(lastTank()).toMatchObject({ kh_dKH: 4, khFrom: "config" }), {
      timeout: 10_000,
    });
    const json = await journal("list", "--subject", "loach", "--newest", "2", "--json");
    expect((JSON.parse(json.output) as readonly Answer[]).map(({ kind }) => kind)).toEqual([
      "degassed pH",
      "water change",
    ]);
  }, 120_000);

  it("refuses what cannot be so, with the reason, and says how to write a time that comes twice", async () => {
    const running = await begin();
    const journal = journalOf(running);
    for (const { args, reason } of [
      { args: ["kh", "45"], reason: "refused: the KH is 45 dKH; allowed is 0.1 to 40 dKH" },
      { args: ["kh", "4,5"], reason: "write it with a point: 4.5" },
      { args: ["kh", "4", "--tank", "loch"], reason: 'there is no tank "loch"; the config has loach' },
      { args: ["kh", "4", "--at", "2027-12-24T18:00"], reason: "days ahead; look at the date" },
      {
        args: ["kh", "4", "--at", "2026-10-25T02:30"],
        reason: "2026-10-25T02:30+02:00 or 2026-10-25T02:30+01:00",
      },
      { args: ["kh", "4", "--at", "2026-03-29T02:30"], reason: "does not exist" },
      { args: ["water-change", "500"], reason: "the water changed is 500 L; allowed is 0.1 to 100 L" },
      { args: ["drop-checker", "purple"], reason: "blue-green" },
      { args: ["withdraw", "7"], reason: "there is no entry 7" },
    ]) {
      const { exitCode, output } = await journal(...args);
      expect(output).toContain(reason);
      expect(exitCode).toBe(1);
    }
    expect((await journal("list")).output).toBe("there is no such entry\n");
    const gauge = await journal("gauge", "21", "bar");
    expect(gauge.exitCode).toBe(0);
    expect(gauge.output).toContain("caution: that is above the rated pressure of the vessel, 20 bar");
  }, 120_000);
});

describe("the journal by MQTT", () => {
  it("keeps what it has acknowledged through a kill -9 right after the answer", async () => {
    let running = await begin();
    const acknowledged: number[] = [];
    for (let round = 1; round <= 5; round += 1) {
      const from = bench().observer.messages.length;
      await vi.waitFor(() => expect(running.output()).toContain("broker connected"), { timeout: 10_000 });
      await say({ kind: "kh test", tank: "loach", kh_dKH: round, id: round });
      const { payload } = await bench().observer.next(answerTopic, { from, timeout_ms: 10_000 });
      kill(running.processIds().daemon, "SIGKILL");
      const told = JSON.parse(payload) as Answer;
      expect(told).toMatchObject({ id: round, accepted: true });
      acknowledged.push(Number(told["entryId"]));
      await running.exitCode();
      running = await begin(running.folder);
    }
    const database = new Database(`${running.folder}/site.db`, { readonly: true });
    const kept = database.prepare("SELECT entryId FROM journal ORDER BY entryId").pluck().all();
    database.close();
    expect(kept).toEqual(acknowledged);
    await vi.waitFor(() => expect(lastTank()).toMatchObject({ kh_dKH: 5, khFrom: "KH test" }), {
      timeout: 10_000,
    });
  }, 120_000);

  it("takes nothing of garbage, of a retained entry and of an unknown tank, and doubles nothing", async () => {
    await bench().observer.publish(enterTopic, '{"kind":"kh test","kh_dKH":9}', { retain: true });
    const running = await begin();
    await running.logged("a retained journal entry was ignored");
    await vi.waitFor(() => expect(running.output()).toContain("broker connected"), { timeout: 10_000 });
    await say("garbage");
    await say({ kind: "kh test", tank: "pond", kh_dKH: 4, id: "a" });
    await say({ kind: "kh test", tank: "loach", kh_dKH: 4, id: "b" });
    await say({ kind: "kh test", tank: "loach", kh_dKH: 4, id: "c" });
    const retained = '{"kind":"kh test","tank":"loach","kh_dKH":9,"id":"held"}';
    await bench().observer.publish(enterTopic, retained, { retain: true });
    const heard = await vi.waitFor(
      () => {
        const told = answers();
        expect(told.map(({ id }) => id)).toEqual(expect.arrayContaining(["a", "b", "c", "held"]));
        return told;
      },
      { timeout: 10_000, interval: 10 },
    );
    const by = (id: string): Answer | undefined => heard.find((one) => one["id"] === id);
    expect(heard.find(({ id }) => id === undefined)).toMatchObject({ accepted: false });
    expect(by("a")).toMatchObject({
      accepted: false,
      refusal: { kind: "unknown subject", known: ["loach"] },
    });
    expect(by("b")).toMatchObject({ accepted: true, entryId: 1 });
    expect(by("c")).toMatchObject({ accepted: true, entryId: 1 });
    expect(by("held")).toMatchObject({ accepted: false });
    expect(String(by("held")?.["reason"])).toContain("sent retained");
    const list = await journalOf(running)("list");
    expect(list.output.trimEnd().split("\n")).toHaveLength(1);
    expect(list.output).toContain("from afar");
  }, 60_000);

  it("floods neither the disk nor the control path", async () => {
    const running = await begin();
    await vi.waitFor(() => expect(running.output()).toContain("broker connected"), { timeout: 10_000 });
    await bench().observer.publish("tank/ph", "6.8");
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 10_000 });
    const flood: Promise<void>[] = [];
    for (let n = 0; n < 5000; n += 1) {
      flood.push(say({ kind: "bubble count", bubbles_perMin: n % 1000, id: n }));
    }
    await bench().observer.publish("tank/ph", "5.5");
    for (let count = 0; count < 5; count += 1) await bench().observer.publish("tank/ph", "5.5");
    await Promise.all(flood);
    await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 4000 });
    await new Promise((resolve) => setTimeout(resolve, 1000));
    // A broker drops part of such a flood on its way to the observer, so the answers are only bounded.
    expect(answers().length).toBeLessThanOrEqual(40);
    const database = new Database(`${running.folder}/site.db`, { readonly: true });
    const kept = Number(database.prepare("SELECT count(*) FROM journal").pluck().get());
    database.close();
    expect(kept).toBeGreaterThanOrEqual(10);
    expect(kept).toBeLessThanOrEqual(20);
    expect(running.output()).toContain("too many journal entries by MQTT");
    expect(running.output()).not.toContain("a control pass failed");
  }, 60_000);

  it("does not accept what the disk does not take, and takes it again once it does", async () => {
    const running = await begin();
    await vi.waitFor(() => expect(running.output()).toContain("broker connected"), { timeout: 10_000 });
    const blocking = new Database(`${running.folder}/site.db`);
    blocking.exec("BEGIN EXCLUSIVE");
    try {
      await say({ kind: "water change", changed_L: 30, id: "locked" });
      // Whatever was written before waits for the lock as well, each for its 5 s.
      const [told] = await answered(1, 25_000);
      expect(told).toMatchObject({ id: "locked", accepted: false });
      expect(String(told?.["reason"])).toContain("end that process");
    } finally {
      blocking.exec("ROLLBACK");
      blocking.close();
    }
    await running.logged("the store writes again", 60_000);
    await say({ kind: "water change", changed_L: 30, id: "free" });
    expect((await answered(2))[1]).toMatchObject({ id: "free", accepted: true });
    const list = await journalOf(running)("list");
    expect(list.output.trimEnd().split("\n")).toHaveLength(1);
  }, 90_000);
});
