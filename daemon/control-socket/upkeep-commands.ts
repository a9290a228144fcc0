import { z } from "zod";
import type { UpkeepItem } from "../../lib/upkeep/upkeep-items.js";
import { upkeepDocument, upkeepLine } from "../upkeep/upkeep-text.js";
import { commandFamily } from "./command-family.js";
import type { SocketHandler } from "./control-socket.js";

const requestSchema = z.discriminatedUnion("command", [
  z.strictObject({ command: z.literal("upkeep-list"), json: z.boolean() }),
]);

/** What is due, for the person at this machine; what was done goes into the journal. Other commands go on to `others`. */
export function createUpkeepCommands(
  items: () => readonly UpkeepItem[],
  timeZone: () => string,
  others: SocketHandler,
): SocketHandler {
  return commandFamily(
    "upkeep-",
    requestSchema,
    ({ json }, conversation) => {
      const shown = items();
      conversation.reply(
        json
          ? { kind: "done", text: "upkeep", value: upkeepDocument(shown, timeZone()) }
          : {
              kind: "done",
              text:
                shown.length === 0
                  ? "nothing needs upkeep"
                  : shown.map((item) => upkeepLine(item, timeZone())).join("\n"),
            },
      );
    },
    others,
  );
}
