import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import type { TrackedAlarm } from "../../lib/alarm/alarm-step.js";
import type { AlertMessage } from "../../lib/alerts/alert-message.js";
import type { AlertRoute } from "../../lib/alerts/alert-route.js";
import { emptyAlertMemory, planAlerts, type AlertMemory } from "../../lib/alerts/plan-alerts.js";
import { retryDelay_ms } from "../../lib/alerts/retry.js";
import type { AlertChannel, DeliveryOutcome } from "../ports/alert-channel.js";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";
import type { OutboxChange, OutboxMessage, SiteStore } from "../ports/site-store.js";
import { essenceOf, readAlertMemory, readMessage } from "./alert-form.js";

export interface AlertDelivery {
  /** Goes on from what an earlier run left, then looks each second. */
  start(): Promise<void>;
  /** What is under way is broken off, and goes out after the next start. */
  stop(): Promise<void>;
  /** One trial message, past the outbox; undefined where there is no such channel. */
  tryChannel(channel: string): Promise<DeliveryOutcome | undefined>;
  /**
   * Puts messages on their way, together with a state that belongs to them: both reach the disk, or neither. A key that is
   * known already is not taken up again.
   */
  send(messages: readonly KeyedMessage[], snapshot: OutboxChange["snapshot"]): void;
  /** Other routes and channels; what waits for a channel that stays goes out on it, as it is from now on. */
  replace(routes: readonly AlertRoute[], channels: ReadonlyMap<string, AlertChannel>): void;
  channels(): readonly ChannelStatus[];
  /** A channel that has taken nothing for a while is an alarm of its own. */
  conditions(): readonly AlarmCondition[];
}

export interface KeyedMessage {
  readonly messageKey: string;
  readonly message: AlertMessage;
}

export interface ChannelStatus {
  readonly channel: string;
  readonly waiting: number;
  readonly lastDelivered_epochMs: number | undefined;
  /** Why the last try failed; undefined after one that did not. */
  readonly failing: string | undefined;
}

const snapshotName = "alerts";
const look_ms = 1000;
/** A disk that does not answer must not hold an alert. */
const diskPatience_ms = 5000;
/** Who has been away longer looks at the alarms, not at old messages. */
const givenUpAfter_ms = 72 * 3_600_000;
const failingAfter_ms = 10 * 60_000;
/** A channel that does not heed the end must not hold it up. */
const stopLimit_ms = 3000;

interface Waiting {
  readonly row: OutboxMessage;
  readonly message: AlertMessage;
  /** Since when it waits by the clock of durations; undefined: an earlier run left it. */
  readonly since_monotonicMs: number | undefined;
  attempts: number;
  due_monotonicMs: number;
  /** On disk, or the disk was given its time. */
  isKept: boolean;
}

interface ChannelState {
  channel: AlertChannel;
  isBusy: boolean;
  failingSince_monotonicMs: number | undefined;
  failing: string | undefined;
  lastDelivered_epochMs: number | undefined;
}

