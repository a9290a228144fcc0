import { z } from "zod";
import { factSaid } from "../../lib/journal/fact-said.js";
import type { SiteAlarms } from "../alarms/site-alarms.js";
import { setHold } from "../control-socket/hold-commands.js";
import type { SiteCommands } from "../control-socket/site-commands.js";
import type { ControlCycle } from "../control-cycle.js";
import { answerTo } from "../journal/entry-answer.js";
import type { Journal } from "../journal/journal.js";
import { createGate } from "../mqtt/json-request.js";
import type { Clock } from "../ports/clock.js";
import type { SiteModel } from "../site-model.js";
import type { SiteStatus } from "../site-status.js";
import { readRequest } from "../read-request.js";
import { takeRemoteWish, type RemoteWish } from "../remote-wish.js";
import { unknownName } from "../unknown-name.js";
import { createWishGate, type WishGate } from "../wish-gate.js";
import type { PlanAnswer, PlanWish, WriteAnswer } from "./page-contract.js";
import { planOptionsOf, planWish } from "./plan-wish.js";

export interface WriteSource {
  /** Of the site, in which a wish ends. */
  readonly clock: Pick<Clock, "now_epochMs">;
  readonly machineClock: Pick<Clock, "monotonic_ms">;
  readonly model: () => SiteModel;
  readonly status: () => SiteStatus | undefined;
  readonly journal: Journal;
  readonly alarms: Pick<SiteAlarms, "act">;
  readonly commands: Pick<SiteCommands, "remoteOverride" | "endRemoteOverride" | "isWishedClosed">;
  readonly cycle: Pick<ControlCycle, "snapshot" | "replaceSnapshot">;
  readonly plan: (options: ReturnType<typeof planOptionsOf>) => Promise<PlanAnswer>;
}

/** One thing that a page may have done. */
export interface Write {
  readonly path: RegExp;
  /** @param subjectId from the path */
  readonly carryOut: (subjectId: string, content: unknown) => Promise<WriteAnswer | PlanAnswer>;
}

const alarmRequest = z.strictObject({ alarm: z.string().min(1).max(200) });
const closeRequest = z.strictObject({
  for_min: z
    .number()
    .min(0)
    .max(60 * 24 * 60),
});
const openRequest = z.strictObject({ until_epochMs: z.number().int().positive().nullable() });
const upkeepRequest = z.strictObject({
  task: z.string().max(60),
  subject: z.string().max(60).exactOptional(),
  at: z.string().max(40).exactOptional(),
  note: z.string().max(500).exactOptional(),
});
const refillRequest = z.strictObject({
  note: z
    .string()
    .max(200)
    .regex(/^[^\p{Cc}\p{Cs}\u2028\u2029]*$/u, { error: "one line without control characters" })
    .default(""),
});

/** A person at a form sends a few; a loop sends thousands. */
const limits = {
  wish: { most: 6, within_ms: 10_000 },
  entry: { most: 10, within_ms: 10_000 },
  entries: { most: 500, within_ms: 86_400_000 },
  acknowledge: { most: 20, within_ms: 10_000 },
  refill: { most: 5, within_ms: 60_000 },
  plan: { most: 30, within_ms: 60_000 },
} as const;

/**
 * What a page may have done: what a message from afar may, and no more. Trips, locks, holds at the end of a charge and alarms
 * that are set aside are for the person at the daemon's own machine.
 */
