import { createConnection } from "node:net";
import { createLineReader } from "../../daemon/control-socket/control-socket.js";

export interface LocalReply {
  readonly kind: string;
  readonly text: string;
  readonly value?: unknown;
}

const longestReply = 1_000_000;

/** One command at the daemon's own socket, as the keeper's terminal sends it; undefined where no daemon answers. */
export async function sayAt(
  path: string,
  request: Readonly<Record<string, unknown>>,
): Promise<LocalReply | undefined> {
  const socket = createConnection(path);
  try {
    const isConnected = await new Promise<boolean>((resolve) => {
      socket.once("connect", () => resolve(true));
      socket.once("error", () => resolve(false));
    });
    if (!isConnected) return undefined;
    socket.on("error", () => undefined);
    const lines = createLineReader(socket, longestReply);
    socket.write(`${JSON.stringify(request)}\n`);
    for (;;) {
      const line = await lines.next();
      if (line === undefined) return undefined;
      const reply = JSON.parse(line) as LocalReply;
      if (reply.kind === "done" || reply.kind === "refused") return reply;
    }
  } finally {
    socket.destroy();
  }
}
