import { z } from "zod";
import type { AlarmAction } from "../../lib/alarm/alarm-actions.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import { alarmDocuments } from "../alarms/alarm-document.js";
import { minutesInWords } from "../../lib/alarm/minutes-in-words.js";
import { alarmParagraph, byUrgency } from "../alarms/alarm-text.js";
import type { SiteAlarms } from "../alarms/site-alarms.js";
import { commandFamily } from "./command-family.js";
import type { SocketConversation, SocketHandler } from "./control-socket.js";

const alarmId = z.string().min(1).max(200);
const requestSchema = z.discriminatedUnion("command", [
  z.strictObject({ command: z.literal("alarms-list"), json: z.boolean() }),
  z.strictObject({ command: z.literal("alarms-acknowledge"), alarm: alarmId }),
  z.strictObject({ command: z.literal("alarms-acknowledge-all") }),
  z.strictObject({ command: z.literal("alarms-shelve"), alarm: alarmId, for_min: z.number().positive() }),
  z.strictObject({ command: z.literal("alarms-unshelve"), alarm: alarmId }),
  z.strictObject({ command: z.literal("alarms-remove-from-service"), alarm: alarmId }),
  z.strictObject({ command: z.literal("alarms-return-to-service"), alarm: alarmId }),
]);

type Command = z.output<typeof requestSchema>;

/** The alarms for the person at this machine; every other command goes on to `others`. */
export function createAlarmCommands(
  alarms: SiteAlarms,
  timeZone: () => string,
  others: SocketHandler,
): SocketHandler {
  const handle = (command: Command, conversation: SocketConversation): void => {
    switch (command.command) {
      case "alarms-list":
        list(command.json, conversation);
        return;
      case "alarms-acknowledge":
        act(command.alarm, { kind: "acknowledge" }, "is acknowledged", conversation);
        return;
      case "alarms-acknowledge-all": {
        const ids = alarms.acknowledgeAll("local");
        conversation.reply({
          kind: "done",
          text: ids.length === 0 ? "no alarm waits for it" : `acknowledged: ${ids.join(", ")}`,
        });
        return;
      }
      case "alarms-shelve": {
        const { for_min } = command;
        act(
          command.alarm,
          { kind: "shelve", for_min },
          `is shelved for ${minutesInWords(for_min)}`,
          conversation,
        );
        return;
      }
      case "alarms-unshelve":
        act(command.alarm, { kind: "unshelve" }, "is unshelved", conversation);
        return;
      case "alarms-remove-from-service":
        act(
          command.alarm,
          { kind: "remove from service" },
          "is out of service until you return it",
          conversation,
        );
        return;
      case "alarms-return-to-service":
        act(command.alarm, { kind: "return to service" }, "is in service again", conversation);
    }
  };

  return commandFamily("alarms-", requestSchema, handle, others);

  function list(json: boolean, conversation: SocketConversation): void {
    const shown = alarms.list().filter(({ state }) => state !== "normal");
    if (json) {
      conversation.reply({ kind: "done", text: "alarms", value: alarmDocuments(shown) });
      return;
    }
    const lines = byUrgency(shown).flatMap((alarm) => alarmParagraph(alarm, local));
    conversation.reply({ kind: "done", text: lines.length === 0 ? "no alarm" : lines.join("\n") });
  }

  function act(id: string, action: AlarmAction, done: string, conversation: SocketConversation): void {
    const refusal = alarms.act(id, action, "local");
    conversation.reply(
      refusal === undefined
        ? { kind: "done", text: `${id} ${done}` }
        : { kind: "refused", text: `${id}: ${refusal}` },
    );
  }

  function local(at_epochMs: number): string {
    const { date, timeOfDay } = wallClockAt(at_epochMs, timeZone());
    return `${date} ${timeOfDay.slice(0, 5)}`;
  }
}
