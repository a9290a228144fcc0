import { chmodSync, mkdirSync, unlinkSync } from "node:fs";
import { createConnection, createServer, type Server, type Socket } from "node:net";
import { dirname } from "node:path";
import type { Logger } from "../ports/logger.js";

/** What a client sends in one line. */
export type SocketRequest = Readonly<Record<string, unknown>> & { readonly command: string };

/** One line back. The last one of a request is "done" or "refused". */
export type SocketReply =
  | { readonly kind: "progress"; readonly text: string }
  | { readonly kind: "question"; readonly text: string }
  | { readonly kind: "done"; readonly text: string; readonly value?: unknown }
  | { readonly kind: "refused"; readonly text: string };

export interface SocketConversation {
  reply(reply: SocketReply): void;
  /** The next line that the client sends, or undefined when it is gone. */
  nextLine(): Promise<string | undefined>;
  /** True once the client has ended the conversation. */
  isGone(): boolean;
}

export type SocketHandler = (request: SocketRequest, conversation: SocketConversation) => Promise<void>;

export class SocketInUseError extends Error {
  override readonly name = "SocketInUseError";
  constructor(readonly path: string) {
    super(`another daemon answers at ${path}; stop it first, or give this one another control.clientSocket`);
  }
}

export class SocketUnusableError extends Error {
  override readonly name = "SocketUnusableError";
  constructor(
    readonly path: string,
    override readonly cause: unknown,
  ) {
    super(
      `cannot listen at ${path}: ${cause instanceof Error ? cause.message : String(cause)}; set control.clientSocket to a path in a folder that this user may write`,
    );
  }
}

const longestLine = 10_000;
const mostConversations = 16;
const firstLineWithin_ms = 5000;

/**
 * The daemon's own socket: commands from the person at this machine, one JSON object a line. Only its owner may open it
 * (mode 0600); nothing that comes over a network reaches it.
 */
export function createControlSocket(options: {
  readonly path: string;
  readonly logger: Logger;
  readonly handle: SocketHandler;
}): { start(): Promise<void>; stop(): Promise<void> } {
  const { path, logger, handle } = options;
  const sockets = new Set<Socket>();
  let server: Server | undefined;

  return {
    start: async () => {
      if (await answers(path)) throw new SocketInUseError(path);
      try {
        mkdirSync(dirname(path), { recursive: true, mode: 0o700 });
        removeStale(path);
        server = await listen(path);
      } catch (error) {
        throw new SocketUnusableError(path, error);
      }
    },
    stop: async () => {
      sockets.forEach((socket) => socket.destroy());
      const running = server;
      if (running !== undefined) await new Promise<void>((resolve) => running.close(() => resolve()));
    },
  };

  function listen(at: string): Promise<Server> {
    const created = createServer((socket) => {
      if (sockets.size >= mostConversations) {
        socket.destroy();
        return;
      }
      sockets.add(socket);
      socket.on("close", () => sockets.delete(socket));
      // Whoever says nothing must not keep the owner out.
      const silent = setTimeout(() => socket.destroy(), firstLineWithin_ms);
      socket.once("data", () => clearTimeout(silent));
      socket.once("close", () => clearTimeout(silent));
      converse(socket);
    });
    return new Promise((resolve, reject) => {
      created.once("error", reject);
      // The mask keeps others out from the first instant; the mode is set again in case the mask is ignored.
      const before = process.umask(0o177);
      created.listen(at, () => {
        created.off("error", reject);
        created.on("error", (error) => logger.error({ reason: error.message }, "the local socket failed"));
        chmodSync(at, 0o600);
        resolve(created);
      });
      process.umask(before);
    });
  }

  function converse(socket: Socket): void {
    const lines = createLineReader(socket, longestLine);
    socket.on("error", () => socket.destroy());
    const reply = (line: SocketReply): void => {
      if (socket.writable) socket.write(`${JSON.stringify(line)}\n`);
    };
    void (async () => {
      const first = await lines.next();
      const request = first === undefined ? undefined : requestFrom(first);
      if (request === undefined) {
        reply({ kind: "refused", text: "send one JSON object with a command in one line" });
      } else {
        await handle(request, {
          reply,
          nextLine: lines.next,
          isGone: () => !socket.writable || socket.destroyed || lines.hasEnded(),
        });
      }
    })()
      .catch((error: unknown) => {
        const reason = error instanceof Error ? error.message : String(error);
        logger.error({ reason }, "a local command failed");
        reply({ kind: "refused", text: reason });
      })
      .finally(() => socket.end());
  }
}

/** Lines of a socket, one at a time; undefined once it has ended or a line grew too long. */
export function createLineReader(
  socket: Socket,
  longest: number,
): { readonly next: () => Promise<string | undefined>; readonly hasEnded: () => boolean } {
  const ready: string[] = [];
  const waiting: ((line: string | undefined) => void)[] = [];
  let rest = "";
  let ended = false;
  const end = (): void => {
    ended = true;
    waiting.splice(0).forEach((resolve) => resolve(undefined));
  };
  socket.setEncoding("utf8");
  socket.on("data", (chunk) => {
    rest += String(chunk);
    const parts = rest.split("\n");
    rest = parts.pop() ?? "";
    for (const line of parts) {
      const resolve = waiting.shift();
      if (resolve === undefined) ready.push(line);
      else resolve(line);
    }
    if (rest.length > longest || ready.length > 100) socket.destroy();
  });
  socket.on("end", end);
  socket.on("close", end);
  return {
    hasEnded: () => ended,
    next: () => {
      const line = ready.shift();
      if (line !== undefined) return Promise.resolve(line);
      return ended ? Promise.resolve(undefined) : new Promise((resolve) => waiting.push(resolve));
    },
  };
}

function requestFrom(line: string): SocketRequest | undefined {
  try {
    const parsed: unknown = JSON.parse(line);
    if (typeof parsed !== "object" || parsed === null || !("command" in parsed)) return undefined;
    return typeof parsed.command === "string" ? { ...parsed, command: parsed.command } : undefined;
  } catch {
    return undefined;
  }
}

function answers(path: string): Promise<boolean> {
  return new Promise((resolve) => {
    const probe = createConnection(path);
    probe.on("connect", () => {
      probe.destroy();
      resolve(true);
    });
    probe.on("error", () => resolve(false));
  });
}

function removeStale(path: string): void {
  try {
    unlinkSync(path);
  } catch (error) {
    if (!(error instanceof Error && "code" in error && error.code === "ENOENT")) throw error;
  }
}
