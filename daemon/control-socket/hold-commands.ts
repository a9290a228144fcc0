import { z } from "zod";
import { holdInWords, holdSince_epochMs, withHold, withoutHold, type Hold } from "../../lib/control/hold.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import type { ControlCycle } from "../control-cycle.js";
import type { Clock } from "../ports/clock.js";
import type { SiteModel } from "../site-model.js";
import { unknownName } from "../unknown-name.js";
import { commandFamily } from "./command-family.js";
import type { SocketConversation, SocketHandler } from "./control-socket.js";

const name = z.string().min(1).max(60);
/** It is printed on terminals: nothing that moves their cursor may stand in it. */
const note = z
  .string()
  .max(200)
  .regex(/^[^\p{Cc}\p{Cs}\u2028\u2029]*$/u, { error: "one line without control characters" });
const about = {
  kind: z.enum(["maintenance lock", "refill in progress"]),
  subject: z.strictObject({ kind: z.enum(["vessel", "valve"]), id: name }),
};
const requestSchema = z.discriminatedUnion("command", [
  z.strictObject({ command: z.literal("hold-set"), ...about, note }),
  z.strictObject({ command: z.literal("hold-lift"), ...about }),
]);

type Command = z.output<typeof requestSchema>;

/** What keeps valves closed while a person works; every other command goes on to `others`. Only at this machine. */
export function createHoldCommands(
  ports: {
    readonly clock: Pick<Clock, "now_epochMs">;
    readonly journal: Pick<JournalView, "latest">;
  },
  cycle: Pick<ControlCycle, "snapshot" | "replaceSnapshot">,
  model: () => SiteModel,
  others: SocketHandler,
): SocketHandler {
  const { clock } = ports;
  const handle = (command: Command, conversation: SocketConversation): Promise<void> =>
    command.command === "hold-set"
      ? set({ kind: command.kind, subject: command.subject, note: command.note }, conversation)
      : lift(command, conversation);

  return commandFamily("hold-", requestSchema, handle, others);

  async function set(wanted: Omit<Hold, "since_epochMs">, conversation: SocketConversation): Promise<void> {
    conversation.reply(await setHold(ports, cycle, model(), wanted, "by a person at the daemon's socket"));
  }

  async function lift(
    { kind, subject }: Pick<Hold, "kind" | "subject">,
    conversation: SocketConversation,
  ): Promise<void> {
    const snapshot = cycle.snapshot();
    const holds = withoutHold(snapshot.holds, { kind, subject });
    if (holds.length === snapshot.holds.length) {
      conversation.reply({ kind: "refused", text: `there is no ${kind} on ${subject.kind} ${subject.id}` });
      return;
    }
    const stored = await cycle.replaceSnapshot(
      { ...snapshot, holds },
      eventOf(clock.now_epochMs(), { kind, subject }, `${kind} lifted`, "by a person at the daemon's socket"),
    );
    const others = holds.map(holdInWords);
    conversation.reply({
      kind: "done",
      text:
        `${kind} on ${subject.kind} ${subject.id} is lifted` +
        (others.length === 0 ? "" : `; still set: ${others.join("; ")}`) +
        (stored ? "" : "; it could not be stored and stands again after a restart"),
    });
  }
}

/**
 * Sets a hold, wherever a person asks for it: it only closes.
 * @param by who, for the log of events
 */
export async function setHold(
  {
    clock,
    journal,
  }: { readonly clock: Pick<Clock, "now_epochMs">; readonly journal: Pick<JournalView, "latest"> },
  cycle: Pick<ControlCycle, "snapshot" | "replaceSnapshot">,
  { valves, vessels }: Pick<SiteModel, "valves" | "vessels">,
  wanted: Omit<Hold, "since_epochMs">,
  by: string,
): Promise<{ readonly kind: "done" | "refused"; readonly text: string }> {
  const { kind, subject } = wanted;
  const known = [...(subject.kind === "valve" ? valves : vessels).keys()];
  if (!known.includes(subject.id)) {
    return { kind: "refused", text: unknownName(subject.kind, subject.id, known) };
  }
  const snapshot = cycle.snapshot();
  const known_epochMs =
    subject.kind === "vessel" ? journal.latest("charge closed", subject.id)?.at_epochMs : undefined;
  const hold = { ...wanted, since_epochMs: holdSince_epochMs(clock.now_epochMs(), known_epochMs) };
  const holds = withHold(snapshot.holds, hold);
  if (holds === snapshot.holds) {
    return { kind: "done", text: `${kind} on ${subject.kind} ${subject.id} stands already` };
  }
  const stored = await cycle.replaceSnapshot(
    { ...snapshot, holds },
    eventOf(clock.now_epochMs(), hold, `${kind} set`, by),
  );
  return {
    kind: "done",
    text: [answerTo(hold, valves), ...(stored ? [] : [notStored])].join(" "),
  };
}

function answerTo({ kind, subject }: Hold, valves: SiteModel["valves"]): string {
  const held = [...valves]
    .filter(([valveId, { vesselId }]) => subject.id === (subject.kind === "valve" ? valveId : vesselId))
    .map(([valveId]) => valveId);
  const closed = `${kind} on ${subject.kind} ${subject.id}: ${held.length === 0 ? "it has no valve" : `${held.join(", ")} stays closed`} until you lift it.`;
  return kind === "refill in progress"
    ? `${closed} Shut the outlet valve by hand, let the rest off slowly and outside, loosen nothing under pressure. It ends with \`journal charge-closed\`, or \`refill end\`.`
    : `${closed} This is no isolation: a relay's own button or a stuck valve knows nothing of it. Shut the vessel by hand and pull the relay's plug before you work; loosen nothing under pressure.`;
}

function eventOf(
  at_epochMs: number,
  { subject }: Pick<Hold, "kind" | "subject">,
  what: string,
  reason: string,
) {
  return { at_epochMs, area: "hold", subject: subject.id, what, reason, details: { ...subject } };
}

const notStored = "It could not be stored and will be forgotten at a restart: shut the vessel by hand.";
