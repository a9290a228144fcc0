import { createJournal, type EntryOutcome, type Journal } from "../../daemon/journal/journal.js";
import type { SiteModel } from "../../daemon/site-model.js";
import type { ClockVerdict } from "../../lib/schedule/clock-plausibility.js";
import { CollectingLogger } from "./collecting-logger.js";
import { benchYaml, modelOf } from "./control-bench.js";
import { FakeClock } from "./fake-clock.js";
import { MemoryDisk, MemorySiteStore } from "./memory-site-store.js";

/** The bench's site with plates on its vessel. */
export const journalYaml = benchYaml.replace(
  "workingPressureGauge_bar: 3",
  "workingPressureGauge_bar: 3, ratedPressureGauge_bar: 20, reliefOpeningGauge_bar: 18",
);

export interface JournalBench {
  readonly clock: FakeClock;
  readonly disk: MemoryDisk;
  readonly store: MemorySiteStore;
  readonly logger: CollectingLogger;
  readonly journal: Journal;
  readonly model: SiteModel;
  clockVerdict: ClockVerdict | undefined;
  /** Enters it by the local socket's way; the outcome of one that is kept or not. */
  enter(content: Readonly<Record<string, unknown>>): Promise<EntryOutcome>;
}

/** A journal on a store in memory, on Friday 1 May 2026, 18:00 in Berlin, or on the disk of an earlier one. */
export async function journalBench(
  disk = new MemoryDisk(),
  store?: Pick<MemorySiteStore, "keepJournalRow" | "recentJournal">,
): Promise<JournalBench> {
  const clock = new FakeClock(Date.parse("2026-05-01T18:00:00+02:00"));
  const logger = new CollectingLogger();
  const model = modelOf(journalYaml);
  const memory = new MemorySiteStore(() => clock.now_epochMs(), disk);
  await memory.start();
  const journal = createJournal(
    {
      store: store ?? memory,
      clock,
      machineClock: clock,
      logger,
      clockVerdict: () => bench.clockVerdict,
    },
    () => model,
  );
  const bench: JournalBench = {
    clock,
    disk,
    store: memory,
    logger,
    journal,
    model,
    clockVerdict: { kind: "plausible" },
    enter: (content) => journal.enter(content, "local"),
  };
  await journal.load();
  return bench;
}
