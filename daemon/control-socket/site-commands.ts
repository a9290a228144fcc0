import { z } from "zod";
import { judgeOverride, type Override } from "../../lib/control/decide.js";
import { blockInWords, concerns } from "../../lib/control/interlock.js";
import { rearm, type TripSubject } from "../../lib/control/trip.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import type { ControlCycle } from "../control-cycle.js";
import type { ControlSnapshot } from "../control-snapshot.js";
import { commissioningFingerprint } from "../kept-state.js";
import { runningTest } from "../leak-tests/leak-test.js";
import type { Clock } from "../ports/clock.js";
import { readRequest } from "../read-request.js";
import type { SiteModel, ValveModel } from "../site-model.js";
import { statusLines } from "../status-text.js";
import { unknownName } from "../unknown-name.js";
import { askForYes } from "./ask-for-yes.js";
import type { SocketConversation, SocketHandler } from "./control-socket.js";
import { tryRelay } from "./relay-trial.js";

const name = z.string().max(60);
const requestSchema = z.discriminatedUnion("command", [
  z.strictObject({ command: z.literal("status") }),
  z.strictObject({ command: z.literal("rearm"), kind: z.enum(["tank", "valve"]), id: name }),
  z.strictObject({
    command: z.literal("override"),
    valve: name,
    action: z.enum(["open", "closed"]),
    for_min: z.number(),
  }),
  z.strictObject({ command: z.literal("end-override"), valve: name }),
  z.strictObject({ command: z.literal("accept-clock") }),
  z.strictObject({ command: z.literal("commission"), valve: name }),
]);

export interface SiteCommands {
  readonly handle: SocketHandler;
  /** An override from elsewhere than this machine. Returns why it was refused, or undefined. */
  remoteOverride(override: Override): string | undefined;
  /** Ends a running override of this action, but for a closing by hand at this machine. As `remoteOverride`. */
  endRemoteOverride(valveId: string, action: Override["action"]): string | undefined;
  /** Whether a closing by hand or from afar stands at this instant. */
  isWishedClosed(valveId: string): boolean;
}

