import { describe, expect, it } from "vitest";
import type { JournalColumns } from "../../../../daemon/store/journal-table.js";
import type { StoreWrite } from "../../../../daemon/store/store-messages.js";
import { WriteQueue } from "../../../../daemon/store/write-queue.js";

const bounds = { mostReadings: 100, mostEvents: 5, largestBatch: 20, window: 3 };

const eventOf = (what: string) => ({
  at_epochMs: 1,
  area: "valve",
  subject: "",
  what,
  reason: "",
  details: {},
});
const readingOf = (value: number) => ({ sensorId: "a", quantity: "pH" as const, value, at_epochMs: value });
const namesOf = (write: StoreWrite | undefined): string =>
  write?.kind === "event" ? write.event.what : write?.kind === "snapshot" ? write.json : "";

const takeAll = (queue: WriteQueue) => {
  const taken = [];
  for (let next = queue.takeAny(0); next !== undefined; next = queue.takeAny(0)) taken.push(next);
  return taken;
};

/** Confirms as it goes, as a disk that works. */
const writeAll = (queue: WriteQueue): StoreWrite[] => {
  const written = [];
  for (let next = queue.takeAny(0); next !== undefined; next = queue.takeAny(0)) {
    written.push(next.write);
    queue.confirm(next.writeId);
  }
  return written;
};

describe("the write queue", () => {
  it("hands over no more than its window and goes on when one is confirmed", () => {
    const queue = new WriteQueue(bounds);
    for (const what of ["1", "2", "3", "4"]) void queue.addEvent(eventOf(what), "{}", 0);
    const taken = takeAll(queue);
    expect(taken.map(({ write }) => namesOf(write))).toEqual(["1", "2", "3"]);
    queue.confirm(taken[0]!.writeId);
    expect(takeAll(queue).map(({ write }) => namesOf(write))).toEqual(["4"]);
  });

  it("answers true on confirmation only", async () => {
    const queue = new WriteQueue(bounds);
    let answer: boolean | undefined;
    const onDisk = queue.addEvent(eventOf("opened"), "{}", 0).then((value) => (answer = value));
    const [taken] = takeAll(queue);
    await Promise.resolve();
    expect(answer).toBeUndefined();
    queue.confirm(taken!.writeId);
    expect(await onDisk).toBe(true);
  });

  it("answers false at the first failure and still writes the event later, in its place and under its id", async () => {
    const queue = new WriteQueue(bounds);
    const first = queue.addEvent(eventOf("first"), "{}", 0);
    void queue.addEvent(eventOf("second"), "{}", 0);
    const [failing] = takeAll(queue);
    queue.keepAllInFlight();
    expect(await first).toBe(false);
    const written = writeAll(queue);
    expect(written.map(namesOf)).toEqual(["first", "second"]);
    expect(written[0]).toEqual(failing!.write);
    expect(queue.isDrained).toBe(true);
  });

  it("drops the oldest event beyond its bound, says false for it and counts it", async () => {
    const queue = new WriteQueue(bounds);
    const answers = ["1", "2", "3", "4", "5", "6"].map((what) => queue.addEvent(eventOf(what), "{}", 0));
    expect(await answers[0]).toBe(false);
    expect(queue.eventsDropped).toBe(1);
    expect(writeAll(queue).map(namesOf)).toEqual(["2", "3", "4", "5", "6"]);
    expect(await Promise.all(answers.slice(1))).toEqual([true, true, true, true, true]);
  });

  it("writes only the newest state of a name and answers all who saved an older one", async () => {
    const queue = new WriteQueue(bounds);
    const answers = ["a", "b", "c"].map((json) => queue.addSnapshot("trips", json, 0, 0));
    expect(writeAll(queue).map(namesOf)).toEqual(["c"]);
    expect(await Promise.all(answers)).toEqual([true, true, true]);
  });

  it("never lets a repeated older state overwrite a newer one", () => {
    const queue = new WriteQueue(bounds);
    void queue.addSnapshot("trips", "old", 0, 0);
    const [old] = takeAll(queue);
    void queue.addSnapshot("trips", "new", 0, 0);
    queue.keep(old!.writeId);
    expect(writeAll(queue).map(namesOf)).toEqual(["new"]);
  });

  it("keeps readings back until they are due, then sends them in batches one after the other", () => {
    const queue = new WriteQueue(bounds);
    for (let n = 0; n < 19; n++) queue.addReading(readingOf(n));
    expect(takeAll(queue)).toEqual([]);
    queue.makeReadingsDue();
    for (let n = 19; n < 45; n++) queue.addReading(readingOf(n));
    const first = takeAll(queue);
    expect(first.length).toBe(1);
    queue.confirm(first[0]!.writeId);
    const rest = writeAll(queue).flatMap((write) => (write.kind === "readings" ? write.readings : []));
    expect(rest.map(({ value }) => value)).toEqual(Array.from({ length: 25 }, (_, n) => 20 + n));
  });

  it("drops the oldest readings beyond its bound, counts them and keeps the newest", () => {
    const queue = new WriteQueue(bounds);
    for (let n = 0; n < 1000; n++) queue.addReading(readingOf(n));
    const kept = writeAll(queue).flatMap((write) => (write.kind === "readings" ? write.readings : []));
    expect(kept.length).toBeLessThanOrEqual(100);
    expect(kept.length).toBeGreaterThanOrEqual(90);
    expect(kept.at(-1)?.value).toBe(999);
    expect(kept[0]?.value).toBe(queue.readingsDropped);
    expect(queue.readingsDropped + kept.length).toBe(1000);
  });

  it("puts a batch that failed back in front of the readings that came meanwhile", () => {
    const queue = new WriteQueue(bounds);
    for (let n = 0; n < 20; n++) queue.addReading(readingOf(n));
    const [batch] = takeAll(queue);
    for (let n = 20; n < 25; n++) queue.addReading(readingOf(n));
    queue.keep(batch!.writeId);
    queue.makeReadingsDue();
    const written = writeAll(queue).flatMap((write) => (write.kind === "readings" ? write.readings : []));
    expect(written.map(({ value }) => value)).toEqual(Array.from({ length: 25 }, (_, n) => n));
  });

  it("says since when the oldest due write waits, not counting readings that wait for their batch", () => {
    const queue = new WriteQueue(bounds);
    queue.addReading(readingOf(1));
    expect(queue.oldestUnanswered_monotonicMs()).toBeUndefined();
    void queue.addEvent(eventOf("late"), "{}", 700);
    void queue.addEvent(eventOf("later"), "{}", 900);
    takeAll(queue);
    expect(queue.oldestUnanswered_monotonicMs()).toBe(700);
  });

  it("answers false to whoever waited too long, and true work goes on", async () => {
    const queue = new WriteQueue(bounds);
    const long = queue.addEvent(eventOf("long"), "{}", 0);
    const short = queue.addEvent(eventOf("short"), "{}", 900);
    queue.giveUpWaiting(1000, 1000);
    expect(await long).toBe(false);
    expect(writeAll(queue).map(namesOf)).toEqual(["long", "short"]);
    expect(await short).toBe(true);
  });

  it("gives event ids that go on after those in the file", () => {
    const queue = new WriteQueue(bounds);
    queue.continueAfter(41);
    void queue.addEvent(eventOf("next"), "{}", 0);
    const [write] = writeAll(queue);
    expect(write?.kind === "event" && write.eventId).toBe(42);
  });
});

