import { initialValveMemory, type ValveMemory } from "../lib/control/control-step.js";
import { initialRelayDriver, onReconnected, onRelayReport } from "../lib/control/relay-driver.js";
import type { RelayReport } from "./relay-link.js";

/** What the control of each valve remembers from tick to tick. */
export interface ValveMemories {
  readonly all: ReadonlyMap<string, ValveMemory>;
  of(valveId: string): ValveMemory;
  keep(valveId: string, memory: ValveMemory): void;
  hear(valveId: string, report: RelayReport): void;
  /** What was said to its relays may not have arrived, and what they reported may have changed. */
  forgetRelays(valveId: string): void;
  forgetAllRelays(): void;
}

export function createValveMemories(): ValveMemories {
  const memories = new Map<string, ValveMemory>();

  return {
    all: memories,
    of,
    keep: (valveId, memory) => {
      memories.set(valveId, memory);
    },
    hear(valveId, { relayId, reported, at_monotonicMs }) {
      const memory = of(valveId);
      const before = memory.relays[relayId] ?? initialRelayDriver;
      const after = onRelayReport(before, reported, at_monotonicMs);
      memories.set(valveId, { ...memory, relays: { ...memory.relays, [relayId]: after } });
    },
    forgetRelays,
    forgetAllRelays: () => [...memories.keys()].forEach(forgetRelays),
  };

  function of(valveId: string): ValveMemory {
    return memories.get(valveId) ?? initialValveMemory;
  }

  function forgetRelays(valveId: string): void {
    const memory = memories.get(valveId);
    if (memory === undefined) return;
    const relays = Object.entries(memory.relays).map(([id, relay]) => [id, onReconnected(relay)] as const);
    memories.set(valveId, { ...memory, relays: Object.fromEntries(relays) });
  }
}
