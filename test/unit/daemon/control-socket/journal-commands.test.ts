import { describe, expect, it } from "vitest";
import type { SocketReply, SocketRequest } from "../../../../daemon/control-socket/control-socket.js";
import { createJournalCommands } from "../../../../daemon/control-socket/journal-commands.js";
import { journalBench } from "../../../support/journal-bench.js";

async function bench() {
  const site = await journalBench();
  const others: string[] = [];
  const handle = createJournalCommands(
    site.journal,
    () => site.model.timeZone,
    (request) => {
      others.push(request.command);
      return Promise.resolve();
    },
  );
  const say = async (request: SocketRequest): Promise<SocketReply | undefined> => {
    const replies: SocketReply[] = [];
    await handle(request, {
      reply: (line) => replies.push(line),
      nextLine: () => Promise.resolve(undefined),
      isGone: () => false,
    });
    return replies.at(-1);
  };
  return { ...site, others, say };
}

const list = { command: "journal-list", newest: 50, json: false };
const green = { kind: "drop checker", tank: "loach", colour: "green" };

describe("the journal at the local socket", () => {
  it("says what was kept, in the site's local time, and that it was known the second time", async () => {
    const { say } = await bench();
    const request = { command: "journal-enter", entry: green };
    expect(await say(request)).toEqual({
      kind: "done",
      text: "kept as entry 1: 2026-05-01 18:00, loach, drop checker: green",
    });
    expect(await say(request)).toEqual({
      kind: "done",
      text: "was known already as entry 1: 2026-05-01 18:00, loach, drop checker: green",
    });
  });

  it("says with a withdrawn charge that the refill it ended has to be begun again", async () => {
    const { say } = await bench();
    const charge = {
      kind: "charge closed",
      vessel: "cellar",
      sodiumBicarbonate_g: 80,
      citricAcidAnhydrous_g: 66,
      water_kg: 0.5,
      closedWith: "water",
      sealedAt_degC: 18,
    };
    expect(await say({ command: "journal-enter", entry: charge })).toMatchObject({ kind: "done" });
    expect(await say({ command: "journal-withdraw", entryId: 1 })).toMatchObject({
      kind: "done",
      text: expect.stringContaining("refill begin cellar") as string,
    });
  });

  it("lists in columns, with notes, and with what was withdrawn", async () => {
    const { say } = await bench();
    await say({ command: "journal-enter", entry: { ...green, note: "in the shade" } });
    await say({ command: "journal-enter", entry: { kind: "water change", changed_L: 30 } });
    expect(await say({ command: "journal-withdraw", entryId: 2 })).toEqual({
      kind: "done",
      text: "withdrawn: 2  2026-05-01 18:00  loach  water change: 30 L  withdrawn",
    });
    expect(await say(list)).toEqual({
      kind: "done",
      text:
        '   1  2026-05-01 18:00  loach  drop checker: green  "in the shade"\n' +
        "   2  2026-05-01 18:00  loach  water change: 30 L  withdrawn",
    });
  });

  it("lists for a program with every field", async () => {
    const { say } = await bench();
    await say({ command: "journal-enter", entry: green });
    expect(await say({ ...list, json: true })).toEqual({
      kind: "done",
      text: "journal",
      value: [
        {
          entryId: 1,
          at: "2026-05-01T18:00+02:00",
          enteredAt: "2026-05-01T18:00+02:00",
          source: "local",
          note: "",
          withdrawn: false,
          kind: "drop checker",
          tankId: "loach",
          colour: "green",
        },
      ],
    });
  });

  it.each([
    { since: "2026-05-01", count: 1, because: "from its first minute" },
    { since: "2026-05-01T18:00", count: 1, because: "from that minute on" },
    { since: "2026-05-01T18:01", count: 0, because: "one minute later" },
    { since: "2026-05-02", count: 0, because: "the day after" },
  ])("lists since $since: $because", async ({ since, count }) => {
    const { say } = await bench();
    await say({ command: "journal-enter", entry: green });
    expect(await say({ ...list, since, json: true })).toMatchObject({
      value: { length: count },
    });
  });

  it.each([
    { request: { ...list, since: "yesterday" }, text: "is not understood" },
    { request: { ...list, newest: 0 }, text: "not understood" },
    { request: { ...list, newest: 5000 }, text: "not understood" },
    { request: { command: "journal-enter", entry: "kh 4" }, text: "not understood" },
    { request: { command: "journal-enter", entry: { kind: "kh test", kh_dKH: 400 } }, text: "0.1 to 40" },
    { request: { command: "journal-withdraw", entryId: 1.5 }, text: "not understood" },
    { request: { command: "journal-withdraw", entryId: 9 }, text: "there is no entry 9" },
    { request: { command: "journal-burn" }, text: "not understood" },
  ])("refuses what it cannot do: $text", async ({ request, text }) => {
    const { say } = await bench();
    const reply = await say(request);
    expect(reply?.kind).toBe("refused");
    expect(reply?.text).toContain(text);
  });

  it("says that there is nothing, and passes every other command on", async () => {
    const { say, others } = await bench();
    expect(await say(list)).toEqual({ kind: "done", text: "there is no such entry" });
    expect(await say({ command: "status" })).toBeUndefined();
    expect(others).toEqual(["status"]);
  });
});
