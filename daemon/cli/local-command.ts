import { createConnection } from "node:net";
import { createInterface } from "node:readline/promises";
import { z } from "zod";
import { loadConfig } from "../config/load-config.js";
import { createLineReader } from "../control-socket/control-socket.js";
import { formatFault } from "../config/config-faults.js";

const replySchema = z.discriminatedUnion("kind", [
  z.object({ kind: z.literal("progress"), text: z.string() }),
  z.object({ kind: z.literal("question"), text: z.string() }),
  z.object({ kind: z.literal("done"), text: z.string(), value: z.unknown().optional() }),
  z.object({ kind: z.literal("refused"), text: z.string() }),
]);

const longestReply = 1_000_000;

/**
 * Sends one command to the running daemon's own socket and follows the conversation.
 * @param answer  what is printed where the daemon answers with both words for people and a value for programs.
 * @returns the exit code.
 */
export async function localCommand(
  configPath: string,
  request: Readonly<Record<string, unknown>>,
  answer: "words" | "value" = "value",
): Promise<number> {
  const parsed = await loadConfig(configPath);
  if (parsed.kind === "invalid") {
    parsed.faults.forEach((fault) => process.stderr.write(`${formatFault(configPath, fault)}\n`));
    return 1;
  }
  const path = parsed.config.control.clientSocket;
  const socket = createConnection(path);
  const connected = await new Promise<string | undefined>((resolve) => {
    socket.once("connect", () => resolve(undefined));
    socket.once("error", (error) => resolve(error.message));
  });
  if (connected !== undefined) {
    process.stderr.write(
      `no daemon answers at ${path} (${connected}); start it, and run this as the same user\n`,
    );
    return 1;
  }
  const lines = createLineReader(socket, longestReply);
  socket.write(`${JSON.stringify(request)}\n`);
  for (;;) {
    const line = await lines.next();
    if (line === undefined) {
      process.stderr.write("the daemon ended the conversation\n");
      return 1;
    }
    const reply = replySchema.parse(JSON.parse(line));
    switch (reply.kind) {
      case "progress":
        process.stdout.write(`${reply.text}\n`);
        break;
      case "question":
        socket.write(`${await ask(reply.text)}\n`);
        break;
      case "done":
        process.stdout.write(
          reply.value === undefined || answer === "words"
            ? `${reply.text}\n`
            : `${JSON.stringify(reply.value, undefined, 2)}\n`,
        );
        socket.destroy();
        return 0;
      case "refused":
        process.stderr.write(`refused: ${reply.text}\n`);
        socket.destroy();
        return 1;
    }
  }
}

async function ask(question: string): Promise<string> {
  const terminal = createInterface({ input: process.stdin, output: process.stdout });
  try {
    return await terminal.question(`${question} `);
  } finally {
    terminal.close();
  }
}
