import { z } from "zod";
import type { ServiceView } from "../../lib/inspection/service-finding.js";
import type { ClickOutcome, ValveState } from "../../lib/inspection/valve-finding.js";
import type { ClockVerdict } from "../../lib/schedule/clock-plausibility.js";
import { converse, type Answer } from "../control-socket/socket-client.js";
import type { SensorView } from "../sensor-inbox.js";
import type { SiteStatus } from "../site-status.js";

/** What a running daemon says of itself. */
export type DaemonAnswers =
  | {
      readonly kind: "runs";
      readonly clock: ClockVerdict;
      readonly sensors: readonly SensorView[];
      readonly valves: ReadonlyMap<string, ValveState>;
      readonly service: ServiceView | undefined;
    }
  | { readonly kind: "does not run" | "not known" | "no pass"; readonly reason: string };

/** The status is the daemon's own and of this version: only its outline is looked at. */
const statusSchema = z.looseObject({
  clock: z.looseObject({ kind: z.string() }),
  sensors: z.array(z.looseObject({ sensorId: z.string() })),
  valves: z.array(z.looseObject({ valveId: z.string() })),
});
const serviceSchema = z.discriminatedUnion("kind", [
  z.object({ kind: z.literal("none") }),
  z.object({
    kind: z.literal("told"),
    watchdog_s: z.number().optional(),
    fedBefore_s: z.number().optional(),
  }),
]);

const silent = { hears: () => undefined, answers: () => Promise.resolve(undefined) };

export async function askDaemon(socketFile: string): Promise<DaemonAnswers> {
  const status = await converse(socketFile, { command: "status" }, silent);
  if (status.kind === "refused") return { kind: "no pass", reason: status.text };
  if (status.kind === "no answer") return notAnswering(status);
  const outline = statusSchema.safeParse(status.value);
  if (!outline.success) return { kind: "not known", reason: "a daemon of another version answers" };
  const { clock, sensors, valves } = status.value as SiteStatus;
  const service = await converse(socketFile, { command: "inspect-service" }, silent);
  return {
    kind: "runs",
    clock,
    sensors,
    valves: new Map(
      valves.map(({ valveId, decision, reported, window }) => [
        valveId,
        {
          kind: "known",
          isInWindow: window.kind === "open",
          told: decision.action,
          reported,
          reason: decision.reason,
          blocks: decision.wish.action === "open" ? decision.blocks : decision.blocks.filter(isOfAPerson),
        },
      ]),
    ),
    service: service.kind === "done" ? serviceOf(service.value) : undefined,
  };
}

/**
 * The round trip of one valve, as the daemon lets it.
 * @param atTheTank  the valve's name, where it was given beforehand
 */
export async function askForClick(
  socketFile: string,
  valveId: string,
  atTheTank: string | undefined,
  person: Parameters<typeof converse>[2],
): Promise<ClickOutcome> {
  const request = {
    command: "inspect-click",
    valve: valveId,
    ...(atTheTank === undefined ? {} : { atTheTank }),
  };
  let isAgreed = atTheTank !== undefined;
  const answer = await converse(socketFile, request, {
    hears: person.hears,
    answers: async (question) => {
      const given = await person.answers(question);
      isAgreed = given?.trim() === valveId;
      return given;
    },
  });
  switch (answer.kind) {
    case "done":
      return { kind: "passed", text: answer.text };
    case "refused":
      return isAgreed ? { kind: "failed", text: answer.text } : { kind: "nobody agreed" };
    case "no answer":
      return { kind: "failed", text: answer.reason };
  }
}

/** What stands though nobody wishes the valve open. */
function isOfAPerson({ rule }: SiteStatus["valves"][number]["decision"]["blocks"][number]): boolean {
  return ["tripped", "relay not commissioned", "relay not obeying"].includes(rule);
}

function serviceOf(value: unknown): ServiceView | undefined {
  const parsed = serviceSchema.safeParse(value);
  if (!parsed.success) return undefined;
  return parsed.data.kind === "none"
    ? parsed.data
    : { kind: "told", watchdog_s: parsed.data.watchdog_s, fedBefore_s: parsed.data.fedBefore_s };
}

function notAnswering({ code, reason }: Extract<Answer, { readonly kind: "no answer" }>): DaemonAnswers {
  const isGone = code === "ENOENT" || code === "ECONNREFUSED";
  return { kind: isGone ? "does not run" : "not known", reason };
}
