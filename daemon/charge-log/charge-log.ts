import type { ChargeReport } from "../../lib/charge-log/charge-report.js";
import {
  begunCharge,
  endOf,
  withDosing,
  withSight,
  type ChargeBeginning,
  type FollowedCharge,
} from "../../lib/charge-log/followed-charge.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import type { SiteEvent, SiteStore } from "../ports/site-store.js";
import type { SiteModel } from "../site-model.js";
import type { VesselSupply } from "../supply/vessel-supply.js";
import { siteReport } from "./charge-report-site.js";
import { chargesFrom, chargesSnapshotName, storedCharges } from "./kept-charges.js";

/** What a control pass has found, for the log after it. */
export interface ChargeLogTick {
  readonly now_epochMs: number;
  readonly now_monotonicMs: number;
  readonly model: SiteModel;
  readonly supplies: readonly VesselSupply[];
  readonly valves: readonly {
    readonly valveId: string;
    readonly reported: "open" | "closed" | "unknown";
  }[];
}

/** The last charge of a vessel that has ended. */
export interface EndedCharge {
  readonly vesselId: string;
  readonly report: ChargeReport;
}

export interface ChargeLog {
  follow(tick: ChargeLogTick): void;
  ended(): readonly EndedCharge[];
  /** Every one that is kept, oldest first; the last of a vessel is in it. */
  charges(): readonly FollowedCharge[];
  save(): void;
}

const saveEvery_ms = 30 * 60_000;
/** Two closings so near are one filling, corrected. */
const sameFilling_ms = 12 * 3_600_000;
/** A longer pause between two passes is a sleep of the machine: the relays had dropped. */
const longestPause_ms = 60_000;
const hour_ms = 3_600_000;

