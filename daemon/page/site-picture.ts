import { toldRunOut } from "../../lib/estimation/run-out.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import { normalQuantile95 } from "../../lib/numerics/normal-distribution.js";
import type { DosingWindow } from "../../lib/schedule/dosing-windows.js";
import type { PressurisingVerdict } from "../../lib/supply-watch/pressurising-verdict.js";
import { gasDay } from "../../lib/tank/gas-day.js";
import { directionOf } from "../../lib/tank/rate-of-rise.js";
import type { UpkeepItem } from "../../lib/upkeep/upkeep-items.js";
import { alarmDocuments } from "../alarms/alarm-document.js";
import type { SensorView } from "../sensor-inbox.js";
import type { SiteModel } from "../site-model.js";
import type { SiteStatus } from "../site-status.js";
import { nextEvents } from "./next-events.js";
import { expectedGauge_bar, supplyLeft } from "./supply-left.js";
import type {
  SensorPicture,
  SitePicture,
  TankPicture,
  ValvePicture,
  VesselPicture,
} from "./page-contract.js";
import { tripPictures } from "./trip-pictures.js";

export interface PictureSource {
  readonly version: string;
  readonly model: () => SiteModel;
  readonly status: () => SiteStatus | undefined;
  readonly upkeep: () => readonly UpkeepItem[];
  readonly journal: Pick<JournalView, "latest">;
  readonly now_epochMs: () => number;
}

const day_ms = 86_400_000;

/** Everything that the page shows of this instant; undefined before the first control pass. */
export function sitePicture(source: PictureSource): SitePicture | undefined {
  const status = source.status();
  if (status === undefined) return undefined;
  const model = source.model();
  const now_epochMs = source.now_epochMs();
  const sensor = sensorPictures(status.sensors);
  const around = { from_epochMs: now_epochMs - day_ms, to_epochMs: now_epochMs + 2 * day_ms };
  const windows = (calendar: {
    windowsBetween(from_epochMs: number, to_epochMs: number): readonly DosingWindow[];
  }): readonly DosingWindow[] => calendar.windowsBetween(around.from_epochMs, around.to_epochMs);

  const vessels = [...model.vessels].map(([vesselId, vessel]): VesselPicture => {
    const isMine = (of: { readonly vesselId: string }): boolean => of.vesselId === vesselId;
    const supply = status.supplies.find(isMine);
    const estimate = supply?.told?.estimate;
    const pressureGauge_bar = sensor(vessel.pressureSensor);
    return {
      vesselId,
      kind: vessel.kind,
      volume_L: vessel.volume_L,
      workingPressureGauge_bar: vessel.workingPressureGauge_bar,
      ratedPressureGauge_bar: vessel.ratedPressureGauge_bar,
      reliefOpeningGauge_bar: vessel.reliefOpeningGauge_bar,
      pressureGauge_bar,
      temperature_degC: sensor(vessel.temperatureSensor),
      vesselMass_g: sensor(vessel.massSensor),
      outletPressureGauge_bar: sensor(vessel.outletPressureSensor),
      supply,
      runOut: estimate === undefined ? undefined : toldRunOut(estimate.runOut, estimate.at_epochMs),
      restsAt: restOf(supply?.told?.pressurising),
      left: supplyLeft(estimate),
      expectedGauge_bar: expectedGauge_bar(supply?.told) ?? pressureGauge_bar?.value,
      readByEye: readByEye(source.journal, vesselId, supply?.charge?.closedAt_epochMs),
      end: status.ends.find(isMine),
      leakTest: status.leakTests.find(({ test }) => isMine(test)),
      endedCharge: status.endedCharges.find(isMine)?.report,
    };
  });
  const valves = status.valves.flatMap((valve): readonly ValvePicture[] => {
    const known = model.valves.get(valve.valveId);
    return known === undefined
      ? []
      : [
          {
            valveId: valve.valveId,
            decision: valve.decision,
            reported: valve.reported,
            window: valve.window,
            override: valve.override,
            holds: valve.holds,
            vesselId: known.vesselId,
            tankIds: known.rules.tankIds,
            windows: windows(known.calendar),
          },
        ];
  });
  const tanks = status.tanks.flatMap((tank): readonly TankPicture[] => {
    const known = model.tanks.get(tank.tankId);
    const learnt = status.learnt.find(({ tankId }) => tankId === tank.tankId);
    return known === undefined
      ? []
      : [
          {
            ...tank,
            volume_L: known.volume_L,
            limits: known.limits,
            pHReading: sensor(known.phSensorId),
            temperatureReading: sensor(known.temperatureSensorId),
            learnt,
            direction: tank.rise === undefined ? undefined : directionOf(tank.rise),
            lights: windows(known.lights),
            gasDay:
              learnt === undefined
                ? undefined
                : gasDay({
                    now_epochMs,
                    windows: valves.find(({ tankIds }) => tankIds.includes(tank.tankId))?.windows ?? [],
                    lights: windows(known.lights),
                    lead: learnt.lead,
                    fall: learnt.fall ?? { kind: "not known", because: "its nights are being looked at" },
                  }),
          },
        ];
  });
  return {
    site: { siteId: model.siteId, timeZone: model.timeZone, version: source.version },
    now_epochMs,
    passed_epochMs: status.at_epochMs,
    clock: status.clock,
    vessels,
    valves,
    tanks,
    alarms: alarmPictures(status.alarms),
    trips: tripPictures(status.trips, status.standing),
    holds: status.holds,
    upkeep: source.upkeep(),
    next: nextEvents(status),
  };
}

function alarmPictures(alarms: SiteStatus["alarms"]): SitePicture["alarms"] {
  const causes = new Map(alarms.map(({ condition }) => [condition.alarmId, condition.causeSaid]));
  return alarmDocuments(alarms).map((alarm) => {
    const causeSaid = causes.get(alarm.id);
    return causeSaid === undefined ? alarm : { ...alarm, causeSaid };
  });
}

function readByEye(
  journal: PictureSource["journal"],
  vesselId: string,
  closed_epochMs: number | undefined,
): VesselPicture["readByEye"] {
  const entry = journal.latest("gauge reading", vesselId);
  // What was read before belongs to another charge.
  if (entry === undefined || entry.at_epochMs < (closed_epochMs ?? 0)) return undefined;
  const { pressureGauge_bar, asRead } = entry.fact;
  return { at_epochMs: entry.at_epochMs, pressureGauge_bar, asRead };
}

function restOf(pressurising: PressurisingVerdict | undefined): VesselPicture["restsAt"] {
  if (pressurising === undefined) return undefined;
  const { value, deviation } = pressurising.warmGauge;
  const away_bar = normalQuantile95 * deviation;
  return { value_bar: value, low95_bar: Math.max(0, value - away_bar), high95_bar: value + away_bar };
}

function sensorPictures(
  views: readonly SensorView[],
): (sensorId: string | undefined) => SensorPicture | undefined {
  const byId = new Map(views.map((view) => [view.sensorId, view]));
  return (sensorId) => {
    const view = sensorId === undefined ? undefined : byId.get(sensorId);
    if (view?.lastAccepted === undefined || view.freshness.kind === "never") return undefined;
    const { value, at_epochMs } = view.lastAccepted;
    return { sensorId: view.sensorId, value, at_epochMs, isFresh: view.freshness.kind === "fresh" };
  };
}
