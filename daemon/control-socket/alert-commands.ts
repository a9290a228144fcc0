import { z } from "zod";
import type { AlertDelivery, ChannelStatus } from "../alerts/alert-delivery.js";
import type { SocketHandler } from "./control-socket.js";

const requestSchema = z.discriminatedUnion("command", [
  z.strictObject({ command: z.literal("alerts-test"), channel: z.string().max(60) }),
  z.strictObject({ command: z.literal("alerts-list") }),
]);

/** The alerts for the person at this machine; every other command goes on to `others`. */
export function createAlertCommands(
  delivery: Pick<AlertDelivery, "tryChannel" | "channels">,
  others: SocketHandler,
): SocketHandler {
  return async (request, conversation) => {
    if (!request.command.startsWith("alerts-")) {
      await others(request, conversation);
      return;
    }
    const parsed = requestSchema.safeParse(request);
    if (!parsed.success) {
      conversation.reply({ kind: "refused", text: `not understood: ${z.prettifyError(parsed.error)}` });
      return;
    }
    if (parsed.data.command === "alerts-list") {
      const lines = delivery.channels().map(lineOf);
      conversation.reply({
        kind: "done",
        text: lines.length === 0 ? "the config has no alert channel" : lines.join("\n"),
      });
      return;
    }
    const { channel } = parsed.data;
    const outcome = await delivery.tryChannel(channel);
    if (outcome === undefined) {
      const known = delivery.channels().map((status) => status.channel);
      conversation.reply({
        kind: "refused",
        text: `there is no channel ${channel}; ${known.length === 0 ? "the config has none" : `known: ${known.join(", ")}`}`,
      });
      return;
    }
    conversation.reply(
      outcome.kind === "delivered"
        ? { kind: "done", text: `${channel} has taken the trial message: ${outcome.detail}` }
        : { kind: "refused", text: `${channel} has not taken the trial message: ${outcome.reason}` },
    );
  };
}

function lineOf({ channel, waiting, lastDelivered_epochMs, failing }: ChannelStatus): string {
  const last =
    lastDelivered_epochMs === undefined
      ? "nothing delivered since the start"
      : `last delivered ${new Date(lastDelivered_epochMs).toISOString()}`;
  return `${channel}  ${last}, ${waiting} waiting${failing === undefined ? "" : `; the last try failed: ${failing}`}`;
}