/** What a person, or within limits a remote message, may tell the daemon. */
export function createSiteCommands(
  ports: { readonly clock: Clock },
  cycle: ControlCycle,
  model: () => SiteModel,
): SiteCommands {
  const { clock } = ports;
  return {
    handle,
    remoteOverride: (override) => applyOverride(override),
    endRemoteOverride,
    isWishedClosed: (valveId) =>
      cycle
        .snapshot()
        .overrides.some(
          (known) =>
            known.valveId === valveId &&
            known.action === "closed" &&
            known.until_epochMs > clock.now_epochMs(),
        ),
  };

  async function handle(request: unknown, conversation: SocketConversation): Promise<void> {
    const read = readRequest(requestSchema, request);
    if (read.kind === "not understood") {
      conversation.reply({ kind: "refused", text: `not understood: ${read.reason}` });
      return;
    }
    const command = read.request;
    switch (command.command) {
      case "status": {
        const status = cycle.status();
        if (status === undefined)
          conversation.reply({ kind: "refused", text: "no control pass has run yet" });
        else {
          conversation.reply({
            kind: "done",
            text: statusLines(status, model()).join("\n"),
            value: status,
          });
        }
        return;
      }
      case "rearm":
        await rearmBy({ kind: command.kind, id: command.id }, conversation);
        return;
      case "override": {
        const until_epochMs = clock.now_epochMs() + command.for_min * 60_000;
        const { valve: valveId, action } = command;
        answer(conversation, applyOverride({ valveId, action, until_epochMs, source: "local" }), () =>
          overrideAnswer(valveId, action, until_epochMs),
        );
        return;
      }
      case "end-override":
        answer(conversation, endOverride(command.valve), () => `${command.valve} follows its schedule again`);
        return;
      case "accept-clock":
        cycle.acceptClock();
        conversation.reply({
          kind: "done",
          text: `the clock is taken as right: ${new Date(clock.now_epochMs()).toISOString()}`,
        });
        return;
      case "commission":
        await commission(command.valve, conversation);
    }
  }

  function answer(conversation: SocketConversation, refusal: string | undefined, done: () => string): void {
    conversation.reply(
      refusal === undefined ? { kind: "done", text: done() } : { kind: "refused", text: refusal },
    );
  }

  /** In local time, and what keeps the valve shut all the same. */
  function overrideAnswer(valveId: string, action: Override["action"], until_epochMs: number): string {
    const { date, timeOfDay } = wallClockAt(until_epochMs, model().timeZone);
    const wished = `${valveId} is set ${action} by hand until ${date} ${timeOfDay.slice(0, 5)}`;
    if (action === "closed") return wished;
    const blocks = cycle.status()?.valves.find((valve) => valve.valveId === valveId)?.decision.blocks ?? [];
    // A person who opens it by hand may let off what is left of a charge.
    const stays = blocks.filter(({ rule }) => rule !== "end of charge");
    const reasons = stays.map(blockInWords);
    return reasons.length === 0 ? wished : `${wished}; it stays closed all the same: ${reasons.join("; ")}`;
  }

  async function rearmBy(subject: TripSubject, conversation: SocketConversation): Promise<void> {
    const { tanks, valves } = model();
    if (!(subject.kind === "tank" ? tanks : valves).has(subject.id)) {
      conversation.reply({
        kind: "refused",
        text: unknownName(subject.kind, subject.id, (subject.kind === "tank" ? tanks : valves).keys()),
      });
      return;
    }
    const standing = cycle.status()?.standing;
    if (standing === undefined) {
      conversation.reply({ kind: "refused", text: "no control pass has run yet" });
      return;
    }
    const snapshot = cycle.snapshot();
    const outcome = rearm(snapshot.trips, subject, standing);
    if (outcome.kind === "refused") {
      conversation.reply({ kind: "refused", text: outcome.reason });
      return;
    }
    const stored = await change(
      { ...snapshot, trips: outcome.trips },
      { area: "trip", subject: subject.id, what: "re-armed", reason: "by a person at the daemon's socket" },
    );
    const causes = outcome.released.map((trip) => trip.cause).join(", ");
    conversation.reply({
      kind: "done",
      text: `${subject.kind} ${subject.id} is re-armed (${causes})${stored ? "" : "; it could not be stored and will be forgotten at a restart"}`,
    });
  }

  function applyOverride(override: Override): string | undefined {
    const window = model().valves.get(override.valveId)?.calendar.stateAt(clock.now_epochMs());
    if (window === undefined) return unknownName("valve", override.valveId, model().valves.keys());
    const judged = judgeOverride(override, window, clock.now_epochMs());
    if (judged.kind === "refused") return judged.reason;
    const snapshot = cycle.snapshot();
    const running = snapshot.overrides.find((known) => known.valveId === override.valveId);
    if (override.source === "remote" && closedByHand(running)) {
      // The person's closing stands and ends when the person said, whatever a remote message wishes.
      return override.action === "closed" ? undefined : notAgainstAPerson;
    }
    const others = snapshot.overrides.filter((known) => known.valveId !== override.valveId);
    void change(
      { ...snapshot, overrides: [...others, override] },
      {
        area: "override",
        subject: override.valveId,
        what: `set ${override.action}`,
        reason: `${override.source}, until ${new Date(override.until_epochMs).toISOString()}`,
      },
    );
    return undefined;
  }

  function endOverride(valveId: string): string | undefined {
    const running = cycle.snapshot().overrides.find((known) => known.valveId === valveId);
    if (running === undefined) return `${valveId} has no override`;
    dropOverride(valveId, "by a person at the daemon's socket");
    return undefined;
  }

  function endRemoteOverride(valveId: string, action: Override["action"]): string | undefined {
    const running = cycle.snapshot().overrides.find((known) => known.valveId === valveId);
    if (running?.action !== action) return undefined;
    if (closedByHand(running)) return notAgainstAPerson;
    dropOverride(valveId, "remote");
    return undefined;
  }

  function dropOverride(valveId: string, reason: string): void {
    const snapshot = cycle.snapshot();
    const overrides = snapshot.overrides.filter((known) => known.valveId !== valveId);
    void change({ ...snapshot, overrides }, { area: "override", subject: valveId, what: "ended", reason });
  }

  async function commission(valveId: string, conversation: SocketConversation): Promise<void> {
    const valve = model().valves.get(valveId);
    if (valve === undefined) {
      conversation.reply({
        kind: "refused",
        text: unknownName("valve", valveId, model().valves.keys()),
      });
      return;
    }
    if (runningTest(cycle.snapshot().leakTests, valve.vesselId, clock.now_epochMs()) !== undefined) {
      conversation.reply({
        kind: "refused",
        text: `a leak test holds vessel ${valve.vesselId} closed, and a trial opens its valve; end the test first`,
      });
      return;
    }
    const refusal = await askForYes(
      conversation,
      `Shut the vessel of ${valveId} by hand, so that no gas flows while its relays are tried. Is it shut?`,
    );
    if (refusal !== undefined) {
      conversation.reply({ kind: "refused", text: refusal });
      return;
    }
    for (const rules of valve.rules.gasRelays) {
      const relay = model().relays.get(rules.relayId);
      if (relay?.acceptedWithoutAutoOff === true) {
        conversation.reply({
          kind: "progress",
          text: `${rules.relayId}: not tried, since the config accepts that it does not fall back by itself`,
        });
        continue;
      }
      const failure =
        relay === undefined
          ? "the relay is gone from the config"
          : ((await tryRelay({ clock, cycle }, { valveId, relay, trial: "auto-off" }, conversation)) ??
            (await tryRelay({ clock, cycle }, { valveId, relay, trial: "power-on state" }, conversation)));
      if (failure !== undefined || relay === undefined) {
        conversation.reply({ kind: "refused", text: `${rules.relayId}: ${failure ?? ""}` });
        return;
      }
      const snapshot = cycle.snapshot();
      await change(
        {
          ...snapshot,
          commissioned: { ...snapshot.commissioned, [rules.relayId]: commissioningFingerprint(relay) },
        },
        {
          area: "valve",
          subject: rules.relayId,
          what: "commissioned",
          reason: "auto-off and power-on state were tried",
        },
      );
    }
    conversation.reply({ kind: "done", text: commissionedText(valve) });
  }

  /** Whoever opens the vessel again must know that a trip still holds the valve, and why. */
  function commissionedText({ rules }: ValveModel): string {
    const { valveId } = rules;
    const trips = cycle.snapshot().trips.filter(({ subject }) => concerns(subject, rules));
    if (trips.length === 0) return `${valveId} is commissioned; open the vessel by hand again`;
    const subjects = [...new Set(trips.map(({ subject }) => `${subject.kind} ${subject.id}`))];
    const causes = [...new Set(trips.map(({ cause }) => cause))];
    const rearms = subjects.map((subject) => `rearm ${subject}`);
    return (
      `${valveId} is commissioned, but stays closed: ${subjects.join(", ")} tripped (${causes.join("; ")}). Look at the tank first; ` +
      `when the cause is gone: ${rearms.join(", ")}. Leave the vessel shut by hand until then`
    );
  }

  function change(
    next: ControlSnapshot,
    event: {
      readonly area: string;
      readonly subject: string;
      readonly what: string;
      readonly reason: string;
    },
  ): Promise<boolean> {
    return cycle.replaceSnapshot(next, { at_epochMs: clock.now_epochMs(), details: {}, ...event });
  }
}

const notAgainstAPerson =
  "a person at the daemon's own machine has closed this valve; a remote message does not open it";

function closedByHand(running: Override | undefined): boolean {
  return running?.source === "local" && running.action === "closed";
}