/** What each charge was weighed to be, was said to give, and gave: kept from its closing to its end, and after it. */
export function createChargeLog(
  ports: {
    readonly store: Pick<SiteStore, "saveSnapshot">;
    readonly journal: Pick<JournalView, "latest">;
    readonly record: (event: SiteEvent) => void;
  },
  restored: unknown,
): ChargeLog {
  const { store, journal, record } = ports;
  /** Of each vessel oldest first; the last one is in it. */
  const charges = new Map<string, readonly FollowedCharge[]>();
  for (const charge of chargesFrom(restored)) {
    charges.set(charge.vesselId, [...(charges.get(charge.vesselId) ?? []), charge]);
  }
  const reports = new Map<string, EndedCharge>();
  let passed_monotonicMs: number | undefined;
  let saved_monotonicMs: number | undefined;
  let isReported = false;

  return {
    follow,
    ended: () => [...reports.values()],
    charges: () =>
      [...charges.values()].flat().sort((one, other) => one.closed_epochMs - other.closed_epochMs),
    save,
  };

  function follow(tick: ChargeLogTick): void {
    const { now_monotonicMs, supplies, model } = tick;
    if (!isReported) {
      isReported = true;
      for (const vesselId of charges.keys()) report(vesselId, tick);
    }
    for (const vesselId of reports.keys()) if (!model.vessels.has(vesselId)) reports.delete(vesselId);
    for (const supply of supplies) followVessel(supply, tick);
    countDosing(tick);
    passed_monotonicMs = now_monotonicMs;
    saved_monotonicMs ??= now_monotonicMs;
    if (now_monotonicMs - saved_monotonicMs < saveEvery_ms) return;
    saved_monotonicMs = now_monotonicMs;
    save();
  }

  function followVessel(supply: VesselSupply, tick: ChargeLogTick): void {
    const { vesselId, charge, told } = supply;
    if (charge === undefined) return;
    const known = charges.get(vesselId) ?? [];
    const current = known.at(-1);
    const beginning = beginningOf(vesselId, charge, tick.model);
    if (current !== undefined && current.closed_epochMs - beginning.closed_epochMs > sameFilling_ms) {
      takeBack(vesselId, beginning, tick);
      return;
    }
    if (current === undefined || beginning.closed_epochMs - current.closed_epochMs > sameFilling_ms) {
      const before = known.map((one) =>
        one === current ? { ...one, replaced_epochMs: beginning.closed_epochMs } : one,
      );
      charges.set(vesselId, [...before, begunCharge(beginning)]);
      if (current !== undefined && endOf(current).kind === "running") tellEnd(vesselId, tick);
      save();
      return;
    }
    const corrected = { ...current, ...beginning };
    const next =
      told === undefined
        ? corrected
        : withSight(corrected, {
            at_epochMs: told.estimate.at_epochMs,
            phase: told.estimate.phase,
            removed: told.removed_g,
            leak_gPerDay: told.estimate.leak_gPerDay,
            remaining_g: bounds95(told.estimate.remaining),
            deliverable_g: bounds95(told.estimate.deliverable),
            runOut: told.estimate.runOut,
          });
    charges.set(vesselId, [...known.slice(0, -1), next]);
    if (endOf(next).kind !== endOf(current).kind) {
      tellEnd(vesselId, tick);
      save();
    }
  }

  /** Its closing was withdrawn: it never was, and the one before goes on. */
  function takeBack(vesselId: string, beginning: ChargeBeginning, tick: ChargeLogTick): void {
    const earlier = (charges.get(vesselId) ?? []).filter(
      ({ closed_epochMs }) => closed_epochMs - beginning.closed_epochMs <= sameFilling_ms,
    );
    const last = earlier.at(-1);
    if (last === undefined) charges.set(vesselId, [begunCharge(beginning)]);
    else {
      const { replaced_epochMs, ...goesOn } = last;
      charges.set(vesselId, [...earlier.slice(0, -1), goesOn]);
      record({
        at_epochMs: tick.now_epochMs,
        area: "charge",
        subject: vesselId,
        what: "goes on",
        reason: "the closing of the next one was withdrawn",
        details: replaced_epochMs === undefined ? {} : { replaced_epochMs },
      });
    }
    report(vesselId, tick);
    save();
  }

  function beginningOf(
    vesselId: string,
    charge: NonNullable<VesselSupply["charge"]>,
    model: SiteModel,
  ): ChargeBeginning {
    const { supplied, closedAt_epochMs } = charge;
    const entry = journal.latest("charge closed", vesselId);
    const margin_bar = model.vessels.get(vesselId)?.endOfCharge.margin_bar ?? 0;
    const { plannedBicarbonate_g, plannedAcid_g } = entry?.at_epochMs === closedAt_epochMs ? entry.fact : {};
    return {
      vesselId,
      acid: supplied.acid,
      sodiumBicarbonate_g: supplied.sodiumBicarbonate_g,
      water_kg: supplied.water_kg,
      vesselVolume_L: supplied.vesselVolume_L,
      closedWith: supplied.closedWith,
      sealedAt_degC: supplied.sealedAt_degC,
      closed_epochMs: closedAt_epochMs,
      workingPressureGauge_bar: supplied.workingPressureGauge_bar - margin_bar,
      ...(plannedBicarbonate_g === undefined || plannedAcid_g === undefined
        ? {}
        : { planned: { sodiumBicarbonate_g: plannedBicarbonate_g, citricAcid_g: plannedAcid_g } }),
    };
  }

  /** By what the relays report; a valve that says nothing is not counted. */
  function countDosing({ now_epochMs, now_monotonicMs, model, valves }: ChargeLogTick): void {
    const passed_ms = passed_monotonicMs === undefined ? 0 : now_monotonicMs - passed_monotonicMs;
    if (!(passed_ms > 0 && passed_ms <= longestPause_ms)) return;
    const open = valves.filter(({ reported }) => reported === "open").map(({ valveId }) => valveId);
    if (open.length === 0) return;
    const { date } = wallClockAt(now_epochMs, model.timeZone);
    for (const [vesselId, known] of charges) {
      const current = known.at(-1);
      const mine = open.filter((valveId) => model.valves.get(valveId)?.vesselId === vesselId);
      if (current === undefined || mine.length === 0) continue;
      const opened_h = Object.fromEntries(mine.map((valveId) => [valveId, passed_ms / hour_ms]));
      charges.set(vesselId, [...known.slice(0, -1), withDosing(current, opened_h, date)]);
    }
  }

  function tellEnd(vesselId: string, tick: ChargeLogTick): void {
    report(vesselId, tick);
    const found = reports.get(vesselId)?.report;
    if (found === undefined || found.ended.kind === "running") return;
    record({
      at_epochMs: tick.now_epochMs,
      area: "charge",
      subject: vesselId,
      what: found.ended.kind === "spent" ? "was spent" : "was refilled early",
      reason: `${found.delivered_g.value.toFixed(0)} g delivered (95 %: ${found.delivered_g.low.toFixed(0)} to ${found.delivered_g.high.toFixed(0)}) of ${found.theoretical_g.value.toFixed(0)} g, on ${found.dosing_days} days`,
      details: { ...found },
    });
  }

  function report(vesselId: string, { model, now_epochMs }: ChargeLogTick): void {
    const last = [...(charges.get(vesselId) ?? [])].reverse().find((one) => endOf(one).kind !== "running");
    if (last === undefined || !model.vessels.has(vesselId)) reports.delete(vesselId);
    else reports.set(vesselId, { vesselId, report: siteReport(last, model, now_epochMs) });
  }

  function save(): void {
    void store.saveSnapshot(chargesSnapshotName, storedCharges([...charges.values()].flat()));
  }
}

function bounds95({
  value_g,
  low95_g,
  high95_g,
}: {
  readonly value_g: number;
  readonly low95_g: number;
  readonly high95_g: number;
}): { readonly value: number; readonly low: number; readonly high: number } {
  return { value: value_g, low: low95_g, high: high95_g };
}
