import type { JournalView } from "../../lib/journal/journal-entry.js";
import { fitBegins_h, fittedCo2_mgPerL } from "../../lib/tank/night-fit.js";
import type { LearntNight } from "../../lib/tank/tank-learning-state.js";
import type { ReadingSummary, SiteEvent, SiteStore } from "../ports/site-store.js";
import type { SiteModel } from "../site-model.js";
import type { FollowedSupply } from "../supply/branch-outlook.js";
import { assumedTemperature } from "../tank/estimated-tank.js";
import type { JobQueue } from "./job-queue.js";
import type { NightPicture, SpanOfTime, TankHistory, VesselHistory } from "./page-contract.js";
import type { PageJob, PageResult } from "./page-job.js";
import { eventsAbout, openSpansOf } from "./past-events.js";
import { knowledgeOver } from "./tank-knowledge.js";
import { thinnedSeries } from "./thinned-series.js";

export interface HistorySource {
  readonly store: Pick<SiteStore, "readings" | "events">;
  readonly journal: JournalView;
  readonly model: () => SiteModel;
  readonly now_epochMs: () => number;
  readonly followedSupply: (vesselId: string) => FollowedSupply | undefined;
  readonly tankNights: (tankId: string) => readonly LearntNight[];
  readonly jobs: JobQueue<PageJob, PageResult>;
}

/** A span that was asked for; what is left out is the usual one. */
export interface AskedSpan {
  readonly from_epochMs: number | undefined;
  readonly until_epochMs: number | undefined;
}

const hour_ms = 3_600_000;
const day_ms = 24 * hour_ms;
/** A valve that was open where the span begins was told so before. */
const before_ms = 2 * day_ms;
const mostEvents = 5000;
const fanPoints = 60;
/** Of a charge that nobody knows. */
const usualSpan_days = 28;
const tankSpan_days = 2;
/** Windows and lights are worked out between two control passes, day by day: a longer span would delay the next pass. */
const longestSpan_days = 366;
/** Each point is worked out by every method. */
const mostTankPoints = 700;
const curvePoints = 24;

/** @returns undefined where there is no such vessel */
export async function vesselHistory(
  source: HistorySource,
  vesselId: string,
  asked: AskedSpan,
): Promise<VesselHistory | undefined> {
  const model = source.model();
  const vessel = model.vessels.get(vesselId);
  if (vessel === undefined) return undefined;
  const now_epochMs = source.now_epochMs();
  const followed = source.followedSupply(vesselId);
  const span = spanOf(
    asked,
    followed?.charge.closedAt_epochMs ?? now_epochMs - usualSpan_days * day_ms,
    now_epochMs,
  );
  const valves = [...model.valves].filter(([, valve]) => valve.vesselId === vesselId);
  const valveIds = valves.map(([valveId]) => valveId);
  const [pressures, temperatures, events] = await Promise.all([
    readingsOf(source, vessel.pressureSensor, span),
    readingsOf(source, vessel.temperatureSensor, span),
    eventsOf(source, span),
  ]);
  const pressureGauge_bar = thinnedSeries(pressures, "pressureGauge_bar");
  const temperature_degC = thinnedSeries(temperatures, "temperature_degC");
  const fanInstants_epochMs =
    followed === undefined || span.until_epochMs < now_epochMs ? [] : fanInstants(followed, now_epochMs);
  const result =
    followed === undefined
      ? undefined
      : await source.jobs.ask({
          kind: "vessel",
          charge: followed.charge,
          state: followed.state,
          valves: followed.valves,
          pressureGauge_bar: sinceClosing(pressureGauge_bar, followed.charge.closedAt_epochMs),
          temperature_degC,
          fanInstants_epochMs,
        });
  const forecast = result?.kind === "vessel" ? result : undefined;
  return {
    ...span,
    pressureGauge_bar,
    temperature_degC,
    corrected: forecast?.corrected,
    fan: forecast?.fan,
    readByEye: source.journal
      .entriesOf("gauge reading", vesselId, span.from_epochMs)
      .filter(({ at_epochMs }) => at_epochMs <= span.until_epochMs)
      .map(({ at_epochMs, fact }) => ({ at_epochMs, pressureGauge_bar: fact.pressureGauge_bar })),
    open: openSpansOf(events, valveIds, span),
    windows: valves.flatMap(([, { calendar }]) =>
      calendar.windowsBetween(
        span.from_epochMs,
        Math.max(span.until_epochMs, fanInstants_epochMs.at(-1) ?? 0),
      ),
    ),
    events: eventsAbout(events, [vesselId, ...valveIds], span),
  };
}

