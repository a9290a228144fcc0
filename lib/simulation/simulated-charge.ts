import type { SupplyReading } from "../estimation/supply-trace.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { absoluteFromGauge_bar } from "../quantities/units.js";
import type { DrawnCharge } from "./drawn-charge.js";
import { needleFlow_molPerH, regulatorOutletGauge_bar } from "./gas-path.js";
import { createRandomSource } from "./random-source.js";
import { createRoomClimate } from "./room-climate.js";
import { availableCo2_mol } from "./simulated-contents.js";
import { createFlowWander, plannedOpenSpans } from "./simulated-use.js";
import { createSimulatedVessel, deliverableCo2_mol, type SimulatedVessel } from "./simulated-vessel.js";
import { createSupplyRecorder } from "./supply-recorder.js";
import { supplyFaultsAt, type SupplyFault } from "./supply-fault.js";
import { recordingGaps, type RecordingGap } from "./recording-gaps.js";

/** What is so at an instant, whatever the instruments say. */
export interface SupplyTruth {
  readonly at_epochMs: number;
  readonly pressureGauge_bar: number;
  readonly contents_degC: number;
  readonly room_degC: number;
  /** The lesser of the bicarbonate and three times the acid, as CO2, less all that has left, before closing too. */
  readonly co2Remaining_g: number;
  readonly leak_gPerDay: number;
  /** CO2 that has gone through the valve, faults of the valve included, and out of leaks, since closing. */
  readonly delivered_g: number;
  readonly leaked_g: number;
  readonly reacted_ratio: number;
  readonly air_mol: number;
  /** Of the open gas path, against that of the start. */
  readonly opening_ratio: number;
  readonly vessel: SimulatedVessel;
  /** CO2 that can leave before the true gauge pressure is at the working pressure, at the contents' temperature. */
  deliverable_g(): number;
}

export interface SimulatedCharge {
  readonly drawn: DrawnCharge;
  readonly faults: readonly SupplyFault[];
  /** In order of time; as an estimator gets them. */
  readonly readings: readonly SupplyReading[];
  /** Once an hour, unless the run says otherwise. */
  readonly truth: readonly SupplyTruth[];
  /** What the acid could set free in all, g. */
  readonly available_g: number;
  /** When the true gauge pressure fell to the working pressure for good; undefined: not within the run. */
  readonly runOut_epochMs: number | undefined;
  readonly end: {
    readonly carbon_mol: number;
    readonly left_mol: number;
    readonly lostBeforeClosing_mol: number;
    readonly putIn_mol: number;
    readonly air_mol: number;
    readonly airLeft_mol: number;
    readonly airPutIn_mol: number;
  };
}

export interface SimulationRun {
  readonly step_s?: number;
  readonly reading_s?: number;
  /** By default one hour; a whole multiple of `step_s`. */
  readonly truth_s?: number;
  /** Without it the run ends a day and a half after the working pressure is passed for good. */
  readonly until_epochMs?: number;
  readonly faults?: readonly SupplyFault[];
  readonly gaps?: "drawn" | "none";
}

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;

/** Below the working pressure for this long, and by this much: no warm afternoon brings it back. */
const forGood = { after_ms: 36 * hour_ms, below_bar: 0.25 } as const;

const pause_h = { afterRefill: 8 } as const;

/** Streams of chance of their own: one more reading does not change the weather. */
function chancesOf(seed: number) {
  const stream = (index: number): (() => number) => createRandomSource(seed * 7 + index + 1_000_003);
  return {
    climate: stream(0),
    use: stream(1),
    flow: stream(2),
    gauge: stream(3),
    sensors: stream(4),
    eye: stream(5),
    gaps: stream(6),
  };
}

/** Leaks follow the absolute pressure from what they were at their onset. */
function createLeak(): (atOnset: number, pressure_bar: number) => number {
  let onset_bar: number | undefined;
  return (atOnset, pressure_bar) => {
    if (atOnset <= 0) {
      onset_bar = undefined;
      return 0;
    }
    onset_bar ??= pressure_bar;
    return (atOnset * pressure_bar) / onset_bar;
  };
}

