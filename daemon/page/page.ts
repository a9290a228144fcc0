import type { FollowedCharge } from "../../lib/charge-log/followed-charge.js";
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
import { sitePicture, type PictureSource } from "./site-picture.js";

export interface Page {
  /** @returns its address, or undefined where it could not listen yet */
  start(): Promise<string | undefined>;
  stop(): Promise<void>;
}

export interface PageSite extends PictureSource, Omit<HistorySource, "jobs" | "journal"> {
  readonly journal: Journal;
  readonly charges: () => readonly FollowedCharge[];
}

/** The page for a browser; undefined where its files are not there, which is logged and keeps no valve waiting. */
export function createPage(
  ports: {
    readonly clock: Pick<Clock, "sleep">;
    readonly logger: Logger;
    readonly runner: JobRunner<PageJob, PageResult>;
  },
  site: PageSite,
  place: { readonly address: string; readonly port: number },
): Page | undefined {
  let files: PageFiles;
  try {
    files = readPageFiles(bundledPage);
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    ports.logger.error({ reason }, "the page cannot be shown: its files are missing; run npm install again");
    return undefined;
  }
  const picture = (): ReturnType<typeof sitePicture> => sitePicture(site);
  const changes = createChangeStream(picture);
  const histories = { ...site, jobs: createJobQueue(ports.runner) };
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
