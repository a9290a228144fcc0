import { createServer, type IncomingMessage, type ServerResponse } from "node:http";
import type { AddressInfo } from "node:net";
import type { Beat, SitePicture } from "../../daemon/page/page-contract.js";
import { bundledPage, readPageFiles } from "../../daemon/page/page-files.js";
import { tellJson, tellText } from "../../daemon/page/response.js";

export interface Sent {
  readonly path: string;
  readonly body: unknown;
}

/** The page as it is served, of a site that the test makes up: for states that a simulated home takes long to reach. */
export interface ScriptedPage {
  readonly address: string;
  /** What the browser has sent so far. */
  readonly sent: readonly Sent[];
  /** Every open page hears of it at once. */
  tell(site: SitePicture): void;
  /** Nothing more is heard, as after a cut: no beat, and no new connection. */
  fallSilent(): void;
  speakAgain(): void;
  /** What a path answers; GET without a body. Undefined: not found. */
  answer(with_: (path: string, body: unknown) => unknown): void;
  end(): Promise<void>;
}

/** The answer to an entry that was kept, as POST /api/journal gives it. */
export function keptEntry(subject: string, fact: string) {
  return {
    accepted: true,
    text: fact,
    entry: {
      accepted: true,
      entryId: 1,
      known: false,
      at: "2026-03-02T12:00+01:00",
      subject,
      fact,
      remarks: [],
    },
  };
}

const beatEvery_ms = 2000;

export async function startScriptedPage(first: SitePicture): Promise<ScriptedPage> {
  const files = readPageFiles(bundledPage);
  const streams = new Set<ServerResponse>();
  const sent: Sent[] = [];
  let site = first;
  let isSilent = false;
  let answerOf: (path: string, body: unknown) => unknown = () => undefined;
  const event = (name: string, data: unknown): string => `event: ${name}\ndata: ${JSON.stringify(data)}\n\n`;
  const toAll = (text: string): void => streams.forEach((stream) => stream.write(text));
  const beating = setInterval(() => {
    const beat: Beat = { now_epochMs: site.now_epochMs, isPassLate: false };
    if (!isSilent) toAll(event("beat", beat));
  }, beatEvery_ms);

  const server = createServer((request, response) => {
    handle(request, response).catch((error: unknown) => tellText(response, 500, String(error)));
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const { port } = server.address() as AddressInfo;

  return {
    address: `http://127.0.0.1:${port}/`,
    sent,
    tell(next) {
      site = next;
      toAll(event("site", next));
    },
    fallSilent: () => (isSilent = true),
    speakAgain: () => (isSilent = false),
    answer: (with_) => (answerOf = with_),
    async end() {
      clearInterval(beating);
      streams.forEach((stream) => stream.end());
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };

  async function handle(request: IncomingMessage, response: ServerResponse): Promise<void> {
    const path = new URL(request.url ?? "/", "http://here").pathname;
    if (path === "/api/changes") {
      response.writeHead(200, { "Content-Type": "text/event-stream", "Cache-Control": "no-store" });
      if (isSilent) return;
      streams.add(response);
      response.on("close", () => streams.delete(response));
      response.write(event("site", site));
      return;
    }
    if (path === "/api/site") return tellJson(request, response, 200, site);
    if (!path.startsWith("/api/")) {
      if (!files.tell(path, request, response)) tellText(response, 404, "no such file");
      return;
    }
    const body = await bodyOf(request);
    if (request.method === "POST") sent.push({ path, body });
    const answer = answerOf(request.url ?? path, body);
    if (answer === undefined) tellText(response, 404, "no such thing");
    else await tellJson(request, response, 200, answer);
  }
}

async function bodyOf(request: IncomingMessage): Promise<unknown> {
  let text = "";
  for await (const chunk of request) text += String(chunk);
  return text === "" ? undefined : (JSON.parse(text) as unknown);
}
