import { createChargePressureMap, type ChargePressureMap } from "../../lib/estimation/charge-pressure-map.js";
import { chargeOf } from "../../lib/estimation/supply-model.js";
import type { SuppliedCharge } from "../../lib/estimation/supply-trace.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import type { ClosedLossState } from "../../lib/supply-watch/closed-loss.js";
import {
  gaugeHoldNeeded_h,
  gaugeLeakVerdict,
  gaugeTemperatureEffect,
  type GaugeLook,
} from "../../lib/supply-watch/gauge-leak-test.js";
import {
  leakTestVerdict,
  temperatureEffect,
  type LeakTestVerdict,
  type TemperatureEffect,
} from "../../lib/supply-watch/leak-test.js";
import { leakTestSentences } from "../../lib/supply-watch/leak-test-text.js";
import type { ControlSnapshot } from "../control-snapshot.js";
import type { SiteEvent } from "../ports/site-store.js";
import type { SiteModel } from "../site-model.js";
import { civilMinute } from "../supply/supply-events.js";
import { unknownName } from "../unknown-name.js";
import { runningTest, type LeakTest, type LeakTestFinding } from "./leak-test.js";

/** What the closed vessel has shown its sensor. */
export interface ClosedVessel {
  readonly charge: SuppliedCharge;
  readonly loss: ClosedLossState | undefined;
  /** When its sensor last told the pressure; undefined: never. */
  readonly sensor_epochMs: number | undefined;
  /** Before it a reaction may still raise the pressure and hide a loss. */
  readonly settledFrom_epochMs: number;
}

/** A test with what could be told of it at this instant. */
export interface LeakTestView {
  readonly test: LeakTest;
  readonly isRunning: boolean;
  /** Of the running test: were it ended now. */
  readonly byNow: Pick<LeakTestFinding, "verdict" | "sentences"> | undefined;
}

export interface LeakTestWish {
  readonly vesselId: string;
  readonly hold_h: number;
  readonly matters_gPerDay: number;
  readonly gaugeAccuracy_bar: number | undefined;
}

/** What a test would cost and tell, before it begins; or why it cannot be. */
export type LeakTestOutlook =
  | { readonly kind: "refused"; readonly reason: string }
  | {
      readonly kind: "possible";
      readonly test: LeakTest;
      readonly missedWindows: number;
      readonly missed_h: number;
      /** By eye: closed hours after which the loss that matters can be told; undefined there: not with this gauge. */
      readonly needed_h: number | undefined;
    };

export interface LeakTestKeeper {
  outlook(wish: LeakTestWish): LeakTestOutlook;
  begin(test: LeakTest): Promise<boolean>;
  /** Undefined where no test of the vessel runs. */
  end(vesselId: string): Promise<LeakTestFinding | undefined>;
  /** Ends what has run its time, and looks at what runs. */
  follow(): void;
  views(): readonly LeakTestView[];
}

export interface LeakTestPorts {
  readonly now_epochMs: () => number;
  readonly model: () => SiteModel;
  readonly journal: Pick<JournalView, "entriesOf">;
  readonly closedVessel: (vesselId: string) => ClosedVessel | undefined;
  readonly kept: {
    readonly current: () => ControlSnapshot;
    readonly replace: (next: ControlSnapshot, event: SiteEvent) => Promise<boolean>;
  };
}

const hour_ms = 3_600_000;
/** A look this long before the beginning still shows the vessel of the beginning. */
const sameLook_ms = 15 * 60_000;
/** A verdict takes some milliseconds and moves slowly. */
const lookEvery_ms = 60_000;