/** @returns undefined where there is no such tank */
export async function tankHistory(
  source: HistorySource,
  tankId: string,
  asked: AskedSpan,
): Promise<TankHistory | undefined> {
  const model = source.model();
  const tank = model.tanks.get(tankId);
  if (tank === undefined) return undefined;
  const now_epochMs = source.now_epochMs();
  const span = spanOf(asked, now_epochMs - tankSpan_days * day_ms, now_epochMs);
  const valveIds = [...model.valves]
    .filter(([, { rules }]) => rules.tankIds.includes(tankId))
    .map(([valveId]) => valveId);
  const [phs, temperatures, events] = await Promise.all([
    readingsOf(source, tank.phSensorId, span),
    readingsOf(source, tank.temperatureSensorId, span),
    eventsOf(source, span),
  ]);
  const pH = thinnedSeries(phs, "pH", mostTankPoints);
  const temperature_degC = thinnedSeries(temperatures, "temperature_degC", mostTankPoints);
  const nights = source
    .tankNights(tankId)
    .filter((night) => night.until_epochMs > span.from_epochMs && night.from_epochMs < span.until_epochMs);
  const result = await source.jobs.ask({
    kind: "tank",
    pH,
    temperature_degC,
    knowledge: knowledgeOver(tank, model, source.journal, span),
    assumed: assumedTemperature,
    nights: nights.map(({ from_epochMs, until_epochMs, kh_dKH }) => ({
      from_epochMs,
      until_epochMs,
      water: { kh_dKH, salts: tank.salts },
    })),
  });
  if (result.kind !== "tank") throw new TypeError("the answer is of another kind than the question");
  return {
    ...span,
    pH,
    temperature_degC,
    co2: result.co2,
    nights: nights.map((night, k) => nightPicture(night, result.nights[k] ?? [])),
    open: openSpansOf(events, valveIds, span),
    lights: tank.lights.windowsBetween(span.from_epochMs, span.until_epochMs),
    events: eventsAbout(events, [tankId, ...valveIds], span),
  };
}

function spanOf(
  { from_epochMs, until_epochMs }: AskedSpan,
  usualFrom_epochMs: number,
  now_epochMs: number,
): SpanOfTime {
  const until = Math.min(until_epochMs ?? now_epochMs, now_epochMs);
  const from = Math.min(from_epochMs ?? usualFrom_epochMs, until - hour_ms);
  return { from_epochMs: Math.max(from, until - longestSpan_days * day_ms), until_epochMs: until };
}

function readingsOf(
  { store }: HistorySource,
  sensorId: string | undefined,
  { from_epochMs, until_epochMs }: SpanOfTime,
): Promise<readonly ReadingSummary[]> {
  return sensorId === undefined
    ? Promise.resolve([])
    : store.readings({ sensorId, from_epochMs, to_epochMs: until_epochMs });
}

function eventsOf(
  { store }: HistorySource,
  { from_epochMs, until_epochMs }: SpanOfTime,
): Promise<readonly SiteEvent[]> {
  return store.events({
    from_epochMs: from_epochMs - before_ms,
    to_epochMs: until_epochMs,
    limit: mostEvents,
  });
}

/** What was read before belongs to another charge. */
function sinceClosing(series: VesselHistory["pressureGauge_bar"], closed_epochMs: number): typeof series {
  const first = series.at_epochMs.findIndex((at_epochMs) => at_epochMs >= closed_epochMs);
  const cut = (column: readonly number[]): readonly number[] => (first < 0 ? [] : column.slice(first));
  return {
    at_epochMs: cut(series.at_epochMs),
    mean: cut(series.mean),
    minimum: cut(series.minimum),
    maximum: cut(series.maximum),
  };
}

/** From now until most ways have ended, but no further than a person plans. */
function fanInstants({ told }: FollowedSupply, now_epochMs: number): readonly number[] {
  const { phase, runOut } = told.estimate;
  if (phase === "settling" || phase === "spent") return [];
  const median_ms = Math.max(day_ms, runOut.median_epochMs - now_epochMs);
  const end_epochMs = Math.min(runOut.high80_epochMs, now_epochMs + 1.6 * median_ms) + day_ms;
  return Array.from(
    { length: fanPoints },
    (_, k) => now_epochMs + (k * (end_epochMs - now_epochMs)) / (fanPoints - 1),
  );
}

function nightPicture(
  { from_epochMs, until_epochMs, fit }: LearntNight,
  measured: NightPicture["measured"],
): NightPicture {
  const night_h = (until_epochMs - from_epochMs) / hour_ms;
  return {
    from_epochMs,
    until_epochMs,
    fit,
    curve:
      fit.kind === "fitted"
        ? Array.from({ length: curvePoints }, (_, k) => {
            const into_h = fitBegins_h + (k * (night_h - fitBegins_h)) / (curvePoints - 1);
            return {
              at_epochMs: Math.round(from_epochMs + into_h * hour_ms),
              co2_mgPerL: fittedCo2_mgPerL(fit, into_h),
            };
          })
        : [],
    measured,
  };
}
