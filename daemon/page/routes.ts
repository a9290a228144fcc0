import type { IncomingMessage, ServerResponse } from "node:http";
import { StoreUnavailableError } from "../store/store-fault.js";
import { isAllowedHost } from "./allowed-host.js";
import type { ChangeStream } from "./change-stream.js";
import type { AskedSpan } from "./histories.js";
import { TooManyAskError } from "./job-queue.js";
import type {
  ChargesPicture,
  JournalPicture,
  SitePicture,
  TankHistory,
  UpkeepPicture,
  VesselHistory,
} from "./page-contract.js";
import type { PageFiles } from "./page-files.js";
import { tellJson, tellText } from "./response.js";

/** Everything that can be asked. */
export interface PageSources {
  readonly files: PageFiles;
  readonly changes: ChangeStream;
  readonly picture: () => SitePicture | undefined;
  readonly vesselHistory: (vesselId: string, span: AskedSpan) => Promise<VesselHistory | undefined>;
  readonly tankHistory: (tankId: string, span: AskedSpan) => Promise<TankHistory | undefined>;
  readonly charges: () => ChargesPicture;
  readonly journal: (newest: number) => JournalPicture;
  readonly upkeep: () => UpkeepPicture;
}

type Answer = (request: IncomingMessage, response: ServerResponse) => Promise<void> | void;
/** What is told as JSON; undefined: there is no such thing. */
type Read = (subjectId: string, query: URLSearchParams) => unknown;

const usualEntries = 100;

/** What is answered at which path. */
export function createRoutes(sources: PageSources): Answer {
  const { files, changes } = sources;
  const reads: readonly (readonly [path: RegExp, read: Read])[] = [
    [/^\/api\/site$/, () => sources.picture()],
    [
      /^\/api\/vessels\/(?<id>[a-z0-9-]{1,40})\/history$/,
      (id, query) => sources.vesselHistory(id, spanIn(query)),
    ],
    [
      /^\/api\/tanks\/(?<id>[a-z0-9-]{1,40})\/history$/,
      (id, query) => sources.tankHistory(id, spanIn(query)),
    ],
    [/^\/api\/charges$/, () => sources.charges()],
    [/^\/api\/journal$/, (_id, query) => sources.journal(numberIn(query, "newest") ?? usualEntries)],
    [/^\/api\/upkeep$/, () => sources.upkeep()],
  ];

  return async (request, response) => {
    if (!isAllowedHost(request.headers.host)) {
      tellText(response, 421, "this page answers only to its own name");
      return;
    }
    if (request.method !== "GET" && request.method !== "HEAD") {
      response.setHeader("Allow", "GET, HEAD");
      tellText(response, 405, "it can only be read");
      return;
    }
    const [pathname = "/", query = ""] = (request.url ?? "/").split("?", 2);
    if (pathname === "/api/changes") {
      changes.listen(response);
      return;
    }
    for (const [path, read] of reads) {
      const found = path.exec(pathname);
      if (found === null) continue;
      await tellRead(request, response, () => read(found.groups?.["id"] ?? "", new URLSearchParams(query)));
      return;
    }
    if (!files.tell(pathname, request, response)) tellText(response, 404, "there is no such page");
  };
}

async function tellRead(
  request: IncomingMessage,
  response: ServerResponse,
  read: () => unknown,
): Promise<void> {
  try {
    const value = await read();
    if (value === undefined) tellText(response, 404, "there is no such thing, or nothing is known of it yet");
    else await tellJson(request, response, 200, value);
  } catch (error) {
    if (!(error instanceof TooManyAskError || error instanceof StoreUnavailableError)) throw error;
    response.setHeader("Retry-After", "5");
    tellText(response, 503, error.message);
  }
}

function spanIn(query: URLSearchParams): AskedSpan {
  return { from_epochMs: numberIn(query, "from"), until_epochMs: numberIn(query, "to") };
}

/** From the year 1970 to 2500, as calendars take it. */
const latest_epochMs = Date.UTC(2500, 0);

function numberIn(query: URLSearchParams, name: string): number | undefined {
  const text = query.get(name);
  if (text === null || !/^\d{1,14}$/.test(text)) return undefined;
  return Math.min(Number(text), latest_epochMs);
}
