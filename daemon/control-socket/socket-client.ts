import { createConnection } from "node:net";
import { z } from "zod";
import { createLineReader } from "./control-socket.js";

const replySchema = z.discriminatedUnion("kind", [
  z.object({ kind: z.literal("progress"), text: z.string() }),
  z.object({ kind: z.literal("question"), text: z.string() }),
  z.object({ kind: z.literal("done"), text: z.string(), value: z.unknown().optional() }),
  z.object({ kind: z.literal("refused"), text: z.string() }),
]);

const longestReply = 1_000_000;

export type Answer =
  | { readonly kind: "done"; readonly text: string; readonly value: unknown }
  | { readonly kind: "refused"; readonly text: string }
  | { readonly kind: "no answer"; readonly code: string | undefined; readonly reason: string };

/** Sends one command to the running daemon's own socket and follows the conversation to its end. */
export async function converse(
  path: string,
  request: Readonly<Record<string, unknown>>,
  person: {
    readonly hears: (text: string) => void;
    /** The answer to a question; undefined ends the conversation. */
    readonly answers: (question: string) => Promise<string | undefined>;
  },
): Promise<Answer> {
  const socket = createConnection(path);
  const refused = await new Promise<NodeJS.ErrnoException | undefined>((resolve) => {
    socket.once("connect", () => resolve(undefined));
    socket.once("error", resolve);
  });
  if (refused !== undefined) return { kind: "no answer", code: refused.code, reason: refused.message };
  const lines = createLineReader(socket, longestReply);
  socket.write(`${JSON.stringify(request)}\n`);
  try {
    for (;;) {
      const line = await lines.next();
      if (line === undefined) {
        return { kind: "no answer", code: undefined, reason: "the daemon ended the conversation" };
      }
      const reply = replySchema.parse(JSON.parse(line));
      if (reply.kind === "progress") person.hears(reply.text);
      else if (reply.kind === "question") {
        const answer = await person.answers(reply.text);
        if (answer === undefined) return { kind: "refused", text: "not answered" };
        socket.write(`${answer}\n`);
      } else {
        return reply.kind === "done" ? { ...reply, value: reply.value } : reply;
      }
    }
  } finally {
    socket.destroy();
  }
}
