import type { IncomingMessage, ServerResponse } from "node:http";
import { StoreUnavailableError } from "../store/store-fault.js";
import { isAllowedHost } from "./allowed-host.js";
import type { ChangeStream } from "./change-stream.js";
import type { AskedSpan } from "./histories.js";
import { TooManyAskError } from "./job-queue.js";
import { createLogin } from "./login.js";
import type {
  ChargesPicture,
  JournalPicture,
  SitePicture,
  TankHistory,
  UpkeepPicture,
  VesselHistory,
} from "./page-contract.js";
import type { PageFiles } from "./page-files.js";
import { readJsonBody } from "./request-body.js";
import { tellJson, tellText } from "./response.js";
import { isFromThisPage, wordHeader } from "./same-origin.js";
import type { Sessions } from "./sessions.js";
import type { Write } from "./writes.js";

/** Everything that can be asked, and done. */
export interface PageSources {
  readonly files: PageFiles;
  readonly changes: ChangeStream;
  readonly picture: () => SitePicture | undefined;
  readonly vesselHistory: (vesselId: string, span: AskedSpan) => Promise<VesselHistory | undefined>;
  readonly tankHistory: (tankId: string, span: AskedSpan) => Promise<TankHistory | undefined>;
  readonly charges: () => ChargesPicture;
  readonly journal: (newest: number) => JournalPicture;
  readonly upkeep: () => UpkeepPicture;
  readonly writes: readonly Write[];
  readonly sessions: Sessions;
  /** Host names of the config. */
  readonly names: readonly string[];
  readonly monotonic_ms: () => number;
}

type Answer = (request: IncomingMessage, response: ServerResponse) => Promise<void> | void;
/** What is told as JSON; undefined: there is no such thing. */
type Read = (subjectId: string, query: URLSearchParams) => unknown;

const usualEntries = 100;

/** What is answered at which path. */
export function createRoutes(sources: PageSources): Answer {
  const { files, changes, sessions, writes } = sources;
  const login = createLogin(sessions, sources.monotonic_ms);
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
    if (!isAllowedHost(request.headers.host, request.socket.localAddress, sources.names)) {
      tellText(response, 421, "this page answers only to its own name; add the name to page.names");
      return;
    }
    const [pathname = "/", query = ""] = (request.url ?? "/").split("?", 2);
    if (request.method === "POST") await write(pathname, request, response);
    else if (request.method === "GET" || request.method === "HEAD") {
      await read(pathname, new URLSearchParams(query), request, response);
    } else {
      response.setHeader("Allow", "GET, HEAD, POST");
      tellText(response, 405, "that cannot be done here");
    }
  };

  async function read(
    pathname: string,
    query: URLSearchParams,
    request: IncomingMessage,
    response: ServerResponse,
  ): Promise<void> {
    if (!pathname.startsWith("/api/")) {
      if (!files.tell(pathname, request, response)) tellText(response, 404, "there is no such page");
      return;
    }
    const session = sessions.sessionOf(request.headers.cookie);
    if (pathname === "/api/session") {
      await tellJson(request, response, 200, login.picture(session));
    } else if (session === undefined) tellText(response, 401, "enter the token first");
    else if (pathname === "/api/changes") changes.listen(response);
    else {
      const found = reads
        .map(([path, ask]) => ({ match: path.exec(pathname), ask }))
        .find(({ match }) => match !== null);
      await tellFound(request, response, () => found?.ask(found.match?.groups?.["id"] ?? "", query));
    }
  }

  async function write(pathname: string, request: IncomingMessage, response: ServerResponse): Promise<void> {
    const refuse = (code: number, reason: string): void => {
      // What is still on its way is not waited for.
      response.setHeader("Connection", "close");
      tellText(response, code, reason);
    };
    if (!isFromThisPage(request.headers)) {
      refuse(403, "that does not come from this page");
      return;
    }
    const session = sessions.sessionOf(request.headers.cookie);
    const found = writes
      .map((one) => ({ match: one.path.exec(pathname), one }))
      .find(({ match }) => match !== null);
    if (pathname !== "/api/login") {
      if (session === undefined) {
        refuse(401, "enter the token first");
        return;
      }
      if (!sessions.isWordOf(session, request.headers[wordHeader])) {
        refuse(403, "that does not come from this page; load it again");
        return;
      }
      if (found === undefined) {
        refuse(404, "nothing can be done there");
        return;
      }
    }
    const body = await readJsonBody(request);
    if (body.kind === "refused") {
      refuse(body.code, body.reason);
      return;
    }
    if (found === undefined) {
      await login.tell(body.content, request, response);
      return;
    }
    await tellFound(request, response, () =>
      found.one.carryOut(found.match?.groups?.["id"] ?? "", body.content),
    );
  }
}

async function tellFound(
  request: IncomingMessage,
  response: ServerResponse,
  ask: () => unknown,
): Promise<void> {
  try {
    const value = await ask();
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
