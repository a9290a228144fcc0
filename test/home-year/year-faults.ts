import type { SimulatedFault } from "../../lib/simulation/simulated-fault.js";
import type { DrawnFault } from "./faults-of-the-year.js";
import type { Household } from "./household.js";
import type { PastFault } from "./year-record.js";
import type { Explained } from "./year-observer.js";

interface RunningFault {
  readonly fault: DrawnFault;
  ended_epochMs: number | undefined;
  told_epochMs: number | undefined;
  toldBy: string | undefined;
  /** The vessel is shut by hand because of it. */
  shut: SimulatedFault | undefined;
}

const hour_ms = 3_600_000;
/** What a fault has set off may be told so long after its end: nights are judged in the morning, trips re-armed later. */
const aftermath_ms = 40 * hour_ms;
/** Gas flows again so long after a fault at the latest, where no trip holds it. */
const recovery_ms = 15 * 60_000;

/** The faults of the year in their order: each begins, is told of, is mended or ends. */
export class YearFaults {
  readonly #household: Household;
  readonly #log: (line: string) => void;
  #coming: readonly DrawnFault[];
  readonly #running: RunningFault[] = [];
  readonly past: PastFault[] = [];
  readonly #leakBegins: (vesselId: string) => void;

  constructor(
    household: Household,
    faults: readonly DrawnFault[],
    { log, leakBegins }: { log: (line: string) => void; leakBegins: (vesselId: string) => void },
  ) {
    this.#household = household;
    this.#coming = faults;
    this.#log = log;
    this.#leakBegins = leakBegins;
  }

  /** The next instant at which one begins or ends by itself. */
  next_epochMs(): number {
    const ends = this.#active.map(({ fault }) =>
      fault.lasts_ms === undefined ? Infinity : fault.onset_epochMs + fault.lasts_ms,
    );
    return Math.min(this.#coming[0]?.onset_epochMs ?? Infinity, ...ends);
  }

  async act(): Promise<void> {
    const now_epochMs = this.#household.now_epochMs;
    for (const running of this.#active) {
      const { fault } = running;
      const after_ms = fault.lasts_ms ?? fault.foundAfter_ms;
      if (now_epochMs >= fault.onset_epochMs + after_ms) await this.#end(running, "by itself");
    }
    while ((this.#coming[0]?.onset_epochMs ?? Infinity) <= now_epochMs) {
      const [fault, ...later] = this.#coming;
      this.#coming = later;
      if (fault === undefined) break;
      this.#log(`fault: ${fault.name} ${fault.subject}`);
      this.#running.push({
        fault,
        ended_epochMs: undefined,
        told_epochMs: undefined,
        toldBy: undefined,
        shut: undefined,
      });
      if (fault.name === "vessel leaks") this.#leakBegins(fault.subject);
      await fault.begin(this.#household);
      this.#household.beFine();
    }
  }

  /** The keeper's phone tells of an alarm. */
  told(alarmId: string): void {
    for (const running of this.#running) {
      if (running.told_epochMs !== undefined) continue;
      if (running.fault.told?.by.some((begin) => alarmId.startsWith(begin)) !== true) continue;
      running.told_epochMs = this.#household.now_epochMs;
      running.toldBy = alarmId;
    }
  }

  /** A person comes because of an alarm, and mends what is behind it. */
  async mend(alarmId: string): Promise<void> {
    for (const running of this.#active) {
      const { fault } = running;
      const isBehind = [...fault.explains, ...(fault.told?.by ?? [])].some((begin) =>
        alarmId.startsWith(begin),
      );
      if (isBehind && fault.lasts_ms === undefined) await this.#end(running, `mended after ${alarmId}`);
    }
  }

  /** The vessel is shut by hand where gas may go on; it stays so until somebody mends what is broken. */
  shutByHand(alarmId: string): void {
    for (const running of this.#active) {
      const { fault } = running;
      if (!fault.keepsGasOn || running.shut !== undefined) continue;
      if (!fault.explains.some((begin) => alarmId.startsWith(begin))) continue;
      const onset_epochMs = this.#household.now_epochMs;
      const [valveId = ""] = fault.valves;
      running.shut = { kind: "needle-moved", valveId, opening_ratio: 0, onset_epochMs };
      this.#household.addFault(running.shut);
      this.#log(`shut by hand because of ${alarmId}`);
    }
  }

  get explains(): readonly string[] {
    const now_epochMs = this.#household.now_epochMs;
    return this.#running
      .filter(({ ended_epochMs = Infinity }) => now_epochMs < ended_epochMs + aftermath_ms)
      .flatMap(({ fault }) => fault.explains);
  }

  explained(refilledVessels: ReadonlySet<string>): Explained {
    const now_epochMs = this.#household.now_epochMs;
    const hasTrips = (this.#household.life?.app.status()?.trips.length ?? 0) > 0;
    const recent = this.#running.filter(
      ({ ended_epochMs = Infinity }) =>
        now_epochMs < ended_epochMs + recovery_ms || (hasTrips && now_epochMs < ended_epochMs + aftermath_ms),
    );
    return {
      faultyValves: new Set(recent.flatMap(({ fault }) => fault.valves)),
      refilledVessels,
      stuckOpenValves: new Set(
        this.#active.filter(({ fault }) => fault.keepsGasOn).flatMap(({ fault }) => fault.valves),
      ),
    };
  }

  /** The year is over. */
  async endAll(): Promise<void> {
    for (const running of this.#active) await this.#end(running, "with the year");
    for (const { fault, ended_epochMs = 0, told_epochMs, toldBy } of this.#running) {
      this.past.push({
        name: fault.name,
        subject: fault.subject,
        onset_epochMs: fault.onset_epochMs,
        ended_epochMs,
        isToBeTold: fault.told !== undefined,
        told_epochMs,
        toldBy,
        within_min: fault.told?.within_min ?? 0,
      });
    }
  }

  get #active(): readonly RunningFault[] {
    return this.#running.filter(({ ended_epochMs }) => ended_epochMs === undefined);
  }

  async #end(running: RunningFault, how: string): Promise<void> {
    running.ended_epochMs = this.#household.now_epochMs;
    await running.fault.end(this.#household);
    if (running.shut !== undefined) this.#household.endFault(running.shut);
    this.#household.beFine();
    this.#log(`${running.fault.name} ${running.fault.subject} ended ${how}`);
  }
}