/** Holds vessels closed to find leaks. It only ever forbids gas; what a test ends, the schedule and the other rules decide. */
export function createLeakTestKeeper(ports: LeakTestPorts): LeakTestKeeper {
  const { kept, journal } = ports;
  const maps = new Map<string, { readonly key: string; readonly map: ChargePressureMap }>();
  const told = new Map<string, { readonly at_epochMs: number; readonly byNow: LeakTestView["byNow"] }>();

  return { outlook, begin, end, follow, views };

  function outlook(wish: LeakTestWish): LeakTestOutlook {
    const { vesselId, hold_h, matters_gPerDay, gaugeAccuracy_bar } = wish;
    const now_epochMs = ports.now_epochMs();
    const site = ports.model();
    const vessel = site.vessels.get(vesselId);
    if (vessel === undefined) return refused(unknownName("vessel", vesselId, site.vessels.keys()));
    if (vessel.kind === "liquid") {
      return refused(
        `${vesselId} is a bought cylinder: its pressure does not fall while liquid is left; weigh it instead`,
      );
    }
    const running = runningTest(kept.current().leakTests, vesselId, now_epochMs);
    if (running !== undefined) {
      return refused(
        `a leak test of ${vesselId} runs until ${civilMinute(running.until_epochMs, site.timeZone)}; end it first`,
      );
    }
    const closed = ports.closedVessel(vesselId);
    if (closed === undefined) {
      return refused(
        `no charge of ${vesselId} is known, so its pressure tells no grams: enter it with \`journal charge-closed\``,
      );
    }
    if (closed.settledFrom_epochMs > now_epochMs) {
      return refused(
        `the charge may still react until ${civilMinute(closed.settledFrom_epochMs, site.timeZone)}, and a pressure that rises hides a leak; begin it then`,
      );
    }
    const test: LeakTest = {
      vesselId,
      from_epochMs: now_epochMs,
      until_epochMs: now_epochMs + hold_h * hour_ms,
      matters_gPerDay,
      ...(gaugeAccuracy_bar === undefined ? {} : { gaugeAccuracy_bar }),
    };
    if (gaugeAccuracy_bar === undefined && !isRead(closed, now_epochMs)) {
      return refused(
        `no pressure of ${vesselId} has been taken from a sensor within the hour (after a start or a new charge that needs 20 minutes); ` +
          "wait for it, or read the gauge and give what it shows: --gauge, --unit and --accuracy",
      );
    }
    const missed = missedBy(test, site);
    return { kind: "possible", test, ...missed, needed_h: neededFor(test, closed) };
  }

  /** By eye alone: the first look tells how much a gram moves the gauge. */
  function neededFor(test: LeakTest, closed: ClosedVessel): number | undefined {
    const { gaugeAccuracy_bar, matters_gPerDay, vesselId } = test;
    const first = looksOf(test)[0];
    if (gaugeAccuracy_bar === undefined || first === undefined) return undefined;
    return gaugeHoldNeeded_h(mapOf(vesselId, closed.charge), first, {
      matters_gPerDay,
      accuracy_bar: gaugeAccuracy_bar,
    });
  }

  function begin(test: LeakTest): Promise<boolean> {
    const { vesselId, until_epochMs, gaugeAccuracy_bar } = test;
    told.delete(vesselId);
    const read = gaugeAccuracy_bar === undefined ? "by the pressure sensor" : "by the gauge read by eye";
    return replace(test, {
      what: "began",
      reason: `held closed until ${civilMinute(until_epochMs, ports.model().timeZone)}, ${read}`,
      details: { ...test },
    });
  }

  async function end(vesselId: string): Promise<LeakTestFinding | undefined> {
    const now_epochMs = ports.now_epochMs();
    const test = runningTest(kept.current().leakTests, vesselId, now_epochMs);
    if (test === undefined) return undefined;
    return conclude(test, now_epochMs, true);
  }

  function follow(): void {
    const now_epochMs = ports.now_epochMs();
    const { vessels } = ports.model();
    for (const test of kept.current().leakTests) {
      if (!vessels.has(test.vesselId)) void forget(test);
      else if (test.found !== undefined) continue;
      else if (now_epochMs >= test.until_epochMs) void conclude(test, test.until_epochMs, false);
      else lookAt(test, now_epochMs);
    }
  }

  function lookAt(test: LeakTest, now_epochMs: number): void {
    const known = told.get(test.vesselId);
    if (known !== undefined && Math.abs(now_epochMs - known.at_epochMs) < lookEvery_ms) return;
    // Also where it fails: the next try waits as long.
    told.set(test.vesselId, { at_epochMs: now_epochMs, byNow: known?.byNow });
    told.set(test.vesselId, { at_epochMs: now_epochMs, byNow: foundBy(test) });
  }

  async function conclude(test: LeakTest, ended_epochMs: number, isEarly: boolean): Promise<LeakTestFinding> {
    const found = { ended_epochMs, isEarly, ...foundBy(test) };
    told.delete(test.vesselId);
    await replace(
      { ...test, found },
      {
        what: isEarly ? "ended early" : "ended",
        reason: found.sentences[0] ?? "",
        details: { ...test, ...found },
      },
    );
    return found;
  }

  function foundBy(test: LeakTest): Pick<LeakTestFinding, "verdict" | "sentences"> {
    const closed = ports.closedVessel(test.vesselId);
    const { verdict, effect } =
      closed === undefined ? { verdict: nothingRead, effect: undefined } : verdictOn(test, closed);
    return { verdict, sentences: leakTestSentences(verdict, effect) };
  }

  function verdictOn(
    test: LeakTest,
    { charge, loss }: ClosedVessel,
  ): { readonly verdict: LeakTestVerdict; readonly effect: TemperatureEffect | undefined } {
    const { gaugeAccuracy_bar, matters_gPerDay, from_epochMs: since_epochMs, vesselId } = test;
    // A charge that was closed since is another one: nothing of before belongs to it.
    if (charge.closedAt_epochMs > since_epochMs) return { verdict: nothingRead, effect: undefined };
    if (gaugeAccuracy_bar !== undefined) {
      const map = mapOf(vesselId, charge);
      const looks = looksOf(test);
      const verdict = gaugeLeakVerdict(map, looks, { matters_gPerDay, accuracy_bar: gaugeAccuracy_bar });
      return { verdict, effect: gaugeTemperatureEffect(map, looks) };
    }
    if (loss === undefined) return { verdict: nothingRead, effect: undefined };
    const verdict = leakTestVerdict(loss, {
      since_epochMs,
      matters_gPerDay,
      gaugeAccuracy_bar: charge.gaugeAccuracy_bar,
    });
    return { verdict, effect: temperatureEffect(loss, since_epochMs) };
  }

  /** Entered in the journal while it ran; withdrawn ones do not count. */
  function looksOf(test: LeakTest): readonly GaugeLook[] {
    const to_epochMs = Math.min(test.until_epochMs, ports.now_epochMs());
    return journal
      .entriesOf("gauge reading", test.vesselId, test.from_epochMs - sameLook_ms)
      .filter(({ at_epochMs }) => at_epochMs <= to_epochMs)
      .map(({ at_epochMs, fact: { pressureGauge_bar, temperature_degC } }) => ({
        at_epochMs,
        pressureGauge_bar,
        ...(temperature_degC === undefined ? {} : { temperature_degC }),
      }));
  }

  function mapOf(vesselId: string, supplied: SuppliedCharge): ChargePressureMap {
    const charge = chargeOf(supplied);
    const key = JSON.stringify(charge);
    const known = maps.get(vesselId);
    if (known?.key === key) return known.map;
    const map = createChargePressureMap(charge);
    maps.set(vesselId, { key, map });
    return map;
  }

  /** Works nothing out: a control pass asks it. */
  function views(): readonly LeakTestView[] {
    return kept.current().leakTests.map((test) => {
      const isRunning = test.found === undefined;
      return { test, isRunning, byNow: isRunning ? told.get(test.vesselId)?.byNow : undefined };
    });
  }

  function replace(test: LeakTest, event: Pick<SiteEvent, "what" | "reason" | "details">): Promise<boolean> {
    const snapshot = kept.current();
    const others = snapshot.leakTests.filter(({ vesselId }) => vesselId !== test.vesselId);
    return kept.replace(
      { ...snapshot, leakTests: [...others, test] },
      { at_epochMs: ports.now_epochMs(), area: "leak test", subject: test.vesselId, ...event },
    );
  }

  /** Its vessel is no longer in the config. */
  function forget(test: LeakTest): Promise<boolean> {
    const snapshot = kept.current();
    return kept.replace(
      { ...snapshot, leakTests: snapshot.leakTests.filter((one) => one !== test) },
      {
        at_epochMs: ports.now_epochMs(),
        area: "leak test",
        subject: test.vesselId,
        what: "forgotten",
        reason: "its vessel is no longer in the config",
        details: {},
      },
    );
  }
}

