import { createServer, type IncomingMessage, type ServerResponse } from "node:http";
import type { AddressInfo, Socket } from "node:net";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import { tellText } from "./response.js";

const mostConnections = 64;
/** A household's browsers behind one address, or a proxy's. */
const mostOfOneAddress = 24;
const mostUnderWay = 4;
const request_ms = 10_000;
const headers_ms = 5000;
const longestHeaders_bytes = 8 * 1024;
/** The port may be free again, as when an earlier run takes its time to end. */
const retryAfter_ms = 60_000;

/** The page's server. A port that is taken is logged and tried again: no valve waits for it. */
export function createPageServer(
  ports: { readonly clock: Pick<Clock, "sleep">; readonly logger: Logger },
  place: { readonly address: string; readonly port: number },
  answer: (request: IncomingMessage, response: ServerResponse) => Promise<void> | void,
): {
  /** @returns the address of the page; undefined where it could not listen yet */
  start(): Promise<string | undefined>;
  stop(): Promise<void>;
} {
  const { address, port } = place;
  const ended = new AbortController();
  /** Requests of a connection that wait for their answer. */
  const underWay = new WeakMap<Socket, number>();
  const server = createServer(
    {
      requestTimeout: request_ms,
      headersTimeout: headers_ms,
      connectionsCheckingInterval: 1000,
      maxHeaderSize: longestHeaders_bytes,
    },
    (request, response) => {
      const { socket } = request;
      if (socket.destroyed) return;
      const open = (underWay.get(socket) ?? 0) + 1;
      underWay.set(socket, open);
      // No browser asks on while it waits for so many answers: only a flood does.
      if (open > mostUnderWay) {
        socket.destroy();
        return;
      }
      response.once("close", () => underWay.set(socket, (underWay.get(socket) ?? 1) - 1));
      void (async () => {
        try {
          await answer(request, response);
        } catch (error) {
          const reason = error instanceof Error ? error.message : String(error);
          ports.logger.error({ reason, path: request.url?.slice(0, 200) ?? "" }, "the page could not answer");
          if (response.headersSent) response.destroy();
          else tellText(response, 500, "that could not be answered; the daemon's log says why");
        }
      })();
    },
  );
  server.maxConnections = mostConnections;
  const byAddress = new Map<string, number>();
  server.on("connection", (socket) => {
    const from = socket.remoteAddress ?? "";
    const count = (byAddress.get(from) ?? 0) + 1;
    byAddress.set(from, count);
    socket.once("close", () => {
      const left = (byAddress.get(from) ?? 1) - 1;
      if (left === 0) byAddress.delete(from);
      else byAddress.set(from, left);
    });
    if (count > mostOfOneAddress) socket.destroy();
  });
  server.on("error", (error) => {
    ports.logger.error(
      { port, reason: error.message },
      "the page cannot be told at this port; set page.port to a free one",
    );
    if (server.listening) return;
    void ports.clock.sleep(retryAfter_ms, ended.signal).then(() => {
      if (!ended.signal.aborted) server.listen(port, address);
    });
  });

  return {
    start: () =>
      new Promise((resolve) => {
        server.once("error", () => resolve(undefined));
        server.listen(port, address, () => {
          const { port: heard } = server.address() as AddressInfo;
          resolve(`http://${address.includes(":") ? `[${address}]` : address}:${heard}/`);
        });
      }),
    stop: () =>
      new Promise((resolve) => {
        ended.abort();
        server.close(() => resolve());
        server.closeAllConnections();
      }),
  };
}
