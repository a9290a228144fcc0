/**
 * A process that beats as the daemon does, for tests that kill, stop and stall it. Run compiled, by fork; it says
 * over IPC what it sees, and does what it is told.
 */
import { createProcessDeadMan, type ProcessDeadMan } from "../../daemon/mqtt/process-dead-man.js";
import type { GuardedRelay } from "../../daemon/ports/dead-man.js";
import { CollectingLogger } from "./collecting-logger.js";
import { machineClock } from "./machine-clock.js";

export type ToParent =
  | {
      readonly kind: "begin";
      readonly addresses: readonly string[];
      readonly user?: string;
      readonly password?: string;
      readonly siteId: string;
      readonly relays: readonly GuardedRelay[];
    }
  | { readonly kind: "stall"; readonly duration_ms: number };

export interface ParentStatus {
  readonly armed: readonly string[];
  readonly faults: readonly (string | undefined)[];
  readonly deadManProcessId: number | undefined;
}

const tickEvery_ms = 1_000;
const tellEvery_ms = 50;

async function begin({ relays, siteId, ...access }: Extract<ToParent, { kind: "begin" }>): Promise<void> {
  const deadMan: ProcessDeadMan = createProcessDeadMan({
    access,
    clientIdPrefix: "test",
    siteId,
    relays,
    clock: machineClock,
    logger: new CollectingLogger(),
    random: Math.random,
  });
  await deadMan.start();
  deadMan.beat();
  setInterval(() => deadMan.beat(), tickEvery_ms);
  setInterval(() => {
    const status: ParentStatus = {
      armed: relays.map(({ relayId }) => relayId).filter((relayId) => deadMan.isArmed(relayId)),
      faults: relays.map(({ relayId }) => deadMan.faultOf(relayId)),
      deadManProcessId: deadMan.processId(),
    };
    process.send?.(status);
  }, tellEvery_ms);
}

process.on("message", (message: ToParent) => {
  if (message.kind === "begin") {
    void begin(message);
    return;
  }
  const end_ms = performance.now() + message.duration_ms;
  while (performance.now() < end_ms);
});
