import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, expect, it, vi } from "vitest";
import type { BackupContent, BackupOutcome } from "../../../../daemon/ports/site-store.js";
import { createNightlyBackup, type NightlyBackup } from "../../../../daemon/scheduler/nightly-backup.js";
import { CollectingLogger } from "../../../support/collecting-logger.js";
import { FakeClock } from "../../../support/fake-clock.js";

let folder: string;
let backup: NightlyBackup | undefined;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "fizzward-backup-"));
});
afterEach(async () => {
  await backup?.stop();
  rmSync(folder, { recursive: true, force: true });
});

const copies = (): readonly string[] => readdirSync(join(folder, "backup")).sort();

function bench(at: string, options: { readonly nights?: number; readonly plausible?: boolean } = {}) {
  const clock = new FakeClock(Date.parse(at));
  const asked: BackupContent[] = [];
  let fails: string | undefined;
  const store = {
    backupTo: (file: string, content: BackupContent): Promise<BackupOutcome> => {
      asked.push(content);
      if (fails !== undefined) return Promise.resolve({ kind: "failed", reason: fails });
      writeFileSync(file, content);
      return Promise.resolve({ kind: "verified", file, size_bytes: content.length });
    },
  };
  const created = createNightlyBackup(
    { store, clock, logger: new CollectingLogger(), isClockPlausible: () => options.plausible ?? true },
    {
      folder: join(folder, "backup"),
      nights: options.nights ?? 3,
      whole: "monthly",
      timeZone: "Pacific/Auckland",
    },
  );
  backup = created;
  return { clock, asked, backup: created, fail: (reason: string | undefined) => (fails = reason) };
}

it("keeps one whole copy of the month and the newest nights, named by the date at the site", async () => {
  const { clock, backup } = bench("2026-11-30T20:00:00Z");
  for (let night = 0; night < 6; night += 1) {
    await backup.run();
    await clock.advance(86_400_000);
  }
  expect(copies()).toEqual([
    "night-2026-12-04.db",
    "night-2026-12-05.db",
    "night-2026-12-06.db",
    "whole-2026-12-01.db",
  ]);
});

it("raises an alarm while the last try failed, deletes nothing then, and makes good the next night", async () => {
  const { clock, backup, fail } = bench("2026-12-01T12:00:00Z", { nights: 1 });
  await backup.run();
  await clock.advance(86_400_000);
  fail("the disk is full");
  await backup.run();
  expect(backup.conditions()).toEqual([
    expect.objectContaining({
      alarmId: "backup",
      cause: expect.stringContaining("the disk is full") as string,
    }),
  ]);
  expect(copies()).toHaveLength(1);
  fail(undefined);
  await backup.run();
  expect(backup.conditions()).toEqual([]);
});

it("says so when the folder cannot be made", async () => {
  const { backup } = bench("2026-12-01T12:00:00Z");
  writeFileSync(join(folder, "backup"), "a file is in the way");
  await backup.run();
  expect(backup.conditions()).toHaveLength(1);
});

it("makes no copy by a date that is not believed", async () => {
  const { asked, backup } = bench("1970-01-01T00:00:00Z", { plausible: false });
  await backup.run();
  expect(asked).toEqual([]);
});

it("makes up for a night that the machine slept through, ten minutes after the start, and once", async () => {
  const first = bench("2026-12-01T12:00:00Z");
  await first.backup.start();
  await first.clock.advance(599_000);
  expect(first.asked).toEqual([]);
  await first.clock.advance(2000);
  await vi.waitFor(() => expect(first.asked).toHaveLength(1));
  await first.backup.stop();

  const again = bench("2026-12-02T02:00:00Z");
  await again.backup.start();
  await again.clock.advance(3_600_000);
  expect(again.asked).toEqual([]);
});

it("makes a whole copy at a person's wish, though the month has one", async () => {
  const { clock, backup } = bench("2026-12-01T12:00:00Z");
  await backup.run();
  await clock.advance(86_400_000);
  expect(await backup.copyWhole()).toMatchObject({ kind: "verified" });
  expect(copies()).toEqual(["whole-2026-12-02.db", "whole-2026-12-03.db"]);
});

it("makes two copies one after the other, never both at once", async () => {
  const clock = new FakeClock(Date.parse("2026-12-01T12:00:00Z"));
  let underWay = 0;
  let most = 0;
  const created = createNightlyBackup(
    {
      store: {
        backupTo: async (file) => {
          underWay += 1;
          most = Math.max(most, underWay);
          await new Promise((resolve) => setTimeout(resolve, 20));
          underWay -= 1;
          return { kind: "verified", file, size_bytes: 1 };
        },
      },
      clock,
      logger: new CollectingLogger(),
      isClockPlausible: () => true,
    },
    { folder: join(folder, "backup"), nights: 3, whole: "nightly", timeZone: "Etc/UTC" },
  );
  backup = created;
  await Promise.all([created.copyWhole(), created.run(), created.copyWhole()]);
  expect(most).toBe(1);
});

it("makes none where none are wanted", async () => {
  const { clock, asked, backup } = bench("2026-12-01T12:00:00Z", { nights: 0 });
  await backup.start();
  await clock.advance(86_400_000);
  expect(asked).toEqual([]);
});

it("keeps the copy just made beside copies of days to come, and does not take them for the last night's", async () => {
  const { asked, backup, clock } = bench("2026-12-02T12:00:00Z", { nights: 1 });
  mkdirSync(join(folder, "backup"));
  const wrong = ["night-2036-01-01.db", "whole-2026-12-01.db", "whole-2036-01-01.db", "whole-2036-01-02.db"];
  for (const name of wrong) writeFileSync(join(folder, "backup", name), "by a clock that was wrong");
  await backup.start();
  await clock.advance(601_000);
  await vi.waitFor(() => expect(asked).toHaveLength(1));
  await vi.waitFor(() => expect(copies()).not.toContain("whole-2026-12-01.db"));
  expect(copies()).toContain("night-2026-12-03.db");
});

it("makes a whole copy at a person's wish by a date that is not believed, and deletes none then", async () => {
  const { backup } = bench("1970-01-01T00:00:00Z", { plausible: false });
  mkdirSync(join(folder, "backup"));
  const earlier = ["whole-2026-10-01.db", "whole-2026-11-01.db", "whole-2026-12-01.db"];
  for (const name of earlier) writeFileSync(join(folder, "backup", name), "earlier");
  expect(await backup.copyWhole()).toMatchObject({ kind: "verified" });
  expect(copies()).toEqual(["whole-1970-01-01.db", ...earlier]);
});
