import { reportedState, type ValveMemory } from "../../lib/control/control-step.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import {
  bubbleSign,
  doseSign,
  outletSign,
  type DoseSeen,
  type SurgeSign,
} from "../../lib/supply-watch/surge-verdict.js";
import type { LearntTank } from "../../lib/tank/learnt-tank.js";
import type { SensorView } from "../sensor-inbox.js";
import type { SiteModel } from "../site-model.js";
import { transducer_bar } from "./charge-in-use.js";
import type { SupplyMemory } from "./supply-memory.js";

export type LearntDose = Pick<LearntTank, "dose"> & { readonly tankId: string };

interface Seen {
  readonly now_epochMs: number;
  readonly model: SiteModel;
  readonly sensors: readonly SensorView[];
  readonly memories: ReadonlyMap<string, ValveMemory>;
  readonly learnt?: readonly LearntDose[];
}

/** Two months of mornings; a charge seldom lasts longer. */
const mostDoses = 120;

/** The doses of a charge with those that were learnt since. */
export function withDoses(
  doses: readonly DoseSeen[],
  vesselId: string,
  { model, learnt = [] }: Seen,
): readonly DoseSeen[] {
  const fed = [...model.valves.values()]
    .filter((valve) => valve.vesselId === vesselId)
    .flatMap(({ rules }) => rules.tankIds);
  const fresh = learnt.flatMap(({ tankId, dose }): readonly DoseSeen[] =>
    dose === undefined ||
    !fed.includes(tankId) ||
    doses.some((known) => known.tankId === tankId && known.at_epochMs >= dose.at_epochMs)
      ? []
      : [
          {
            tankId,
            at_epochMs: dose.at_epochMs,
            dose_mgPerLPerH: dose.dose_mgPerLPerH,
            doseLow80_mgPerLPerH: dose.doseLow80_mgPerLPerH,
            doseHigh80_mgPerLPerH: dose.doseHigh80_mgPerLPerH,
          },
        ],
  );
  return fresh.length === 0 ? doses : [...doses, ...fresh].slice(-mostDoses);
}

/** Everything behind the regulator that tells how much more flows than was set. */
export function surgeSigns(
  vesselId: string,
  { closedAt_epochMs, doses }: Pick<SupplyMemory, "closedAt_epochMs" | "doses">,
  { now_epochMs, model, sensors, memories }: Seen,
  journal: Pick<JournalView, "latest" | "entriesOf">,
): readonly SurgeSign[] {
  const vessel = model.vessels.get(vesselId);
  if (vessel === undefined) return [];
  const set = journal.latest("regulator set", vesselId);
  const since_epochMs = Math.max(closedAt_epochMs, set?.at_epochMs ?? closedAt_epochMs);
  const valves = [...model.valves.values()].filter((valve) => valve.vesselId === vesselId);
  const byBubbles = valves.map(({ rules }) =>
    bubbleSign(
      journal
        .entriesOf("bubble count", rules.valveId, since_epochMs)
        .filter(({ at_epochMs }) => at_epochMs <= now_epochMs)
        .map(({ at_epochMs, fact }) => ({ at_epochMs, value: fact.bubbles_perMin })),
    ),
  );
  const sensorId = vessel.outletPressureSensor;
  const outlet = sensors.find((view) => view.sensorId === sensorId);
  const flows = valves.some(({ rules }) => {
    const memory = memories.get(rules.valveId);
    return memory !== undefined && reportedState(rules, memory) === "open";
  });
  // Behind a closed valve a regulator creeps up to where it locks, which says nothing of the flow.
  const byOutlet =
    sensorId === undefined ||
    !flows ||
    outlet?.freshness.kind !== "fresh" ||
    outlet.lastAccepted === undefined
      ? undefined
      : outletSign({
          at_epochMs: outlet.lastAccepted.at_epochMs,
          gauge_bar: outlet.lastAccepted.value,
          setGauge_bar: set?.fact.outletGauge_bar ?? vessel.workingPressureGauge_bar,
          accuracy_bar: model.sensors.get(sensorId)?.rules.accuracy ?? transducer_bar,
        });
  const tankIds = [...new Set(doses.map(({ tankId }) => tankId))];
  const byTanks = tankIds.map((tankId) => {
    const from_epochMs = Math.max(since_epochMs, sameScaleSince_epochMs(tankId, model, journal));
    return doseSign(doses.filter((dose) => dose.tankId === tankId && dose.at_epochMs >= from_epochMs));
  });
  return [byOutlet, ...byBubbles, ...byTanks].filter((sign) => sign !== undefined);
}

/**
 * Since when a tank's CO2 has been read on one scale: another calibration of its probe, or another hardness, moves every dose that is
 * learnt from then on, though not a bubble more flows.
 */
function sameScaleSince_epochMs(
  tankId: string,
  { tanks }: Pick<SiteModel, "tanks">,
  journal: Pick<JournalView, "latest">,
): number {
  const phSensorId = tanks.get(tankId)?.phSensorId;
  return Math.max(
    ...[
      phSensorId === undefined ? undefined : journal.latest("calibration", phSensorId),
      journal.latest("kh test", tankId),
      journal.latest("degassed pH", tankId),
    ].map((entry) => entry?.at_epochMs ?? Number.NEGATIVE_INFINITY),
  );
}
