import type { IncomingMessage, ServerResponse } from "node:http";
import { isAllowedHost } from "./allowed-host.js";
import type { ChangeStream } from "./change-stream.js";
import type { SitePicture } from "./page-contract.js";
import type { PageFiles } from "./page-files.js";
import { tellJson, tellText } from "./response.js";

export interface PageSources {
  readonly files: PageFiles;
  readonly changes: ChangeStream;
  readonly picture: () => SitePicture | undefined;
}

type Answer = (request: IncomingMessage, response: ServerResponse) => Promise<void> | void;

/** What is answered at which path. */
export function createRoutes(sources: PageSources): Answer {
  const { files, changes, picture } = sources;
  const reads: Readonly<Record<string, Answer>> = {
    "/api/site": async (request, response) => {
      const now = picture();
      if (now === undefined) tellText(response, 503, "no control pass has run yet");
      else await tellJson(request, response, 200, now);
    },
    "/api/changes": (_request, response) => changes.listen(response),
  };

  return async (request, response) => {
    if (!isAllowedHost(request.headers.host)) {
      tellText(response, 421, "this page answers only to its own name");
      return;
    }
    const [pathname = "/"] = (request.url ?? "/").split("?", 1);
    if (request.method !== "GET" && request.method !== "HEAD") {
      response.setHeader("Allow", "GET, HEAD");
      tellText(response, 405, "it can only be read");
      return;
    }
    const read = Object.hasOwn(reads, pathname) ? reads[pathname] : undefined;
    if (read !== undefined) await read(request, response);
    else if (!files.tell(pathname, request, response)) tellText(response, 404, "there is no such page");
  };
}
