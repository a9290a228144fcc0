import { describe, expect, it } from "vitest";
import { createBranchCommands } from "../../../../daemon/control-socket/branch-commands.js";
import type { SocketReply, SocketRequest } from "../../../../daemon/control-socket/control-socket.js";
import type { BranchAnswer } from "../../../../daemon/supply/branch-outlook.js";
import { SupplyBench } from "../../../support/supply-bench.js";

const bench = new SupplyBench({ startAt: "2026-02-10T09:00:00+01:00", removed_g: 6 });
bench.hours(30, 10);

async function say(request: SocketRequest, isFollowed = true): Promise<SocketReply> {
  const replies: SocketReply[] = [];
  const handle = createBranchCommands(
    {
      model: () => bench.site,
      followed: (vesselId) => (isFollowed ? bench.tracker.followed(vesselId) : undefined),
    },
    () => Promise.resolve(),
  );
  await handle(request, {
    reply: (line) => replies.push(line),
    nextLine: () => Promise.resolve(undefined),
    isGone: () => false,
  });
  return replies.at(-1)!;
}
const three = { command: "branches-outlook", tanks: 3 };

describe("a charge with more tanks on it", () => {
  it("lasts a third as long with three tanks alike, as common practice has it", async () => {
    const reply = await say({ ...three, json: true });
    if (reply.kind !== "done") throw new Error(reply.text);
    const { outlooks } = (reply.value as Readonly<Record<string, BranchAnswer>>)["cellar"]!;
    expect(outlooks.map(({ count }) => count)).toEqual([1, 2, 3]);
    // Common practice, no source: three tanks empty a charge about three times as fast.
    expect(outlooks[2]!.fasterThanFirst_ratio).toBeCloseTo(3, 6);
    expect(outlooks[2]!.branches.map(({ tank, isAssumed }) => [tank, isAssumed])).toEqual([
      ["loach", false],
      ["further tank 2", true],
      ["further tank 3", true],
    ]);
    // One tank alone is what the estimate says: deliverable over use.
    const { estimate, use } = bench.told;
    const [alone] = outlooks;
    const expected_days = estimate.deliverable.value_g / use.byTank[0]!.co2_gPerDay;
    expect(alone!.days.value / expected_days).toBeGreaterThan(0.97);
    expect(alone!.days.value / expected_days).toBeLessThan(1.03);
    expect(alone!.days.low).toBeLessThan(alone!.days.value);
  });

  it("says in words what is assumed and whether the working pressure suffices", async () => {
    const { text } = await say(three);
    expect(text).toContain("vessel cellar, by what is left in it now");
    expect(text).toMatch(/ {2}3 tanks: how long it lasts cannot be told yet.*, emptied 3\.0 times as fast/);
    expect(text).toContain("the use of further tank 2, further tank 3 is assumed, not measured");
    expect(text).toContain(
      "Common practice, no source: three tanks empty a charge about three times as fast",
    );
    const stiff = await say({ ...three, backPressure_bar: 1.5 });
    expect(stiff.text).toContain("the working pressure does not open loach");
    const shared = await say({ ...three, oneNeedle: true });
    expect(shared.text).toContain("the one that opens first takes the gas");
  });

  it.each([
    { request: { ...three, tanks: 17 }, text: "not understood" },
    { request: { ...three, vessel: "attic" }, text: 'there is no vessel "attic"; the config has cellar' },
    { request: { ...three, backPressure_bar: 9 }, text: "not understood" },
  ])("refuses what cannot be: $text", async ({ request, text }) => {
    const reply = await say(request);
    expect(reply.kind).toBe("refused");
    expect(reply.text).toContain(text);
  });

  it("says so where no charge is followed", async () => {
    expect(await say(three, false)).toMatchObject({ kind: "refused" });
  });
});
