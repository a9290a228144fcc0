import type { ValveMemory } from "../lib/control/control-step.js";
import { initialRelayDriver } from "../lib/control/relay-driver.js";
import type { RelayReport } from "./relay-link.js";

/** What a trial may do with gas: the vessel is shut by hand, or the valve may be open by window, wish and interlock. */
export type TrialGas = "shut by hand" | "as the rules say";

interface RunningTrial {
  readonly relayId: string;
  readonly gas: TrialGas;
  readonly listener: (report: RelayReport) => void;
}

/** The relays that a person tries at this moment: one of each valve at most. */
export interface RelayTrials {
  /** False where a trial of the valve runs already. */
  begin(valveId: string, relayId: string, gas: TrialGas, listener: RunningTrial["listener"]): boolean;
  /** @param only  left out: whatever it may do */
  end(valveId: string, only?: TrialGas): void;
  endAll(only?: TrialGas): void;
  /** The relay of a valve that is being tried. */
  relayOf(valveId: string): string | undefined;
  isTried(relayId: string): boolean;
  /** Whether the report is the trial's, and none of the driver's business. */
  hear(valveId: string, report: RelayReport): boolean;
}

/** @param ended  told of each valve whose trial is over. */
export function createRelayTrials(ended: (valveId: string) => void): RelayTrials {
  const trials = new Map<string, RunningTrial>();

  return {
    begin(valveId, relayId, gas, listener) {
      if (trials.has(valveId)) return false;
      trials.set(valveId, { relayId, gas, listener });
      return true;
    },
    end,
    endAll: (only) => [...trials.keys()].forEach((valveId) => end(valveId, only)),
    relayOf: (valveId) => trials.get(valveId)?.relayId,
    isTried: (relayId) => [...trials.values()].some((trial) => trial.relayId === relayId),
    hear(valveId, report) {
      const trial = trials.get(valveId);
      if (trial?.relayId !== report.relayId) return false;
      trial.listener(report);
      return true;
    },
  };

  function end(valveId: string, only?: TrialGas): void {
    if (only !== undefined && trials.get(valveId)?.gas !== only) return;
    if (trials.delete(valveId)) ended(valveId);
  }
}

/** What a person's trial does with a relay is none of the driver's business. */
export function withUnknownRelay(memory: ValveMemory, relayId: string): ValveMemory {
  return { ...memory, relays: { ...memory.relays, [relayId]: initialRelayDriver } };
}
