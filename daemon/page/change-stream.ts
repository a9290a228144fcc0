import type { ServerResponse } from "node:http";
import type { Beat, SitePicture } from "./page-contract.js";
import { strictHeaders, tellText } from "./response.js";

/** A tab each, and some that a browser has not closed yet. */
const mostListeners = 16;
/** Whoever does not read so much is gone, or reads too slowly to be told what is. */
const mostWaiting_bytes = 1024 * 1024;
const lookEvery_ms = 1000;
const beatEvery_ms = 5000;
/** A pass is made each second; one that is this late has stopped. */
const passLateAfter_ms = 10_000;
/** So long a browser waits before it connects again. */
const retry_ms = 2000;

/** The site as it changes, as server-sent events: everything at first, then at most once a second. */
export interface ChangeStream {
  listen(response: ServerResponse): void;
  /** Tells what has changed, without waiting for the next second. */
  look(): void;
  stop(): void;
}

export function createChangeStream(picture: () => SitePicture | undefined): ChangeStream {
  const listeners = new Set<ServerResponse>();
  let timer: NodeJS.Timeout | undefined;
  let told = "";
  let toldAt_ms = 0;
  /** The last control pass that was seen, and when it was first seen by this machine's clock. */
  let pass = { passed_epochMs: 0, seen_ms: 0 };

  return {
    listen(response) {
      if (listeners.size >= mostListeners) {
        response.setHeader("Retry-After", "10");
        tellText(response, 503, "too many pages are open already; close one");
        return;
      }
      response.writeHead(200, {
        ...strictHeaders,
        "Content-Type": "text/event-stream; charset=utf-8",
        "Cache-Control": "no-store",
        "X-Accel-Buffering": "no",
      });
      response.write(`retry: ${retry_ms}\n\n`);
      listeners.add(response);
      response.on("close", () => {
        listeners.delete(response);
        if (listeners.size > 0) return;
        clearInterval(timer);
        timer = undefined;
      });
      response.on("error", () => response.destroy());
      const now = picture();
      if (now !== undefined) {
        send(response, eventText("site", now));
        if (listeners.size === 1) told = essenceOf(now);
      }
      timer ??= setInterval(look, lookEvery_ms);
    },
    look,
    stop() {
      clearInterval(timer);
      for (const response of listeners) response.destroy();
    },
  };

  function look(): void {
    if (listeners.size === 0) return;
    const now = picture();
    if (now === undefined) return;
    const essence = essenceOf(now);
    const at_ms = performance.now();
    if (now.passed_epochMs !== pass.passed_epochMs) {
      pass = { passed_epochMs: now.passed_epochMs, seen_ms: at_ms };
    }
    const isNew = essence !== told;
    if (!isNew && at_ms - toldAt_ms < beatEvery_ms) return;
    told = essence;
    toldAt_ms = at_ms;
    const beat: Beat = {
      now_epochMs: now.now_epochMs,
      isPassLate: at_ms - pass.seen_ms > passLateAfter_ms,
    };
    const text = isNew ? eventText("site", now) : eventText("beat", beat);
    for (const response of listeners) send(response, text);
  }
}

/** Without the times that move with every look. */
function essenceOf(picture: SitePicture): string {
  return JSON.stringify({ ...picture, now_epochMs: 0, passed_epochMs: 0 });
}

/** JSON has no line ends, so that it stands in one field. */
function eventText(event: "site" | "beat", value: SitePicture | Beat): string {
  return `event: ${event}\ndata: ${JSON.stringify(value)}\n\n`;
}

function send(response: ServerResponse, text: string): void {
  if (response.writableLength > mostWaiting_bytes) {
    response.destroy();
    return;
  }
  response.write(text);
}
