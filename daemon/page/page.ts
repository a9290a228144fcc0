import type { FollowedCharge } from "../../lib/charge-log/followed-charge.js";
import type { PlanningConfig } from "../config/planning-config.js";
import type { Journal } from "../journal/journal.js";
import type { Clock } from "../ports/clock.js";
import type { JobRunner } from "../ports/job-runner.js";
import type { Logger } from "../ports/logger.js";
import { createChangeStream } from "./change-stream.js";
import { tankHistory, vesselHistory, type HistorySource } from "./histories.js";
import { createPageServer } from "./http-server.js";
import { createJobQueue } from "./job-queue.js";
import { chargesPicture, journalPicture, upkeepPicture } from "./kept-pictures.js";
import { bundledPage, readPageFiles, type PageFiles } from "./page-files.js";
import type { PageJob, PageResult } from "./page-job.js";
import { createRoutes } from "./routes.js";
import { createSessions } from "./sessions.js";
import { createWrites, type WriteSource } from "./writes.js";
import { sitePicture, type PictureSource } from "./site-picture.js";

export interface Page {
  /** @returns its address, or undefined where it could not listen yet */
  start(): Promise<string | undefined>;
  stop(): Promise<void>;
}

export interface PageSite
  extends
    Omit<PictureSource, "journal">,
    Omit<HistorySource, "jobs" | "journal">,
    Pick<WriteSource, "alarms" | "commands" | "cycle"> {
  readonly journal: Journal;
  readonly planning: () => PlanningConfig;
  readonly charges: () => readonly FollowedCharge[];
}

/** The page for a browser; undefined where its files are not there, which is logged and keeps no valve waiting. */
export function createPage(
  ports: {
    readonly clock: Pick<Clock, "sleep" | "monotonic_ms">;
    readonly logger: Logger;
    readonly runner: JobRunner<PageJob, PageResult>;
  },
  site: PageSite,
  place: {
    readonly address: string;
    readonly port: number;
    readonly names: readonly string[];
    /** Undefined: it is for this machine alone. */
    readonly token: string | undefined;
    /** Where the bundled files lie. */
    readonly folder?: string;
  },
): Page | undefined {
  let files: PageFiles;
  try {
    files = readPageFiles(place.folder ?? bundledPage);
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    ports.logger.error({ reason }, "the page cannot be shown: its files are missing; run npm install again");
    return undefined;
  }
  const picture = keptForAMoment(() => sitePicture(site), ports.clock);
  const changes = createChangeStream(picture);
  const jobs = createJobQueue(ports.runner);
  const histories = { ...site, jobs };
  const writes = createWrites({
    ...site,
    clock: site,
    machineClock: ports.clock,
    plan: async (options) => {
      const result = await jobs.ask({ kind: "plan", config: planningPart(site.planning()), options });
      if (result.kind !== "plan") throw new TypeError("the answer is of another kind than the question");
      return result.answer;
    },
  });
  const server = createPageServer(
    ports,
    place,
    createRoutes({
      files,
      changes,
      picture,
      vesselHistory: (vesselId, span) => vesselHistory(histories, vesselId, span),
      tankHistory: (tankId, span) => tankHistory(histories, tankId, span),
      charges: () => chargesPicture(site.charges(), site.model(), site.now_epochMs()),
      journal: (newest) => journalPicture(site.journal, newest),
      upkeep: () => upkeepPicture(site.upkeep(), site.model().timeZone),
      writes,
      // The site's clock may run fast, as in the demo; a session is a matter of this machine.
      sessions: createSessions(place.token, () => Date.now()),
      names: place.names,
      monotonic_ms: () => ports.clock.monotonic_ms(),
    }),
  );
  return {
    start: () => server.start(),
    stop: async () => {
      changes.stop();
      await server.stop();
      await ports.runner.stop();
    },
  };
}

/** A plan needs no secrets, and they do not go into another thread. */
function planningPart({ vessels, valves, tanks }: PlanningConfig): PlanningConfig {
  return { vessels, valves, tanks };
}

/** However many ask, it is made a few times a second. */
const moment_ms = 200;

function keptForAMoment<Value>(make: () => Value, clock: Pick<Clock, "monotonic_ms">): () => Value {
  let kept: { readonly value: Value; readonly at_monotonicMs: number } | undefined;
  return () => {
    const now_monotonicMs = clock.monotonic_ms();
    if (kept === undefined || now_monotonicMs - kept.at_monotonicMs >= moment_ms) {
      kept = { value: make(), at_monotonicMs: now_monotonicMs };
    }
    return kept.value;
  };
}
