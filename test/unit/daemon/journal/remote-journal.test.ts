import { describe, expect, it } from "vitest";
import { listenForEntries } from "../../../../daemon/journal/remote-journal.js";
import type { BusMessage, MessageBus, OutgoingMessage } from "../../../../daemon/ports/message-bus.js";
import { journalBench } from "../../../support/journal-bench.js";

async function bench() {
  const site = await journalBench();
  let hear: (message: BusMessage) => void = () => undefined;
  const filters: string[] = [];
  const sent: OutgoingMessage[] = [];
  const bus: Pick<MessageBus, "subscribe" | "publish"> = {
    subscribe: (filter, _qos, listener) => {
      filters.push(filter);
      hear = listener;
    },
    publish: (message) => {
      sent.push(message);
      return Promise.resolve({ kind: "sent" });
    },
  };
  const { clock, logger, journal, model } = site;
  listenForEntries(
    { bus, clock, logger },
    { baseTopic: model.baseTopic, timeZone: () => model.timeZone },
    journal,
  );
  const say = (payload: string | Uint8Array, retained = false): void =>
    hear({
      topic: filters[0]!,
      payload: typeof payload === "string" ? new TextEncoder().encode(payload) : payload,
      retained,
      at_epochMs: clock.now_epochMs(),
      at_monotonicMs: clock.monotonic_ms(),
    });
  const settle = (): Promise<void> => clock.advance(1);
  const answers = (): readonly Readonly<Record<string, unknown>>[] =>
    sent.map(({ payload }) => JSON.parse(String(payload)) as Readonly<Record<string, unknown>>);
  return { ...site, filters, sent, say, settle, answers };
}

const kh = (kh_dKH: number, more: Readonly<Record<string, unknown>> = {}): string =>
  JSON.stringify({ kind: "kh test", tank: "loach", kh_dKH, ...more });

describe("an entry by MQTT", () => {
  it("is answered with its number, its local time and the sender's id once it is on disk", async () => {
    const { filters, sent, say, settle, answers, disk } = await bench();
    expect(filters).toEqual(["fizzward/mill-pond/journal/enter"]);
    say(kh(4.5, { id: "tablet-7" }));
    await settle();
    expect(sent).toMatchObject([{ topic: "fizzward/mill-pond/journal/enter/answer", qos: 1, retain: false }]);
    expect(answers()).toEqual([
      {
        id: "tablet-7",
        accepted: true,
        entryId: 1,
        known: false,
        at: "2026-05-01T18:00+02:00",
        subject: "loach",
        fact: "KH test: 4.5 dKH",
        remarks: [],
      },
    ]);
    expect(disk.journal).toMatchObject([{ source: "remote" }]);
  });

  it("that is delivered twice is kept once and answered twice", async () => {
    const { say, settle, answers, disk } = await bench();
    say(kh(4.5, { id: 1 }));
    say(kh(4.5, { id: 1 }));
    await settle();
    expect(answers()).toMatchObject([
      { id: 1, accepted: true, entryId: 1 },
      { id: 1, accepted: true, entryId: 1 },
    ]);
    expect(new Set(answers().map(({ known }) => known))).toEqual(new Set([false, true]));
    expect(disk.journal).toHaveLength(1);
  });

  it("with a remark carries it in words", async () => {
    const { say, settle, answers } = await bench();
    say(kh(4));
    await settle();
    say(kh(12));
    await settle();
    say(JSON.stringify({ kind: "gauge reading", vessel: "cellar", pressure: 21, unit: "bar" }));
    await settle();
    expect(answers()[1]?.["remarks"]).toEqual([
      "the KH looks unlike the last one, 4 dKH of 2026-05-01 18:00; where it is a slip, withdraw it",
    ]);
    expect(JSON.stringify(answers()[2])).toContain("above the rated pressure of the vessel, 20 bar");
    expect(JSON.stringify(answers()[2])).not.toContain("withdraw");
    say(JSON.stringify({ kind: "gauge reading", vessel: "cellar", pressure: 135, unit: "bar" }));
    await settle();
    expect(JSON.stringify(answers()[3])).toMatch(
      /keep away .*look at the gauge's unit from afar: .* withdraw this entry/,
    );
    say(
      JSON.stringify({
        kind: "charge closed",
        vessel: "cellar",
        sodiumBicarbonate_g: 80,
        citricAcidAnhydrous_g: 6.6,
        water_kg: 0.5,
        closedWith: "water",
        sealedAt_degC: 18,
      }),
    );
    await settle();
    expect(JSON.stringify(answers()[4])).toContain(
      "6.6 g of acid is far from the 61 g that the bicarbonate takes",
    );
  });

  it("that is refused says why, to a person and to a program", async () => {
    const { say, settle, answers } = await bench();
    say(kh(400, { id: "a" }));
    await settle();
    expect(answers()).toEqual([
      {
        id: "a",
        accepted: false,
        reason: "the KH is 400 dKH; allowed is 0.1 to 40 dKH",
        refusal: {
          kind: "out of range",
          quantity: "kh_dKH",
          value: 400,
          unit: "dKH",
          minimum: 0.1,
          maximum: 40,
        },
      },
    ]);
  });

  it("that the store does not keep is not accepted", async () => {
    const { store, say, settle, answers } = await bench();
    store.fail("the disk is full; free space", 0);
    say(kh(4));
    await settle();
    expect(answers()).toMatchObject([{ accepted: false }]);
    expect(String(answers()[0]?.["reason"])).toContain("free space");
  });

  it("that is retained is not kept, is answered so, and logged", async () => {
    const { say, settle, answers, disk, logger } = await bench();
    say(kh(4, { id: 7 }), true);
    say("", true);
    await settle();
    expect(answers()).toEqual([
      { id: 7, accepted: false, reason: expect.stringContaining("send it not retained") as string },
    ]);
    expect(disk.journal).toEqual([]);
    expect(logger.lines.map(({ message }) => message)).toEqual([
      "a retained journal entry was ignored; clear it at the broker",
    ]);
  });

  it.each([
    { payload: "garbage", because: "no JSON" },
    { payload: "[1]", because: "a list" },
    { payload: "null", because: "nothing" },
    { payload: '"kh"', because: "a text" },
    { payload: new Uint8Array([0x7b, 0xff, 0x7d]), because: "no UTF-8" },
    { payload: kh(4, { note: "x".repeat(4000) }), because: "too long" },
    { payload: kh(4, { id: { nested: true } }), because: "an id that is neither text nor number" },
    { payload: kh(4, { id: "x".repeat(101) }), because: "an id that is too long" },
    { payload: '{"kind":"kh test","kh_dKH":4,"__proto__":{"a":1}}', because: "a key that is no key" },
    { payload: '{"kind":"kh test","kh_dKH":1e999}', because: "an infinite number" },
  ])("is not understood as $because, and is told so", async ({ payload }) => {
    const { say, settle, answers, disk } = await bench();
    say(payload);
    await settle();
    expect(answers()).toMatchObject([{ accepted: false }]);
    expect(String(answers()[0]?.["reason"])).toContain("not understood");
    expect(disk.journal).toEqual([]);
  });
});

