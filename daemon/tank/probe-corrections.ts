import type { JournalView } from "../../lib/journal/journal-entry.js";
import { calibrated } from "../../lib/readings/calibration.js";
import { journalCorrection, probeRecord, type ProbeRecord } from "../../lib/tank/probe-record.js";
import type { SensorModel } from "../site-model.js";

/** The calibrations of every pH probe in the journal, and the sensors corrected by them. */
export interface ProbeCorrections {
  /** The config's sensors, each pH sensor by its last calibration in the journal; the same object while nothing changed. */
  sensorsOf(sensors: ReadonlyMap<string, SensorModel>): ReadonlyMap<string, SensorModel>;
  recordOf(sensorId: string): ProbeRecord;
  /**
   * What the probe would show by its correction before the calibrations of the last day, where they raise its pH by more than a
   * little; undefined where they do not.
   */
  phBefore(sensor: SensorModel | undefined, pH: number, now_epochMs: number): number | undefined;
  /** Another text as soon as another calibration counts. */
  keyOf(sensorId: string): string;
}

interface Known {
  readonly key: string;
  readonly record: ProbeRecord;
}

/** A calibration that was entered wrong is found out within a day or so: the fish are looked at. Judgement. */
const doubted_ms = 24 * 3_600_000;
/** A probe that is calibrated in time has wandered less. Judgement. */
const doubtedRaisePh = 0.2;
/** A clock that is set back by a little makes no entry one of tomorrow. */
const ahead_ms = 3_600_000;

/**
 * A calibration that a person enters takes the place of the config's correction of that probe, from then on: what was read in
 * the buffers is what the topic showed, without any correction.
 */
export function createProbeCorrections(journal: Pick<JournalView, "entriesOf">): ProbeCorrections {
  const known = new Map<string, Known>();
  let last:
    | {
        readonly from: ReadonlyMap<string, SensorModel>;
        readonly keys: string;
        readonly corrected: ReadonlyMap<string, SensorModel>;
      }
    | undefined;

  return {
    sensorsOf,
    phBefore,
    recordOf: (sensorId) => knownOf(sensorId).record,
    keyOf: (sensorId) => knownOf(sensorId).key,
  };

  function knownOf(sensorId: string): Known {
    const entries = journal.entriesOf("calibration", sensorId, Number.NEGATIVE_INFINITY);
    const key = entries.map(({ entryId }) => entryId).join(",");
    const before = known.get(sensorId);
    if (before?.key === key) return before;
    const found = { key, record: probeRecord(entries) };
    known.set(sensorId, found);
    return found;
  }

  function phBefore(sensor: SensorModel | undefined, pH: number, now_epochMs: number): number | undefined {
    if (sensor === undefined) return undefined;
    const { sensorId, calibration: config } = sensor.rules;
    const entries = journal.entriesOf("calibration", sensorId, Number.NEGATIVE_INFINITY);
    const isNew = ({ enteredAt_epochMs }: { readonly enteredAt_epochMs: number }): boolean =>
      now_epochMs - enteredAt_epochMs < doubted_ms && enteredAt_epochMs - now_epochMs < ahead_ms;
    if (!entries.some(isNew)) return undefined;
    const earlier = probeRecord(entries.filter((entry) => !isNew(entry)));
    const before = journalCorrection(earlier, config) ?? config;
    const after = journalCorrection(knownOf(sensorId).record, config) ?? config;
    const pHBefore = calibrated((pH - after.offset) / after.gain, before);
    return pH - pHBefore > doubtedRaisePh ? pHBefore : undefined;
  }

  function sensorsOf(sensors: ReadonlyMap<string, SensorModel>): ReadonlyMap<string, SensorModel> {
    const probes = [...sensors].filter(([, { rules }]) => rules.quantity === "pH");
    const keys = probes.map(([sensorId]) => knownOf(sensorId).key).join("|");
    if (last?.from === sensors && last.keys === keys) return last.corrected;
    const corrected = new Map(sensors);
    for (const [sensorId, model] of probes) {
      const calibration = journalCorrection(knownOf(sensorId).record, model.rules.calibration);
      if (calibration === undefined) continue;
      corrected.set(sensorId, { ...model, rules: { ...model.rules, calibration } });
    }
    last = { from: sensors, keys, corrected };
    return corrected;
  }
}
