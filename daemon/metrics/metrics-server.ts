import { createServer, type IncomingMessage, type ServerResponse } from "node:http";
import type { AddressInfo } from "node:net";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { SiteModel } from "../site-model.js";
import type { SiteStatus } from "../site-status.js";
import { contentTypes, metricsText } from "./site-metrics.js";

/** A pass is made each second; one that is this late has stopped. */
const lateAfter_ms = 10_000;
const loopback = "127.0.0.1";
const mostConnections = 20;
const request_ms = 5000;
/** The port may be free again, as when an earlier run takes its time to end. */
const retryAfter_ms = 60_000;

/**
 * `/metrics` and `/healthz` for this machine alone: it listens on the loopback address, so that nobody else in the network
 * can ask. Nothing can be changed here. A port that is taken is logged and tried again: no valve waits for it.
 */
export function createMetricsServer(
  ports: { readonly clock: Pick<Clock, "monotonic_ms" | "sleep">; readonly logger: Logger },
  site: { readonly status: () => SiteStatus | undefined; readonly model: () => SiteModel },
  port: number,
): {
  /** @returns the port at which it listens; undefined where it could not yet */
  start(): Promise<number | undefined>;
  stop(): Promise<void>;
} {
  const ended = new AbortController();
  const server = createServer(
    { requestTimeout: request_ms, headersTimeout: request_ms },
    (request, response) => {
      answer(request, response).catch((error: unknown) => {
        ports.logger.error({ reason: String(error) }, "the metrics could not be told");
        if (!response.headersSent) response.writeHead(500);
        response.end();
      });
    },
  );
  server.maxConnections = mostConnections;
  server.on("error", (error) => {
    const reason = error.message;
    ports.logger.error(
      { port, reason },
      "the metrics cannot be told at this port; set metrics.port to a free one",
    );
    if (server.listening) return;
    void ports.clock.sleep(retryAfter_ms, ended.signal).then(() => {
      if (!ended.signal.aborted) server.listen(port, loopback);
    });
  });

  return {
    start: () =>
      new Promise((resolve) => {
        server.once("error", () => resolve(undefined));
        server.listen(port, loopback, () => resolve((server.address() as AddressInfo).port));
      }),
    stop: () =>
      new Promise((resolve) => {
        ended.abort();
        server.close(() => resolve());
        server.closeAllConnections();
      }),
  };

  async function answer(request: IncomingMessage, response: ServerResponse): Promise<void> {
    const { pathname } = new URL(request.url ?? "/", "http://127.0.0.1");
    if (pathname !== "/metrics" && pathname !== "/healthz") {
      told(response, 404, "text/plain; charset=utf-8", "there is /metrics and /healthz\n");
      return;
    }
    if (request.method !== "GET" && request.method !== "HEAD") {
      response.setHeader("Allow", "GET, HEAD");
      told(response, 405, "text/plain; charset=utf-8", "it can only be read\n");
      return;
    }
    const status = site.status();
    const fault = faultOf(status);
    if (pathname === "/healthz") {
      told(response, fault === undefined ? 200 : 503, "text/plain; charset=utf-8", `${fault ?? "ok"}\n`);
      return;
    }
    if (status === undefined) {
      told(response, 503, "text/plain; charset=utf-8", `${fault ?? ""}\n`);
      return;
    }
    // RFC 9110 12.5.1, as scrapers use it: whoever names the form gets it.
    const form =
      request.headers.accept?.includes("application/openmetrics-text") === true ? "openmetrics" : "classic";
    told(response, 200, contentTypes[form], await metricsText(form, status, site.model()));
  }

  function faultOf(status: SiteStatus | undefined): string | undefined {
    if (status === undefined) return "no control pass has run yet";
    const age_ms = ports.clock.monotonic_ms() - status.at_monotonicMs;
    return age_ms > lateAfter_ms ? `the last control pass was ${Math.round(age_ms / 1000)} s ago` : undefined;
  }
}

function told(response: ServerResponse, code: number, type: string, text: string): void {
  response.writeHead(code, {
    "Content-Type": type,
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
  });
  response.end(text);
}