describe("a refusal by MQTT", () => {
  it.each([
    { payload: '{"kind":"kh test","kh_dKH":4,5}', says: "write 4.5 with a point, not a comma" },
    { payload: '{"kind":"kh test","kh_dKH":"4,5"}', says: "write 4.5 with a point, not a comma" },
    { payload: '{"kind":"kh test"}', says: "kh_dKH is missing" },
    { payload: '{"kind":"kh test","kh_dKH":"four"}', says: "kh_dKH must be a number, not text" },
    {
      payload: '{"kind":"degassed pH","pH":7.6}',
      says: "how is missing: write one of aerated a day, aerated an hour",
    },
    {
      payload: '{"kind":"degassed pH","ph":7.6,"how":"not known"}',
      says: '"ph" is not known here; "pH" is needed',
    },
    { payload: '{"kind":"khtest","kh_dKH":4}', says: 'kind is "khtest": write one of kh test, degassed pH' },
    {
      payload: '{"kind":"drop checker","colour":"teal"}',
      says: 'colour is "teal": write one of blue, blue-green',
    },
    { payload: '{"kh_dKH":4}', says: "kind is missing: write one of kh test" },
  ])("of $payload says what to mend", async ({ payload, says }) => {
    const { say, settle, answers } = await bench();
    say(payload);
    await settle();
    const reason = String(answers()[0]?.["reason"]);
    expect(reason).toContain(says);
    expect(reason).not.toMatch(/invalid|expected|received|\u2716|undefined/i);
  });
});

describe("many entries by MQTT", () => {
  it("pass in a burst of ten; the next ones are answered as too many, and later ones are taken again", async () => {
    const { say, settle, answers, disk, clock } = await bench();
    for (let n = 1; n <= 12; n += 1) say(kh(n, { id: n }));
    await settle();
    expect(disk.journal).toHaveLength(10);
    const refused = answers().filter(({ accepted }) => accepted === false);
    expect(refused.map(({ id }) => id)).toEqual([11, 12]);
    expect(String(refused[0]?.["reason"])).toContain("too many");
    await clock.advance(10_000);
    say(kh(11, { id: 13 }));
    await settle();
    expect(answers().at(-1)).toMatchObject({ id: 13, accepted: true });
  });

  it("in a flood cost neither the disk, nor the network, nor the log", async () => {
    const { say, settle, sent, disk, logger, clock } = await bench();
    for (let second = 0; second < 60; second += 1) {
      for (let n = 0; n < 500; n += 1) say(kh(1 + (n % 30), { note: `${second}` }));
      await clock.advance(1000);
    }
    await settle();
    expect(disk.journal.length).toBeLessThanOrEqual(60);
    expect(sent.length).toBeLessThanOrEqual(120);
    expect(logger.lines.filter(({ level }) => level === "warn")).toHaveLength(1);
  });

  it("are no more than 500 in a day, whatever their pace", async () => {
    const { say, disk, clock } = await bench();
    for (let n = 0; n < 600; n += 1) {
      say(kh(1 + (n % 30)));
      await clock.advance(100_000);
    }
    expect(disk.journal).toHaveLength(500);
    await clock.advance(86_400_000);
    say(kh(7));
    await clock.advance(1);
    expect(disk.journal).toHaveLength(501);
  });
});