const nothingRead: LeakTestVerdict = {
  kind: "cannot-be-told",
  why: "no-readings",
  needed_h: undefined,
  closed_h: 0,
};

/** Longer without a reading, and the sensor tells nothing of a test. */
const silent_ms = hour_ms;

function isRead({ loss, sensor_epochMs }: ClosedVessel, now_epochMs: number): boolean {
  return loss !== undefined && sensor_epochMs !== undefined && now_epochMs - sensor_epochMs < silent_ms;
}

/** Dosing windows of any valve on the vessel that the hold cuts into, and the open time that is lost of them. */
function missedBy(
  { vesselId, from_epochMs, until_epochMs }: LeakTest,
  site: SiteModel,
): { readonly missedWindows: number; readonly missed_h: number } {
  const windows = [...site.valves.values()]
    .filter((valve) => valve.vesselId === vesselId)
    .flatMap(({ calendar }) => calendar.windowsBetween(from_epochMs, until_epochMs));
  const missed_ms = windows.reduce(
    (sum, { opens_epochMs, closes_epochMs }) => sum + closes_epochMs - opens_epochMs,
    0,
  );
  return { missedWindows: windows.length, missed_h: missed_ms / hour_ms };
}

function refused(reason: string): LeakTestOutlook {
  return { kind: "refused", reason };
}