/** Brings alarms to people. In its own time, beside the control path: a receiver that hangs delays no tick. */
export function createAlertDelivery(
  ports: {
    /** Time of the site: quiet hours and intervals. */
    readonly clock: Clock;
    /** Time of this machine: tries and waits. */
    readonly machineClock: Clock;
    readonly store: Pick<SiteStore, "keepOutbox" | "waitingMessages" | "loadSnapshot" | "recordEvent">;
    readonly logger: Logger;
    readonly random: () => number;
    readonly newKey: () => string;
  },
  site: {
    readonly routes: readonly AlertRoute[];
    readonly channels: ReadonlyMap<string, AlertChannel>;
    readonly timeZone: () => string;
  },
  alarms: () => readonly TrackedAlarm[],
): AlertDelivery {
  const { clock, machineClock, store, logger, random, newKey } = ports;
  const ending = new AbortController();
  let { routes } = site;
  const states = new Map(
    [...site.channels].map(([id, channel]): [string, ChannelState] => [id, newState(channel)]),
  );
  let waiting: readonly Waiting[] = [];
  let memory: AlertMemory = emptyAlertMemory;
  let running: Promise<void> = Promise.resolve();
  const underWay = new Set<Promise<void>>();

  return { start, stop, tryChannel, send, replace, channels, conditions };

  function replace(nextRoutes: readonly AlertRoute[], nextChannels: ReadonlyMap<string, AlertChannel>): void {
    routes = nextRoutes;
    for (const id of states.keys()) if (!nextChannels.has(id)) states.delete(id);
    for (const [id, channel] of nextChannels) {
      const known = states.get(id);
      if (known === undefined) states.set(id, newState(channel));
      else known.channel = channel;
    }
    // What failed before may have been set right: it is tried at once.
    for (const message of waiting) message.due_monotonicMs = machineClock.monotonic_ms();
  }

  async function start(): Promise<void> {
    try {
      memory = readAlertMemory(await store.loadSnapshot(snapshotName));
      takeUp(await store.waitingMessages());
    } catch (error) {
      logger.error({ reason: reasonOf(error) }, "what was still to be told is not known");
    }
    running = lookUntilEnd();
  }

  async function stop(): Promise<void> {
    ending.abort();
    await running;
    const over = new AbortController();
    await Promise.race([Promise.all(underWay), machineClock.sleep(stopLimit_ms, over.signal)]);
    over.abort();
  }

  async function tryChannel(channelId: string): Promise<DeliveryOutcome | undefined> {
    const state = states.get(channelId);
    if (state === undefined) return undefined;
    const message: AlertMessage = { channel: channelId, at_epochMs: clock.now_epochMs(), notices: [] };
    const outcome = await state.channel.deliver(message, newKey(), ending.signal);
    if (outcome.kind === "delivered") noteDelivered(state);
    logger.info({ channel: channelId, outcome: outcome.kind }, "a trial message was sent");
    return outcome;
  }

  function channels(): readonly ChannelStatus[] {
    return [...states].map(([channel, { lastDelivered_epochMs, failing }]) => ({
      channel,
      waiting: waiting.filter(({ row }) => row.channel === channel).length,
      lastDelivered_epochMs,
      failing,
    }));
  }

  function conditions(): readonly AlarmCondition[] {
    const now_monotonicMs = machineClock.monotonic_ms();
    return [...states].flatMap(([channel, { failingSince_monotonicMs, failing }]) =>
      failingSince_monotonicMs === undefined || now_monotonicMs - failingSince_monotonicMs < failingAfter_ms
        ? []
        : [channelFails(channel, failing ?? "")],
    );
  }

  async function lookUntilEnd(): Promise<void> {
    while (!ending.signal.aborted) {
      try {
        plan();
        sendDue();
      } catch (error) {
        logger.error({ reason: reasonOf(error) }, "alerts could not be looked after");
      }
      await machineClock.sleep(look_ms, ending.signal);
    }
  }

  function plan(): void {
    if (routes.length === 0) return;
    const now_epochMs = clock.now_epochMs();
    const planned = planAlerts(alarms(), memory, {
      routes,
      timeZone: site.timeZone(),
      now_epochMs,
      undelivered: new Set(waiting.map(({ row }) => row.channel)),
    });
    const isNews = planned.messages.length > 0 || essenceOf(planned.memory) !== essenceOf(memory);
    memory = planned.memory;
    if (!isNews) return;
    send(
      planned.messages.map((message) => ({ messageKey: newKey(), message })),
      { name: snapshotName, state: memory },
    );
  }

  function send(messages: readonly KeyedMessage[], snapshot: OutboxChange["snapshot"]): void {
    const known = new Set(waiting.map(({ row }) => row.messageKey));
    const fresh = messages
      .filter(({ messageKey }) => !known.has(messageKey))
      .map(({ messageKey, message }): Waiting => ({
        row: {
          messageKey,
          channel: message.channel,
          createdAt_epochMs: clock.now_epochMs(),
          contentJson: JSON.stringify(message),
        },
        message,
        since_monotonicMs: clock.monotonic_ms(),
        attempts: 0,
        due_monotonicMs: machineClock.monotonic_ms(),
        isKept: false,
      }));
    waiting = [...waiting, ...fresh];
    // First on disk, then on its way: after a crash the same message goes out under the same key.
    const kept = store.keepOutbox({
      added: fresh.map(({ row }) => row),
      settled: [],
      ...(snapshot === undefined ? {} : { snapshot }),
    });
    const over = new AbortController();
    void Promise.race([kept, machineClock.sleep(diskPatience_ms, over.signal)]).then(() => {
      over.abort();
      for (const message of fresh) message.isKept = true;
      sendDue();
    });
  }

  function takeUp(rows: readonly OutboxMessage[]): void {
    const due_monotonicMs = machineClock.monotonic_ms();
    waiting = rows.flatMap((row): readonly Waiting[] => {
      const message = readMessage(row.contentJson);
      if (message !== undefined) {
        return [{ row, message, since_monotonicMs: undefined, attempts: 0, due_monotonicMs, isKept: true }];
      }
      settle(row, "given up", "it cannot be read");
      return [];
    });
  }

  /** One message at a time for each channel; one that fails lets the others pass. */
  function sendDue(): void {
    if (ending.signal.aborted) return;
    for (const overdue of waiting.filter(isTooOld)) giveUp(overdue);
    for (const [channelId, state] of states) {
      if (state.isBusy) continue;
      const now_monotonicMs = machineClock.monotonic_ms();
      const next = waiting.find(
        ({ row, isKept, due_monotonicMs }) =>
          row.channel === channelId && isKept && due_monotonicMs <= now_monotonicMs,
      );
      if (next === undefined) continue;
      state.isBusy = true;
      const sending = attempt(next, state).finally(() => {
        state.isBusy = false;
        underWay.delete(sending);
      });
      underWay.add(sending);
    }
  }

  async function attempt(next: Waiting, state: ChannelState): Promise<void> {
    const { row } = next;
    next.attempts += 1;
    const outcome = await state.channel.deliver(next.message, row.messageKey, ending.signal);
    if (outcome.kind === "delivered") {
      noteDelivered(state);
      waiting = waiting.filter((other) => other !== next);
      settle(row, "delivered", outcome.detail, { attempts: next.attempts, alarms: alarmsOf(next.message) });
      return;
    }
    if (ending.signal.aborted) return;
    const failure =
      outcome.kind === "failed"
        ? { kind: "failed" as const, retryAfter_s: outcome.retryAfter_s }
        : { kind: "refused" as const };
    const now_monotonicMs = machineClock.monotonic_ms();
    next.due_monotonicMs = now_monotonicMs + retryDelay_ms(failure, next.attempts, random);
    state.failingSince_monotonicMs ??= now_monotonicMs;
    state.failing = outcome.reason;
    logger.warn(
      { channel: row.channel, reason: outcome.reason, outcome: outcome.kind },
      "an alert was not taken; it is tried again",
    );
  }

  function noteDelivered(state: ChannelState): void {
    state.failing = undefined;
    state.failingSince_monotonicMs = undefined;
    state.lastDelivered_epochMs = clock.now_epochMs();
  }

  /** A civil clock that is set right only now makes nothing old that was written by it: its network may just have come. */
  function isTooOld({ row, since_monotonicMs }: Waiting): boolean {
    const age_ms =
      since_monotonicMs === undefined
        ? clock.now_epochMs() - row.createdAt_epochMs
        : clock.monotonic_ms() - since_monotonicMs;
    return age_ms > givenUpAfter_ms || !states.has(row.channel);
  }

  function giveUp(overdue: Waiting): void {
    waiting = waiting.filter((other) => other !== overdue);
    const why = states.has(overdue.row.channel)
      ? `not taken for ${givenUpAfter_ms / 3_600_000} h`
      : "its channel is no longer in the config";
    logger.error({ channel: overdue.row.channel, reason: why }, "an alert is given up");
    settle(overdue.row, "given up", why, { alarms: alarmsOf(overdue.message) });
  }

  function settle(
    { messageKey, channel }: OutboxMessage,
    outcome: "delivered" | "given up",
    reason: string,
    details: Readonly<Record<string, unknown>> = {},
  ): void {
    const at_epochMs = clock.now_epochMs();
    void store.keepOutbox({ added: [], settled: [{ messageKey, outcome, at_epochMs }] });
    void store.recordEvent({
      at_epochMs,
      area: "alert",
      subject: channel,
      what: outcome,
      reason,
      details: { messageKey, ...details },
    });
  }
}

function newState(channel: AlertChannel): ChannelState {
  return {
    channel,
    isBusy: false,
    failingSince_monotonicMs: undefined,
    failing: undefined,
    lastDelivered_epochMs: undefined,
  };
}

function alarmsOf({ notices }: AlertMessage): readonly string[] {
  return notices.map(({ notice, alarmId }) => `${notice} ${alarmId}`);
}

function reasonOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

function channelFails(channel: string, reason: string): AlarmCondition {
  return {
    alarmId: `alert-channel/${channel}`,
    priority: "medium",
    subjects: [],
    cause: `the alert channel ${channel} takes nothing: ${reason}`,
    consequence: "You may hear of an alarm late, or not at all.",
    whatToDo: `Look at the network and the receiver, then run: fizzward alerts test ${channel}`,
    allowableResponse_min: 1440,
    onDelay_s: 0,
    offDelay_s: 0,
    suppressedBy: [],
    latch: "none",
  };
}