export function createWrites(source: WriteSource): readonly Write[] {
  const { clock, machineClock, journal, commands } = source;
  const gates = {
    entry: createGate(limits.entry),
    entries: createGate(limits.entries),
    acknowledge: createGate(limits.acknowledge),
    refill: createGate(limits.refill),
    plan: createGate(limits.plan),
  };
  const wishGates = new Map<string, WishGate>();
  const takesWish = (valveId: string, closes: boolean): boolean => {
    const gate =
      wishGates.get(valveId) ?? createWishGate(limits.wish, () => commands.isWishedClosed(valveId));
    // Only of valves that there are: whoever guesses names fills no memory.
    if (source.model().valves.has(valveId)) wishGates.set(valveId, gate);
    return gate(closes, machineClock.monotonic_ms());
  };
  const takes = (...names: readonly (keyof typeof gates)[]): boolean =>
    names.every((name) => gates[name](machineClock.monotonic_ms()));

  return [
    { path: /^\/api\/journal$/, carryOut: (_id, content) => enter(content) },
    {
      path: /^\/api\/upkeep\/done$/,
      carryOut: async (_id, content) => {
        const read = readRequest(upkeepRequest, content);
        return read.kind === "read"
          ? await enter({ kind: "upkeep done", ...read.request })
          : refused(`not understood: ${read.reason}`);
      },
    },
    {
      path: /^\/api\/alarms\/acknowledge$/,
      carryOut: (_id, content) => Promise.resolve(acknowledge(content)),
    },
    {
      path: /^\/api\/valves\/(?<id>[a-z0-9-]{1,40})\/close-for$/,
      carryOut: (valveId, content) => Promise.resolve(closeFor(valveId, content)),
    },
    {
      path: /^\/api\/valves\/(?<id>[a-z0-9-]{1,40})\/open-until$/,
      carryOut: (valveId, content) => Promise.resolve(openUntil(valveId, content)),
    },
    { path: /^\/api\/vessels\/(?<id>[a-z0-9-]{1,40})\/refill$/, carryOut: beginRefill },
    { path: /^\/api\/plan$/, carryOut: (_id, content) => plan(content) },
  ];

  async function enter(content: unknown): Promise<WriteAnswer> {
    if (!takes("entry", "entries")) return refused(tooMany);
    const outcome = await journal.enter(content, "remote");
    const told = answerTo(outcome, source.model().timeZone);
    if (told.accepted) {
      const text = [told.fact, ...told.remarks].join(". ");
      return {
        accepted: true,
        text,
        entry: told,
        ...(outcome.kind === "kept" ? { said: factSaid(outcome.entry.fact) } : {}),
      };
    }
    const isUnusual = outcome.kind === "refused" && outcome.refusal?.kind === "unusual";
    return { accepted: false, reason: told.reason, needsSecondWord: isUnusual };
  }

  function acknowledge(content: unknown): WriteAnswer {
    const read = readRequest(alarmRequest, content);
    if (read.kind !== "read") return refused(`not understood: ${read.reason}`);
    if (!takes("acknowledge")) return refused(tooMany);
    const { alarm } = read.request;
    const refusal = source.alarms.act(alarm, { kind: "acknowledge" }, "remote");
    return refusal === undefined ? done(`${alarm} is acknowledged`) : refused(refusal);
  }

  function closeFor(valveId: string, content: unknown): WriteAnswer {
    const read = readRequest(closeRequest, content);
    if (read.kind !== "read") return refused(`not understood: ${read.reason}`);
    const { for_min } = read.request;
    if (!takesWish(valveId, for_min > 0)) return refused(tooMany);
    const until_epochMs = for_min === 0 ? undefined : clock.now_epochMs() + for_min * 60_000;
    return wish(valveId, "closed", until_epochMs);
  }

  function openUntil(valveId: string, content: unknown): WriteAnswer {
    const read = readRequest(openRequest, content);
    if (read.kind !== "read") return refused(`not understood: ${read.reason}`);
    if (!takesWish(valveId, false)) return refused(tooMany);
    return wish(valveId, "open", read.request.until_epochMs ?? undefined);
  }

  function wish(
    valveId: string,
    action: RemoteWish["action"],
    until_epochMs: number | undefined,
  ): WriteAnswer {
    const valve = source.model().valves.get(valveId);
    if (valve === undefined) {
      return refused(unknownName("valve", valveId, source.model().valves.keys()));
    }
    const { tankIds } = valve.rules;
    const refusal = takeRemoteWish(
      { commands, status: source.status },
      { valveId, tankIds, action, until_epochMs },
    );
    if (refusal !== undefined) return refused(refusal);
    return done(
      until_epochMs === undefined
        ? `${valveId} follows its schedule again`
        : `${valveId} is wished ${action}`,
    );
  }

  async function beginRefill(vesselId: string, content: unknown): Promise<WriteAnswer> {
    const read = readRequest(refillRequest, content);
    if (read.kind !== "read") return refused(`not understood: ${read.reason}`);
    if (!takes("refill")) return refused(tooMany);
    const wanted = {
      kind: "refill in progress",
      subject: { kind: "vessel", id: vesselId },
      note: read.request.note,
    } as const;
    const { kind, text } = await setHold(
      { clock, journal },
      source.cycle,
      source.model(),
      wanted,
      "by the page",
    );
    return kind === "done" ? done(text) : refused(text);
  }

  async function plan(content: unknown): Promise<PlanAnswer> {
    const read = readRequest(planWish, content);
    if (read.kind !== "read") return { kind: "not understood", reason: read.reason };
    if (!takes("plan")) return { kind: "not understood", reason: tooMany };
    const request: PlanWish = read.request;
    return source.plan(planOptionsOf(request));
  }
}

const tooMany = "too many at once; try again in a moment";

function done(text: string): WriteAnswer {
  return { accepted: true, text };
}

function refused(reason: string): WriteAnswer {
  return { accepted: false, reason };
}
