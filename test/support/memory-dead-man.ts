import type { Clock } from "../../daemon/ports/clock.js";
import type { DeadMan, GuardedRelay } from "../../daemon/ports/dead-man.js";
import type { MemoryBroker } from "./memory-message-bus.js";

export interface MemoryDeadMan extends DeadMan {
  /** The process that holds the connections dies: every will is published, nothing is armed until `revive`. */
  kill(): void;
  revive(): void;
}

const usualBeatGap_ms = 2_000;

/** The dead-man's rules without process and network: wills at once when the beat is late, on the given clock. */
export function createMemoryDeadMan(options: {
  readonly broker: MemoryBroker;
  readonly clock: Clock;
  readonly relays: readonly GuardedRelay[];
  readonly longestBeatGap_ms?: number;
}): MemoryDeadMan {
  const { broker, clock, relays, longestBeatGap_ms = usualBeatGap_ms } = options;
  let started = false;
  let alive = true;
  let armed = false;
  let watching = false;
  let lastBeat_ms = Number.NEGATIVE_INFINITY;

  const trip = (): void => {
    if (!armed) return;
    armed = false;
    for (const { commandTopic, payloadOff } of relays) broker.publish(commandTopic, payloadOff);
  };
  const watch = async (): Promise<void> => {
    watching = true;
    while (armed) {
      const left_ms = lastBeat_ms + longestBeatGap_ms - clock.monotonic_ms();
      if (left_ms <= 0) trip();
      else await clock.sleep(left_ms);
    }
    watching = false;
  };

  return {
    start() {
      started = true;
      return Promise.resolve();
    },
    stop(relaysAre) {
      if (relaysAre === "confirmed off") armed = false;
      else trip();
      started = false;
      return Promise.resolve();
    },
    beat() {
      if (!started || !alive) return;
      lastBeat_ms = clock.monotonic_ms();
      armed = true;
      if (!watching) void watch();
    },
    send(relayId, message) {
      if (!armed || !relays.some((relay) => relay.relayId === relayId)) return;
      const { topic, payload, expiry_s } = message;
      broker.publish(topic, payload, expiry_s === undefined ? {} : { expiry_s });
    },
    isArmed: (relayId) => armed && relays.some((relay) => relay.relayId === relayId),
    kill() {
      alive = false;
      trip();
    },
    revive() {
      alive = true;
    },
  };
}
