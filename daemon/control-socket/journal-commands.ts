import { z } from "zod";
import { subjectOf, type JournalEntry } from "../../lib/journal/journal-entry.js";
import { answerText, entryForProgram } from "../journal/entry-answer.js";
import type { EntryOutcome, Journal } from "../journal/journal.js";
import { entryLine } from "../journal/journal-words.js";
import { readBeginning } from "../journal/written-time.js";
import { commandFamily } from "./command-family.js";
import type { SocketConversation, SocketHandler } from "./control-socket.js";

const mostListed = 1000;
const requestSchema = z.discriminatedUnion("command", [
  z.strictObject({ command: z.literal("journal-enter"), entry: z.record(z.string(), z.unknown()) }),
  z.strictObject({
    command: z.literal("journal-list"),
    subject: z.string().max(60).exactOptional(),
    since: z.string().max(40).exactOptional(),
    newest: z.int().min(1).max(mostListed),
    json: z.boolean(),
  }),
  z.strictObject({ command: z.literal("journal-withdraw"), entryId: z.int().min(1) }),
]);

type Command = z.output<typeof requestSchema>;

/** The journal for the person at this machine; every other command goes on to `others`. */
export function createJournalCommands(
  journal: Journal,
  timeZone: () => string,
  others: SocketHandler,
): SocketHandler {
  const handle = async (command: Command, conversation: SocketConversation): Promise<void> => {
    switch (command.command) {
      case "journal-enter":
        answer(conversation, await journal.enter(command.entry, "local"), (outcome) =>
          answerText(outcome, timeZone()),
        );
        return;
      case "journal-withdraw":
        answer(conversation, await journal.withdraw(command.entryId, "local"), ({ entry }) =>
          withdrawalText(entry, timeZone()),
        );
        return;
      case "journal-list":
        list(command, conversation);
    }
  };

  return commandFamily("journal-", requestSchema, handle, others);

  function list(
    command: Extract<Command, { command: "journal-list" }>,
    conversation: SocketConversation,
  ): void {
    const since = command.since === undefined ? undefined : readBeginning(command.since, timeZone());
    if (since?.kind === "refused") {
      conversation.reply({ kind: "refused", text: since.reason });
      return;
    }
    const entries = journal.list({
      newest: command.newest,
      ...(command.subject === undefined ? {} : { subject: command.subject }),
      ...(since === undefined ? {} : { since_epochMs: since.at_epochMs }),
    });
    if (command.json) {
      const value = entries.map((entry) => entryForProgram(entry, timeZone()));
      conversation.reply({ kind: "done", text: "journal", value });
      return;
    }
    const lines = entries.map((entry) => entryLine(entry, timeZone()));
    conversation.reply({
      kind: "done",
      text: lines.length === 0 ? "there is no such entry" : lines.join("\n"),
    });
  }
}

function answer(
  conversation: SocketConversation,
  outcome: EntryOutcome,
  said: (outcome: Extract<EntryOutcome, { kind: "kept" }>) => string,
): void {
  conversation.reply(
    outcome.kind === "kept"
      ? { kind: "done", text: said(outcome) }
      : { kind: "refused", text: outcome.reason },
  );
}

/** A refill that ended with a charge entered by mistake is not begun again by itself: nobody may have the vessel open. */
function withdrawalText(entry: JournalEntry, timeZone: string): string {
  const line = `withdrawn: ${entryLine(entry, timeZone).trimStart()}`;
  return entry.fact.kind === "charge closed"
    ? `${line}\nIf the vessel is still being refilled, say so again, since the entry ended that: refill begin ${subjectOf(entry.fact).id}`
    : line;
}
