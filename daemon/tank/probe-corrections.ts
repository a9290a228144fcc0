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
   * The lowest pH that the probe would show by any correction of the last day, or without the calibrations from afar that nobody
   * has confirmed at the daemon's own machine, where that is lower by more than a little; undefined where it is not.
   * @param isWitnessed  a colour that was entered at the daemon's own machine bears those from afar out
   */
  phBefore(
    sensor: SensorModel | undefined,
    pH: number,
    now_epochMs: number,
    isWitnessed?: boolean,
  ): DoubtedPh | undefined;
  /** The pH without the calibrations from afar that nobody has confirmed here, where that is lower by more than a little. */
  phWithoutRemote(sensor: SensorModel | undefined, pH: number, now_epochMs: number): number | undefined;
  /** Another text as soon as another calibration counts. */
  keyOf(sensorId: string): string;
}

export interface DoubtedPh {
  readonly pH: number;
  readonly because: "changed within a day" | "entered from afar";
}

interface Known {
  readonly key: string;
  readonly record: ProbeRecord;
}

/** A calibration that was entered, or withdrawn, wrongly is found out within a day or so: the fish are looked at. Judgement. */
const doubted_ms = 24 * 3_600_000;
/** A probe that is calibrated in time has wandered less. Judgement. */
const doubtedRaisePh = 0.2;
/** A clock that is set back by a little makes no entry one of tomorrow. */
const ahead_ms = 3_600_000;

/**
 * A calibration that a person enters takes the place of the config's correction of that probe, from then on: what was read in
 * the buffers is what the topic showed, without any correction.
 */
export function createProbeCorrections(
  journal: Pick<JournalView, "entriesOf" | "withdrawnOf">,
): ProbeCorrections {
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
    phWithoutRemote: (sensor, pH, now_epochMs) =>
      lowestOf(sensor, pH, now_epochMs, ({ because }) => because === "entered from afar")?.pH,
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

  function phBefore(
    sensor: SensorModel | undefined,
    pH: number,
    now_epochMs: number,
    isWitnessed = false,
  ): DoubtedPh | undefined {
    const counts = ({ because }: Pick<DoubtedPh, "because">): boolean =>
      !isWitnessed || because !== "entered from afar";
    return lowestOf(sensor, pH, now_epochMs, counts);
  }

  function lowestOf(
    sensor: SensorModel | undefined,
    pH: number,
    now_epochMs: number,
    counts: (doubt: Pick<DoubtedPh, "because">) => boolean,
  ): DoubtedPh | undefined {
    if (sensor === undefined) return undefined;
    const { sensorId, calibration: config } = sensor.rules;
    const { record } = knownOf(sensorId);
    const after = journalCorrection(record, config) ?? config;
    const shown = (pH - after.offset) / after.gain;
    const lowest = recordsBefore(sensorId, now_epochMs)
      .filter(counts)
      .map(({ record: before, because }) => ({
        because,
        pH: calibrated(shown, journalCorrection(before, config) ?? config),
      }))
      .sort((a, b) => a.pH - b.pH)[0];
    return lowest !== undefined && pH - lowest.pH > doubtedRaisePh ? lowest : undefined;
  }

  /** What stood before each change of the last day, be it an entry or a withdrawal; and what stands without those from afar. */
  function recordsBefore(
    sensorId: string,
    now_epochMs: number,
  ): readonly { readonly record: ProbeRecord; readonly because: DoubtedPh["because"] }[] {
    const isNew = (changed_epochMs: number): boolean =>
      now_epochMs - changed_epochMs < doubted_ms && changed_epochMs - now_epochMs < ahead_ms;
    const standing = journal.entriesOf("calibration", sensorId, Number.NEGATIVE_INFINITY);
    const withdrawn = journal.withdrawnOf?.("calibration", sensorId, now_epochMs - doubted_ms) ?? [];
    const changes_epochMs = [
      ...[...standing, ...withdrawn].map(({ enteredAt_epochMs }) => enteredAt_epochMs),
      ...withdrawn.map(({ withdrawnAt_epochMs = 0 }) => withdrawnAt_epochMs),
    ].filter(isNew);
    const before = changes_epochMs.map((changed_epochMs) => ({
      because: "changed within a day" as const,
      record: probeRecord(
        [...standing, ...withdrawn]
          .filter(
            ({ enteredAt_epochMs, withdrawnAt_epochMs = Infinity }) =>
              enteredAt_epochMs < changed_epochMs && withdrawnAt_epochMs >= changed_epochMs,
          )
          .sort((a, b) => a.at_epochMs - b.at_epochMs || a.entryId - b.entryId),
      ),
    }));
    if (standing.at(-1)?.source !== "remote") return before;
    const here = standing.filter(({ source }) => source === "local");
    return [...before, { because: "entered from afar", record: probeRecord(here) }];
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
