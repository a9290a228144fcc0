import { createServer, type IncomingHttpHeaders, type Server, type ServerResponse } from "node:http";
import type { AddressInfo } from "node:net";

export interface ReceivedRequest {
  readonly method: string;
  readonly url: string;
  readonly headers: IncomingHttpHeaders;
  readonly body: string;
}

/** An HTTP server on loopback of which a test says how it answers. */
export interface HttpReceiver {
  readonly url: string;
  readonly got: readonly ReceivedRequest[];
  answerWith(answer: (response: ServerResponse) => void): void;
  close(): Promise<void>;
}

export async function startHttpReceiver(): Promise<HttpReceiver> {
  const got: ReceivedRequest[] = [];
  let answer = (response: ServerResponse): void => void response.writeHead(204).end();
  const server: Server = createServer((request, response) => {
    const parts: Buffer[] = [];
    request.on("data", (part: Buffer) => parts.push(part));
    request.on("end", () => {
      got.push({
        method: request.method ?? "",
        url: request.url ?? "",
        headers: request.headers,
        body: Buffer.concat(parts).toString("utf8"),
      });
      answer(response);
    });
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const { port } = server.address() as AddressInfo;
  return {
    url: `http://127.0.0.1:${port}`,
    got,
    answerWith: (next) => {
      answer = next;
    },
    close: () =>
      new Promise((resolve) => {
        server.closeAllConnections();
        server.close(() => resolve());
      }),
  };
}
