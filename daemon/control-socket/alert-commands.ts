import { z } from "zod";
import type { AlertDelivery, ChannelStatus } from "../alerts/alert-delivery.js";
import type { DigestWatch } from "../digest/digest-watch.js";
import { unknownName } from "../unknown-name.js";
import { commandFamily } from "./command-family.js";
import type { SocketConversation, SocketHandler } from "./control-socket.js";

const requestSchema = z.discriminatedUnion("command", [
  z.strictObject({ command: z.literal("alerts-test"), channel: z.string().max(60) }),
  z.strictObject({ command: z.literal("alerts-list") }),
  z.strictObject({ command: z.literal("alerts-digest") }),
]);

type Command = z.output<typeof requestSchema>;

/** The alerts for the person at this machine; every other command goes on to `others`. */
export function createAlertCommands(
  delivery: Pick<AlertDelivery, "tryChannel" | "channels">,
  digest: Pick<DigestWatch, "preview">,
  others: SocketHandler,
): SocketHandler {
  const handle = async (command: Command, conversation: SocketConversation): Promise<void> => {
    if (command.command === "alerts-list") {
      const lines = delivery.channels().map(lineOf);
      conversation.reply({
        kind: "done",
        text: lines.length === 0 ? "the config has no alert channel" : lines.join("\n"),
      });
      return;
    }
    if (command.command === "alerts-digest") {
      const now = await digest.preview();
      conversation.reply(
        now === undefined
          ? {
              kind: "refused",
              text: "there is no digest to show: the config has no alerts.digest, or the daemon has just started",
            }
          : { kind: "done", text: `${now.heading}\n\n${now.text}` },
      );
      return;
    }
    const { channel } = command;
    const outcome = await delivery.tryChannel(channel);
    if (outcome === undefined) {
      const known = delivery.channels().map((status) => status.channel);
      conversation.reply({
        kind: "refused",
        text: unknownName("channel", channel, known),
      });
      return;
    }
    conversation.reply(
      outcome.kind === "delivered"
        ? { kind: "done", text: `${channel} has taken the trial message: ${outcome.detail}` }
        : { kind: "refused", text: `${channel} has not taken the trial message: ${outcome.reason}` },
    );
  };

  return commandFamily("alerts-", requestSchema, handle, others);
}

function lineOf({ channel, waiting, lastDelivered_epochMs, failing }: ChannelStatus): string {
  const last =
    lastDelivered_epochMs === undefined
      ? "nothing delivered since the start"
      : `last delivered ${new Date(lastDelivered_epochMs).toISOString()}`;
  return `${channel}  ${last}, ${waiting} waiting${failing === undefined ? "" : `; the last try failed: ${failing}`}`;
}