describe("a journal row in the write queue", () => {
  const row = (entryId: number): JournalColumns => ({
    entryId,
    at_epochMs: 1,
    enteredAt_epochMs: 1,
    source: "local",
    kind: "kh test",
    subject: "loach",
    fact: "{}",
    note: "",
    withdraws: null,
  });

  it("is forgotten when the disk fails, where an event is kept", async () => {
    const queue = new WriteQueue(bounds);
    const kept = queue.addJournalRow(row(1), 0);
    void queue.addEvent(eventOf("opened"), "{}", 0);
    for (const { writeId } of takeAll(queue).reverse()) queue.keep(writeId);
    expect(await kept).toBe(false);
    expect(writeAll(queue).map(({ kind }) => kind)).toEqual(["event"]);
  });

  it("that was not handed over is forgotten when its time is over", async () => {
    const queue = new WriteQueue(bounds);
    for (const what of ["1", "2", "3"]) void queue.addEvent(eventOf(what), "{}", 0);
    takeAll(queue);
    const kept = queue.addJournalRow(row(1), 100);
    queue.giveUpWaiting(50, 149);
    queue.giveUpWaiting(50, 150);
    expect(await kept).toBe(false);
    expect(takeAll(queue)).toEqual([]);
  });

  it("that is under way is answered by its own outcome, however late", async () => {
    const queue = new WriteQueue(bounds);
    let answer: boolean | undefined;
    const kept = queue.addJournalRow(row(1), 0).then((value) => (answer = value));
    const [taken] = takeAll(queue);
    queue.giveUpWaiting(0, 1000);
    await Promise.resolve();
    expect(answer).toBeUndefined();
    queue.confirm(taken!.writeId);
    expect(await kept).toBe(true);
  });

  it("that is under way at the end is answered then", async () => {
    const queue = new WriteQueue(bounds);
    const kept = queue.addJournalRow(row(1), 0);
    takeAll(queue);
    queue.endWaiting();
    expect(await kept).toBe(false);
  });
});
