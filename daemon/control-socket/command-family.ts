import type { z } from "zod";
import { readRequest } from "../read-request.js";
import type { SocketConversation, SocketHandler } from "./control-socket.js";

/** Commands that begin with one prefix, read by their schema and handled together; every other command goes on to `others`. */
export function commandFamily<Schema extends z.ZodType>(
  prefix: string,
  schema: Schema,
  handle: (command: z.output<Schema>, conversation: SocketConversation) => Promise<void> | void,
  others: SocketHandler,
): SocketHandler {
  return async (request, conversation) => {
    if (!request.command.startsWith(prefix)) {
      await others(request, conversation);
      return;
    }
    const read = readRequest(schema, request);
    if (read.kind === "not understood") {
      conversation.reply({ kind: "refused", text: `not understood: ${read.reason}` });
      return;
    }
    await handle(read.request, conversation);
  };
}