function freshVessel(drawn: DrawnCharge, room_degC: number, settled: boolean): SimulatedVessel {
  return createSimulatedVessel({
    filling: drawn.filling,
    pace: drawn.pace,
    air_mol: drawn.air_mol,
    emptyMass_g: 2600,
    start: settled
      ? { kind: "settled", contents_degC: room_degC }
      : drawn.told.closedWith === "ice"
        ? { kind: "closed-with-ice", ice_degC: -12, room_degC }
        : { kind: "closed-with-water", water_degC: room_degC - 3, room_degC },
  });
}

/**
 * Runs a drawn charge through its life: valve, regulator, needle, leaks and people on one side, vessel and room on the
 * other, instruments between them and whoever reads. The same seed and run give the same trace.
 * @param run.step_s of the physics, by default 300; valve edges lie on whole multiples of 5 minutes
 * @param run.reading_s of the recorder, by default 600; one minute with a transducer
 */
export function simulateCharge(drawn: DrawnCharge, run: SimulationRun = {}): SimulatedCharge {
  const step_s = run.step_s ?? 300;
  const step_ms = step_s * 1000;
  const reading_ms = (run.reading_s ?? 600) * 1000;
  const truth_ms = (run.truth_s ?? 3600) * 1000;
  const faults = run.faults ?? [];
  const { told } = drawn;
  const from_epochMs = drawn.traceFrom_epochMs;
  const latest_epochMs =
    run.until_epochMs ?? from_epochMs + Math.round(1.8 * drawn.planned_days + 14) * day_ms;
  const chance = chancesOf(drawn.seed);
  const roomAt = createRoomClimate(drawn.climate, chance.climate);
  const openingAt = createFlowWander(drawn.habits, from_epochMs, chance.flow);
  const spans = plannedOpenSpans(
    {
      windows: told.windows,
      timeZone: told.timeZone,
      from_epochMs: drawn.dosingFrom_epochMs,
      to_epochMs: latest_epochMs,
      habits: drawn.habits,
    },
    chance.use,
  );
  const gaps: readonly RecordingGap[] =
    run.gaps === "none" || drawn.readBy === "eye"
      ? []
      : recordingGaps(from_epochMs, latest_epochMs, chance.gaps);
  const refills = faults.filter((fault) => fault.kind === "refill").map((fault) => fault.onset_epochMs);

  let room_degC = roomAt(from_epochMs);
  let vessel = freshVessel(drawn, room_degC, told.settled);
  const recorder = createSupplyRecorder(
    drawn,
    { from_epochMs, reading_ms, pressureGauge_bar: vessel.pressureGauge_bar },
    chance,
  );
  const vesselLeakNow = createLeak();
  const valveLeakNow = createLeak();
  const available_g = availableCo2_mol(drawn.filling) * molarMass_gPerMol.co2;
  const truth: SupplyTruth[] = [];
  let putIn_mol = drawn.filling.sodiumBicarbonate_mol;
  let airPutIn_mol = vessel.air_mol;
  let lost_mol = drawn.filling.lostBeforeClosing_mol;
  let left_mol = 0;
  let airLeft_mol = 0;
  let delivered_mol = 0;
  let leaked_mol = 0;
  let pausedUntil_epochMs = from_epochMs;
  let lastAbove_epochMs: number | undefined;
  let everAbove = false;
  let spanIndex = 0;
  let gapIndex = 0;
  let refillIndex = 0;

  for (let at_epochMs = from_epochMs; at_epochMs < latest_epochMs; at_epochMs += step_ms) {
    if (at_epochMs >= (refills[refillIndex] ?? Infinity)) {
      refillIndex += 1;
      // The old charge is thrown out; its books are closed with the CO2 and air that went with it.
      left_mol += vessel.carbon_mol;
      airLeft_mol += vessel.air_mol;
      vessel = freshVessel(drawn, room_degC, false);
      putIn_mol += drawn.filling.sodiumBicarbonate_mol;
      lost_mol += drawn.filling.lostBeforeClosing_mol;
      airPutIn_mol += vessel.air_mol;
      pausedUntil_epochMs = at_epochMs + pause_h.afterRefill * hour_ms;
      lastAbove_epochMs = undefined;
    }
    const fault = supplyFaultsAt(faults, at_epochMs);
    while ((spans[spanIndex]?.to_epochMs ?? Infinity) <= at_epochMs) spanIndex += 1;
    while ((gaps[gapIndex]?.to_epochMs ?? Infinity) <= at_epochMs) gapIndex += 1;
    const gap = at_epochMs >= (gaps[gapIndex]?.from_epochMs ?? Infinity) ? gaps[gapIndex] : undefined;
    const inSpan = at_epochMs >= (spans[spanIndex]?.from_epochMs ?? Infinity);
    const open = inSpan && at_epochMs >= pausedUntil_epochMs && gap?.kind !== "all-and-valve-closed";

    const { pressureGauge_bar } = vessel;
    recorder.see({ at_epochMs, vessel, room_degC, valveOpen: open, gap, gaugeStep_bar: fault.gaugeStep_bar });
    const pressure_bar = absoluteFromGauge_bar(pressureGauge_bar);
    const vesselLeak_gPerDay = vesselLeakNow(fault.vesselLeak_gPerDay, pressure_bar);
    const valveLeak_gPerH = valveLeakNow(fault.valveLeak_gPerH, pressure_bar);
    const leak_gPerDay = vesselLeak_gPerDay + (open ? 0 : 24 * valveLeak_gPerH);

    if (pressureGauge_bar >= told.workingPressureGauge_bar) {
      everAbove = true;
      lastAbove_epochMs = at_epochMs;
    } else if (
      run.until_epochMs === undefined &&
      everAbove &&
      lastAbove_epochMs !== undefined &&
      at_epochMs - lastAbove_epochMs > forGood.after_ms &&
      pressureGauge_bar < told.workingPressureGauge_bar - forGood.below_bar
    ) {
      break;
    }

    if ((at_epochMs - from_epochMs) % truth_ms === 0) {
      const now = vessel;
      truth.push({
        at_epochMs,
        pressureGauge_bar,
        contents_degC: vessel.contents_degC,
        room_degC,
        co2Remaining_g: vessel.co2_mol * molarMass_gPerMol.co2,
        leak_gPerDay,
        delivered_g: delivered_mol * molarMass_gPerMol.co2,
        leaked_g: leaked_mol * molarMass_gPerMol.co2,
        reacted_ratio: vessel.reacted_ratio,
        air_mol: vessel.air_mol,
        opening_ratio: openingAt(at_epochMs) * fault.opening_ratio,
        vessel,
        deliverable_g: () => deliverableCo2_mol(now, told.workingPressureGauge_bar) * molarMass_gPerMol.co2,
      });
    }

    const outletGauge_bar = regulatorOutletGauge_bar(drawn.regulator, pressureGauge_bar);
    const flow_molPerH = needleFlow_molPerH({
      conductance_molPerHBar: drawn.needle_molPerHBar * openingAt(at_epochMs) * fault.opening_ratio,
      inletGauge_bar: outletGauge_bar,
      outletGauge_bar: drawn.diffuserGauge_bar,
    });
    const throughValve_mol =
      ((open ? flow_molPerH : valveLeak_gPerH / molarMass_gPerMol.co2) * step_s) / 3600;
    const outOfVessel_mol = (vesselLeak_gPerDay / molarMass_gPerMol.co2) * (step_s / 86_400);
    const withdrawn_mol = throughValve_mol + outOfVessel_mol;
    room_degC = roomAt(at_epochMs + step_ms);
    const next = vessel.advance({ duration_s: step_s, room_degC, withdrawn_mol });
    ({ vessel } = next);
    left_mol += next.left.co2_mol;
    airLeft_mol += next.left.air_mol;
    if (withdrawn_mol > 0) {
      const leakShare = outOfVessel_mol / withdrawn_mol;
      leaked_mol += next.left.co2_mol * leakShare;
      delivered_mol += next.left.co2_mol * (1 - leakShare);
    }
  }
  const last_epochMs = truth.at(-1)?.at_epochMs ?? from_epochMs;
  const endedBelow = lastAbove_epochMs !== undefined && lastAbove_epochMs < last_epochMs - hour_ms;
  return {
    drawn,
    faults,
    readings: recorder.readings,
    truth,
    available_g,
    runOut_epochMs: endedBelow && lastAbove_epochMs !== undefined ? lastAbove_epochMs + step_ms : undefined,
    end: {
      carbon_mol: vessel.carbon_mol,
      left_mol,
      lostBeforeClosing_mol: lost_mol,
      putIn_mol,
      air_mol: vessel.air_mol,
      airLeft_mol,
      airPutIn_mol,
    },
  };
}
