import { z } from "zod";
import type { NightlyBackup } from "../scheduler/nightly-backup.js";
import { commandFamily } from "./command-family.js";
import type { SocketHandler } from "./control-socket.js";

const requestSchema = z.discriminatedUnion("command", [z.strictObject({ command: z.literal("backup-now") })]);

/** A whole copy of the store at a person's wish, as before a change of machine. Other commands go on to `others`. */
export function createBackupCommands(
  backup: Pick<NightlyBackup, "copyWhole">,
  others: SocketHandler,
): SocketHandler {
  return commandFamily(
    "backup-",
    requestSchema,
    async (_command, conversation) => {
      const outcome = await backup.copyWhole();
      conversation.reply(
        outcome.kind === "verified"
          ? {
              kind: "done",
              text: `copied and checked: ${outcome.file} (${(outcome.size_bytes / 1e6).toFixed(1)} MB)`,
            }
          : { kind: "refused", text: `no copy was made: ${outcome.reason}` },
      );
    },
    others,
  );
}
