import { holdInWords } from "../lib/control/hold.js";
import { blockInWords } from "../lib/control/interlock.js";
import { unitLabels } from "../lib/readings/sensor-unit.js";
import type { MeasuredQuantity, Reading } from "../lib/readings/reading.js";
import { wallClockAt } from "../lib/schedule/civil-time.js";
import { alarmLine, byUrgency, isOfNow } from "./alarms/alarm-text.js";
import { batteryText } from "./battery-alarms.js";
import { leakTestLines } from "./leak-tests/leak-test-text.js";
import { learntLines } from "./tank/learnt-text.js";
import { refusedSince, type SensorView } from "./sensor-inbox.js";
import type { SiteModel } from "./site-model.js";
import type { SiteStatus, ValveStatus } from "./site-status.js";
import type { TankEstimate } from "./tank/estimated-tank.js";
import { supplyLines } from "./supply/supply-text.js";
import { bandText, tankDetailLines } from "./tank/tank-text.js";

/** What a running daemon believes and does, for a person at its terminal: plain lines in the site's local time. */
export function statusLines(status: SiteStatus, model: SiteModel): readonly string[] {
  const sensorOf = (id: string | undefined): SensorView | undefined =>
    status.sensors.find((view) => view.sensorId === id);
  const local = (at_epochMs: number): string => localTime(at_epochMs, status.at_epochMs, model.timeZone);
  const { date, timeOfDay } = wallClockAt(status.at_epochMs, model.timeZone);
  const alarms = byUrgency(status.alarms.filter(isOfNow));
  return [
    `${model.siteId}, ${date} ${timeOfDay} (${model.timeZone})`,
    ...(status.clock.kind === "plausible" ? [] : [`the clock is not plausible: ${status.clock.reason}`]),
    ...status.valves.flatMap((valve) => valveLines(valve, local)),
    ...status.trips.map(
      ({ subject, cause, reason, at_epochMs }) =>
        `tripped  ${subject.kind} ${subject.id}: ${cause} (then: ${reason}), since ${local(at_epochMs)}; re-arm with: rearm ${subject.kind} ${subject.id}`,
    ),
    ...status.holds.map((hold) => {
      const { kind, subject, since_epochMs } = hold;
      const end =
        kind === "maintenance lock"
          ? `; lift with: maintenance end ${subject.kind} ${subject.id}`
          : `; ends with the recorded charge, or: refill end ${subject.id}`;
      return `held     ${holdInWords(hold)}, since ${local(since_epochMs)}${end}`;
    }),
    ...status.tanks.flatMap((tank) => [
      tankLine(tank, model, sensorOf),
      ...tankDetailLines(tank, local),
      ...learntLines(
        status.learnt.find(({ tankId }) => tankId === tank.tankId),
        local,
        status.at_epochMs,
      ),
    ]),
    ...[...model.vessels].flatMap(([vesselId, vessel]) => {
      const shown = [
        vessel.pressureSensor,
        vessel.temperatureSensor,
        vessel.massSensor,
        vessel.outletPressureSensor,
      ].filter((id) => id !== undefined);
      const values = shown.map((id) => valueOf(sensorOf(id)));
      return [
        `vessel ${vesselId}  ${values.length === 0 ? "no sensor; its gauge is read by eye" : values.join(", ")}`,
        ...supplyLines(
          status.supplies.find((supply) => supply.vesselId === vesselId),
          { now_epochMs: status.at_epochMs, timeZone: model.timeZone },
        ),
        ...status.leakTests
          .filter(({ test }) => test.vesselId === vesselId)
          .flatMap((view) =>
            leakTestLines(view, { now_epochMs: status.at_epochMs, timeZone: model.timeZone }).slice(
              0,
              view.isRunning ? undefined : 1,
            ),
          )
          .map((line) => `  ${line}`),
      ];
    }),
    ...status.sensors.map(sensorLine),
    ...(alarms.length === 0 ? ["no alarm"] : []),
    ...alarms.map((alarm) => alarmLine(alarm, local)),
  ];
}

