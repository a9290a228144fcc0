import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import { createChangeStream } from "./change-stream.js";
import { createPageServer } from "./http-server.js";
import { bundledPage, readPageFiles, type PageFiles } from "./page-files.js";
import { createRoutes } from "./routes.js";
import { sitePicture, type PictureSource } from "./site-picture.js";

export interface Page {
  /** @returns its address, or undefined where it could not listen yet */
  start(): Promise<string | undefined>;
  stop(): Promise<void>;
}

/** The page for a browser; undefined where its files are not there, which is logged and keeps no valve waiting. */
export function createPage(
  ports: { readonly clock: Pick<Clock, "sleep">; readonly logger: Logger },
  source: PictureSource,
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
  const picture = (): ReturnType<typeof sitePicture> => sitePicture(source);
  const changes = createChangeStream(picture);
  const server = createPageServer(ports, place, createRoutes({ files, changes, picture }));
  return {
    start: () => server.start(),
    stop: async () => {
      changes.stop();
      await server.stop();
    },
  };
}
