import { toldRunOut } from "../../lib/estimation/run-out.js";
import type { SiteStatus } from "../site-status.js";
import type { NextEvent } from "./page-contract.js";

const mostEvents = 4;

/** What the clock and the forecasts say comes next, soonest first. A valve that something holds closed opens with no window. */
export function nextEvents({
  at_epochMs,
  valves,
  supplies,
}: Pick<SiteStatus, "at_epochMs" | "valves" | "supplies">): readonly NextEvent[] {
  const ofValves = valves.flatMap(({ valveId, window, decision, reported }): readonly NextEvent[] => {
    if (window.kind === "open") {
      const isOpen = reported === "open" || decision.action === "open";
      return isOpen ? [{ kind: "valve closes", subjectId: valveId, at_epochMs: window.closes_epochMs }] : [];
    }
    return decision.blocks.length > 0 || window.opens_epochMs === undefined
      ? []
      : [{ kind: "valve opens", subjectId: valveId, at_epochMs: window.opens_epochMs }];
  });
  const ofVessels = supplies.flatMap(({ vesselId, told }): readonly NextEvent[] => {
    if (told === undefined || told.estimate.phase === "spent") return [];
    const { lastSensible, leastLoss, next } = told.refill?.usual ?? {};
    // As the advice has it: as late as costs no dosing day.
    const refill_epochMs = (lastSensible ?? leastLoss ?? next)?.begins_epochMs;
    const runOut = toldRunOut(told.estimate.runOut, told.estimate.at_epochMs);
    return [
      ...(runOut === undefined
        ? []
        : [{ kind: "charge runs out" as const, subjectId: vesselId, at_epochMs: runOut.median_epochMs }]),
      ...(refill_epochMs === undefined
        ? []
        : [{ kind: "refill" as const, subjectId: vesselId, at_epochMs: refill_epochMs }]),
    ];
  });
  return [...ofValves, ...ofVessels]
    .filter((event) => Number.isFinite(event.at_epochMs) && event.at_epochMs > at_epochMs)
    .sort((a, b) => a.at_epochMs - b.at_epochMs)
    .slice(0, mostEvents);
}