function valveLines(valve: ValveStatus, local: (at_epochMs: number) => string): readonly string[] {
  const { valveId, decision, reported, window, override } = valve;
  const [first, ...others] = decision.blocks;
  const isForbidden = decision.action === "closed" && decision.wish.action === "open" && first !== undefined;
  const edge =
    window.kind === "open"
      ? `dosing window until ${local(window.closes_epochMs)}`
      : `dosing window ${window.opens_epochMs === undefined ? "not in the days ahead" : `from ${local(window.opens_epochMs)}`}`;
  return [
    `valve ${valveId}  reports ${reported}, is told ${decision.action}: ${decision.reason}`,
    ...(isForbidden && others.length > 0 ? [`  and then: ${others.map(blockInWords).join("; ")}`] : []),
    `  ${edge}`,
    ...(override === undefined
      ? []
      : [`  set ${override.action} by hand until ${local(override.until_epochMs)}`]),
  ];
}

function tankLine(
  tankEstimate: TankEstimate,
  model: SiteModel,
  sensorOf: (id: string | undefined) => SensorView | undefined,
): string {
  const { tankId, co2, hardness } = tankEstimate;
  const tank = model.tanks.get(tankId);
  const parts = [
    co2 === undefined
      ? "CO2 not known"
      : `CO2 ${digits(co2.co2_mgPerL)} mg/L (80 %: ${digits(co2.co2Low80_mgPerL)} to ${digits(co2.co2High80_mgPerL)}), ${bandText(tankEstimate)}`,
    ...[tank?.phSensorId, tank?.temperatureSensorId]
      .filter((id) => id !== undefined)
      .map((id) => valueOf(sensorOf(id))),
    `KH ${hardness.kh_dKH} dKH by ${hardness.from === "config" ? "the config" : "the last KH test"}`,
  ];
  return `tank ${tankId}  ${parts.join(", ")}`;
}

function sensorLine(view: SensorView): string {
  const last = view.freshness.kind === "fresh" ? undefined : refusedSince(view);
  const refused = last === undefined ? "" : `; last refused: ${last.reason}, ${last.detail}`;
  const { battery } = view;
  const charge =
    battery === undefined ? "" : `, battery ${batteryText(battery)}${battery.isLow ? ", which is low" : ""}`;
  return `sensor ${view.sensorId}  ${valueOf(view)}${charge}${refused}`;
}

const places: Readonly<Record<MeasuredQuantity, number>> = {
  pH: 2,
  temperature_degC: 1,
  pressureGauge_bar: 2,
  mass_g: 0,
  co2InAir_ppm: 0,
  bubbleRate_perMin: 0,
};

/** "pH 6.80 (12 s old)" */
function valueOf(view: SensorView | undefined): string {
  if (view?.lastAccepted === undefined || view.freshness.kind === "never") return "no value yet";
  const text = readingText(view.lastAccepted);
  const age = ageText(view.freshness.age_s);
  return view.freshness.kind === "fresh"
    ? `${text} (${age} old)`
    : `${text} (${age} old, no longer believed)`;
}

export function readingText({ quantity, value }: Pick<Reading, "quantity" | "value">): string {
  const shown = value.toFixed(places[quantity]);
  return quantity === "pH" ? `pH ${shown}` : `${shown} ${unitLabels[quantity]}`;
}

/** An age in the largest unit of which there are at least two. */
export function ageText(age_s: number): string {
  if (age_s < 120) return `${Math.floor(age_s)} s`;
  if (age_s < 7200) return `${Math.floor(age_s / 60)} min`;
  return age_s < 172_800 ? `${Math.floor(age_s / 3600)} h` : `${Math.floor(age_s / 86_400)} days`;
}

/** The time of day, with its date on another day than now. */
function localTime(at_epochMs: number, now_epochMs: number, timeZone: string): string {
  const { date, timeOfDay } = wallClockAt(at_epochMs, timeZone);
  const time = timeOfDay.slice(0, 5);
  return date === wallClockAt(now_epochMs, timeZone).date ? time : `${date} ${time}`;
}

function digits(value: number): string {
  return String(Number(value.toPrecision(2)));
}
