import { describe, expect, it } from "vitest";
import { createUpkeepCommands } from "../../../../daemon/control-socket/upkeep-commands.js";
import type { SocketReply } from "../../../../daemon/control-socket/control-socket.js";
import { createUpkeepWatch } from "../../../../daemon/upkeep/upkeep-watch.js";
import type { Hold } from "../../../../lib/control/hold.js";
import { benchYaml, ControlBench, modelOf } from "../../../support/control-bench.js";
import { edited } from "../../../support/marked-config.js";

const yaml = edited(benchYaml, [
  ["workingPressureGauge_bar: 3 }", 'workingPressureGauge_bar: 3, retestBy: "2026-05-03" }'],
]);

/** The journal of a running daemon, and a watch on it. */
async function watched(holds: readonly Hold[] = []) {
  const bench = new ControlBench({ yaml, startAt: "2026-05-04T09:00:00Z" });
  await bench.start();
  await bench.seconds(60);
  const watch = createUpkeepWatch({
    clock: bench.clock,
    journal: bench.run.journal,
    logger: bench.logger,
    model: () => bench.model,
    holds: () => holds,
  });
  const alarms = (): readonly string[] => watch.conditions().map(({ alarmId }) => alarmId);
  const list = async (json: boolean): Promise<SocketReply> => {
    const replies: SocketReply[] = [];
    const handle = createUpkeepCommands(
      watch.items,
      () => bench.model.timeZone,
      () => Promise.resolve(),
    );
    await handle(
      { command: "upkeep-list", json },
      {
        reply: (line) => replies.push(line),
        nextLine: () => Promise.resolve(undefined),
        isGone: () => false,
      },
    );
    return replies.at(-1)!;
  };
  return { bench, watch, alarms, list };
}

describe("the watch on upkeep", () => {
  it("alarms of what is due until it is recorded, once a minute, and of a past date more urgently", async () => {
    const { bench, watch, alarms } = await watched();
    expect(watch.conditions()).toMatchObject([
      {
        alarmId: "upkeep/retest/cellar",
        priority: "medium",
        cause: "upkeep due: vessel cellar  retest: overdue since 2026-05-03",
      },
    ]);
    const enter = (entry: object) => bench.run.journal.enter({ kind: "upkeep done", ...entry }, "local");
    expect(await enter({ task: "diffuser cleaning", at: "2026-04-04T10:00" })).toMatchObject({
      kind: "kept",
      entry: { fact: { task: "diffuser cleaning", subjectKind: "tank", subjectId: "loach" } },
    });
    expect(alarms()).not.toContain("upkeep/diffuser-cleaning/loach");
    await bench.seconds(60);
    expect(alarms()).toContain("upkeep/diffuser-cleaning/loach");
    const low = watch.conditions().find(({ alarmId }) => alarmId === "upkeep/diffuser-cleaning/loach");
    expect(low).toMatchObject({ priority: "low" });
    expect(low?.whatToDo).toMatch(/Then: upkeep done diffuser-cleaning loach$/);
    await enter({ task: "diffuser cleaning", subject: "loach" });
    await bench.seconds(60);
    expect(alarms()).toEqual(["upkeep/retest/cellar"]);
  });

  it("asks for the soak while the vessel is refilled", async () => {
    const since_epochMs = Date.parse("2026-05-04T09:00:00Z");
    const subject = { kind: "vessel", id: "cellar" } as const;
    const { alarms } = await watched([{ kind: "refill in progress", subject, since_epochMs, note: "" }]);
    expect(alarms()).toContain("upkeep/sediment-soak/cellar");
  });

  it("asks for no soak once the new charge is in, though the refill has not been ended", async () => {
    const since_epochMs = Date.parse("2026-05-04T09:00:00Z");
    const subject = { kind: "vessel", id: "cellar" } as const;
    const { bench, alarms } = await watched([
      { kind: "refill in progress", subject, since_epochMs, note: "" },
    ]);
    const charge = {
      kind: "charge closed",
      sodiumBicarbonate_g: 80,
      citricAcidAnhydrous_g: 66,
      water_kg: 0.5,
      sealedAt_degC: 19,
    };
    expect(await bench.run.journal.enter(charge, "remote")).toMatchObject({ kind: "kept" });
    expect(alarms()).not.toContain("upkeep/sediment-soak/cellar");
  });

  it("refuses an unknown subject, a task that is none, and survives a restart in the journal", async () => {
    const { bench, list } = await watched();
    const enter = (entry: object) => bench.run.journal.enter({ kind: "upkeep done", ...entry }, "local");
    expect(await enter({ task: "O-ring", subject: "attic" })).toMatchObject({ kind: "refused" });
    expect(await enter({ task: "polishing" })).toMatchObject({ kind: "refused" });
    expect(await enter({ task: "O-ring" })).toMatchObject({ kind: "kept" });
    expect((await list(false)).text).toContain("vessel cellar  O-ring: due 2027-05-04, last done 2026-05-04");
    await bench.kill();
    await bench.start();
    expect(bench.run.journal.latest("upkeep done", "cellar")?.fact.task).toBe("O-ring");
  });

  it("lists everything for people and for programs", async () => {
    const { list } = await watched();
    expect((await list(false)).text.split("\n")).toContain(
      "tank loach  KH test: never recorded, so nothing says when it is due",
    );
    const reply = await list(true);
    expect(reply.kind === "done" && reply.value).toContainEqual({
      task: "retest",
      subject: "vessel/cellar",
      done: null,
      due: "2026-05-03",
      isDue: true,
      state: "due by date",
    });
  });

  it("fails no control pass: what it cannot work out is logged once, and what it knew stands", () => {
    let broken = false;
    const messages: string[] = [];
    let now_ms = 0;
    const watch = createUpkeepWatch({
      clock: { now_epochMs: () => Date.parse("2026-05-04T09:00:00Z") + now_ms, monotonic_ms: () => now_ms },
      journal: { latest: () => undefined, entriesOf: () => [] },
      logger: {
        debug: () => undefined,
        info: () => undefined,
        warn: () => undefined,
        error: (_fields, message) => messages.push(message),
      },
      model: () => {
        if (broken) throw new Error("broken");
        return modelOf(yaml);
      },
      holds: () => [],
    });
    expect(watch.conditions()).toHaveLength(1);
    broken = true;
    for (let look = 0; look < 3; look += 1) {
      now_ms += 61_000;
      expect(watch.conditions()).toHaveLength(1);
    }
    expect(messages).toEqual(["upkeep could not be looked after"]);
  });
});
