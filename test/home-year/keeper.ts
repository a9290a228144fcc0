import { airEquilibriumCo2_mgPerL, changeWater, tankPh } from "../../lib/simulation/simulated-tank.js";
import { isAway } from "../../lib/refill/refill-times.js";
import { recordedTasks } from "../../lib/upkeep/recorded-task.js";
import { addDays, instantsOfWallClock, wallClockAt, weekdayOf } from "../../lib/schedule/civil-time.js";
import { awayDates, sealedAt_degC, timeZone, type HomeVessel } from "./home-config.js";
import { fillVessel } from "./home-physics.js";
import type { Household } from "./household.js";
import { sayAt, type LocalReply } from "./local-client.js";
import type { YearObserver } from "./year-observer.js";

/** What the keeper's phone shows of an alarm. */
export interface Notice {
  readonly id: string;
  readonly notice: string;
  readonly priority: string;
  readonly cause: string;
}

export interface KeeperOptions {
  readonly household: Household;
  readonly observer: YearObserver;
  readonly recipes: readonly HomeVessel[];
  readonly socketPath: string;
  readonly random: () => number;
  /** Looks at what an alarm tells of and mends it; what has nothing behind it is only acknowledged. */
  readonly mend: (alarmId: string) => Promise<void>;
  /** Ends at the vessel, by hand, what no machine can end. */
  readonly shutByHand: (alarmId: string) => void;
  readonly log: (line: string) => void;
}

interface Errand {
  readonly due_epochMs: number;
  readonly what: string;
  run(): Promise<void>;
}

const minute_ms = 60_000;
const hour_ms = 3_600_000;
const handling_ms = 45 * minute_ms;
/** Of fillings: so many are weighed wrong, by a tenth too little. */
const weighedWrong_ratio = 0.06;
const tooLittle_ratio = 0.9;
const scale_g = 0.5;
/** Fresh water of the tap, stood in a can. */
const freshWater = { share_ratio: 0.3, co2_mgPerL: 3, temperature_degC: 22 } as const;
const roomCo2_ppm = 650;
/** Of the days of the week on which water is changed. */
const waterDay = "sat";
const rearmEvery_ms = 2 * hour_ms;

/**
 * A keeper who does as told: refills on the advised evening, answers alarms in hours, looks after what is due, changes water each
 * week, and re-arms at the machine once the cause is gone. Away on the dates that the config knows; a neighbour then answers
 * what is critical by shutting the vessel by hand.
 */
export class Keeper {
  readonly #options: KeeperOptions;
  #errands: Errand[] = [];
  #nextEvening_epochMs = 0;
  readonly #refilling = new Map<string, number>();
  refills = 0;

  constructor(options: KeeperOptions) {
    this.#options = options;
    this.#nextEvening_epochMs = this.#at(this.#date(this.#now), 18 * 60);
  }

  /** Vessels that are open, or were closed within the last hour. */
  get refilledVessels(): ReadonlySet<string> {
    for (const [vesselId, until_epochMs] of this.#refilling) {
      if (until_epochMs < this.#now) this.#refilling.delete(vesselId);
    }
    return new Set(this.#refilling.keys());
  }

  get #now(): number {
    return this.#options.household.now_epochMs;
  }

  /** What was noted down on the day on which the daemon was set up. */
  async setUp(): Promise<void> {
    const { model } = this.#options.household;
    for (const tankId of model.tanks.keys()) await this.#lookAfterTank(tankId);
    for (const [tankId] of model.tanks) await this.#degas(tankId);
    for (const valveId of model.valves.keys()) await this.#upkeepDone("check-valve", valveId);
    for (const vesselId of model.vessels.keys()) {
      await this.#upkeepDone("O-ring", vesselId);
      await this.#upkeepDone("vessel-inspection", vesselId);
    }
  }

  /** Alarms as they reach the phone. */
  hear(notices: readonly Notice[]): void {
    for (const notice of notices) {
      if (notice.notice === "returned" || notice.notice === "overtaken") continue;
      if (this.#errands.some(({ what }) => what === notice.id)) continue;
      const due_epochMs = this.#answersAt(notice);
      this.#errands.push({ due_epochMs, what: notice.id, run: () => this.#answer(notice) });
    }
  }

  /** Whatever is due at this instant. */
  async act(): Promise<void> {
    if (this.#now >= this.#nextEvening_epochMs) this.#evening();
    const due = this.#errands.filter(({ due_epochMs }) => due_epochMs <= this.#now);
    if (due.length === 0) return;
    this.#errands = this.#errands.filter((errand) => !due.includes(errand));
    for (const errand of due) {
      this.#options.household.beFine();
      await errand.run();
    }
  }

  #isHome(at_epochMs = this.#now): boolean {
    return !isAway(awayDates, this.#date(at_epochMs));
  }

  #date(at_epochMs: number): string {
    return wallClockAt(at_epochMs, timeZone).date;
  }

  #at(date: string, minute: number): number {
    const found = instantsOfWallClock(date, minute, timeZone);
    return found.kind === "once"
      ? found.at_epochMs
      : found.kind === "twice"
        ? found.earlier_epochMs
        : found.change_epochMs;
  }

  #between(low: number, high: number): number {
    return low + (high - low) * this.#options.random();
  }

  /** When somebody answers: by day and at home, but for what is critical. */
  #answersAt({ priority }: Notice): number {
    if (priority === "critical")
      return this.#now + this.#between(10, 60) * minute_ms + (this.#isHome() ? 0 : hour_ms);
    const wait_h = priority === "high" ? this.#between(0.5, 4) : this.#between(2, 12);
    let at_epochMs = this.#now + wait_h * hour_ms;
    for (;;) {
      const { date, timeOfDay } = wallClockAt(at_epochMs, timeZone);
      if (isAway(awayDates, date) || timeOfDay >= "22") at_epochMs = this.#at(addDays(date, 1), 8 * 60);
      else if (timeOfDay < "07") at_epochMs = this.#at(date, 7 * 60 + 30);
      else return at_epochMs;
    }
  }

  async #answer(notice: Notice): Promise<void> {
    const { mend, shutByHand, log } = this.#options;
    const { id } = notice;
    if (!this.#isHome()) {
      shutByHand(id);
      this.#errands.push({
        due_epochMs: this.#answersAt({ ...notice, priority: "high" }),
        what: id,
        run: () => this.#answer(notice),
      });
      return;
    }
    log(`answers ${id}`);
    await mend(id);
    await this.#say({ command: "alarms-acknowledge", alarm: id });
    const [kind = "", subject = "", further = ""] = id.split("/");
    if (kind === "upkeep") await this.#upkeepDone(subject, further);
    else if (kind === "calibration-due") await this.#calibrate(subject);
    else if (kind === "probe") {
      this.#options.household.home.renewSensor(subject);
      await this.#calibrate(subject);
    } else if (kind === "clock") await this.#say({ command: "accept-clock" });
    else if (kind === "methods-disagree" || kind === "night-rest") await this.#lookAfterTank(subject);
    if (this.#tripped().length > 0) await this.#rearm();
  }

  #tripped(): readonly { readonly kind: string; readonly id: string }[] {
    const trips = this.#options.household.life?.app.status()?.trips ?? [];
    return trips.map(({ subject }) => subject);
  }

  /** At the machine, and again later where the cause is not gone yet. */
  async #rearm(): Promise<void> {
    for (const { kind, id } of this.#tripped()) {
      const reply = await this.#say({ command: "rearm", kind, id });
      this.#options.log(`re-arms ${kind} ${id}: ${reply?.kind ?? "no daemon"}`);
    }
    if (this.#tripped().length === 0) return;
    this.#errands.push({
      due_epochMs: this.#answersAt({ id: "", notice: "", cause: "", priority: "critical" }) + rearmEvery_ms,
      what: "re-arm",
      run: () => this.#rearm(),
    });
  }

  /** At six each evening: is tonight the night to refill? On water day the tanks have theirs. */
  #evening(): void {
    const today = this.#date(this.#now);
    this.#nextEvening_epochMs = this.#at(addDays(today, 1), 18 * 60);
    if (!this.#isHome()) return;
    for (const recipe of this.#options.recipes) this.#planRefill(recipe, today);
    if (weekdayOf(today) !== waterDay) return;
    for (const tankId of this.#options.household.model.tanks.keys()) {
      const due_epochMs = this.#now + this.#between(5, 60) * minute_ms;
      this.#errands.push({ due_epochMs, what: `water ${tankId}`, run: () => this.#changeWater(tankId) });
    }
  }

  #planRefill(recipe: HomeVessel, today: string): void {
    const { household, log } = this.#options;
    const { vesselId } = recipe;
    const status = household.life?.app.status();
    if (status === undefined || this.#refilling.has(vesselId)) return;
    const supply = status.supplies.find((candidate) => candidate.vesselId === vesselId);
    const stands = (begin: string): boolean =>
      status.alarms.some(({ condition, raised }) => raised && condition.alarmId === `${begin}/${vesselId}`);
    const usual = supply?.told?.refill?.usual;
    const advised = usual?.lastSensible ?? usual?.leastLoss;
    const isAdvised = stands("refill-due") || advised?.date === today;
    const isOver = stands("charge-spent") || stands("end-of-charge");
    if (!isAdvised && !isOver) return;
    const advised_epochMs = usual?.next?.date === today ? usual.next.begins_epochMs : this.#now;
    const due_epochMs = Math.max(this.#now + 10 * minute_ms, advised_epochMs);
    log(`refills ${vesselId} ${isAdvised ? "as advised" : "since it is at its end"}`);
    this.#refilling.set(vesselId, due_epochMs + 12 * hour_ms);
    this.#errands.push({ due_epochMs, what: `refill ${vesselId}`, run: () => this.#openVessel(recipe) });
  }

  async #openVessel(recipe: HomeVessel): Promise<void> {
    const { household, observer } = this.#options;
    const { vesselId } = recipe;
    await this.#say({
      command: "hold-set",
      kind: "refill in progress",
      subject: { kind: "vessel", id: vesselId },
      note: "",
    });
    observer.endCharge(vesselId, true);
    household.openVessel(vesselId);
    this.#errands.push({
      due_epochMs: this.#now + handling_ms,
      what: `close ${vesselId}`,
      run: () => this.#closeVessel(recipe),
    });
  }

  async #closeVessel(recipe: HomeVessel): Promise<void> {
    const { household, observer, random, log } = this.#options;
    const { vesselId, sodiumBicarbonate_g, citricAcidAnhydrous_g, water_kg, closedWith } = recipe;
    const isWrong = random() < weighedWrong_ratio;
    const slip_g = scale_g * (random() - 0.5);
    const weighed_ratio = (isWrong ? tooLittle_ratio : 1) * (1 + slip_g / sodiumBicarbonate_g);
    if (isWrong) log(`weighs a tenth too little for ${vesselId}`);
    const room_degC = household.home.truth().room_degC;
    const { vessel } = fillVessel(recipe, { weighed_ratio, room_degC, settled: false }, random);
    household.closeVessel(vesselId, vessel);
    observer.beginCharge(recipe, this.#now, weighed_ratio);
    this.refills += 1;
    await this.#enter({
      kind: "charge closed",
      vessel: vesselId,
      sodiumBicarbonate_g,
      citricAcidAnhydrous_g,
      water_kg,
      closedWith,
      sealedAt_degC,
    });
    this.#refilling.set(vesselId, this.#now + hour_ms);
  }

  async #changeWater(tankId: string): Promise<void> {
    const { household } = this.#options;
    household.home.change((state) => {
      const tank = state.tanks[tankId];
      return tank === undefined
        ? state
        : { ...state, tanks: { ...state.tanks, [tankId]: changeWater(tank, freshWater) } };
    });
    const volume_L = household.model.tanks.get(tankId)?.volume_L ?? 0;
    await this.#enter({ kind: "water change", tank: tankId, changed_L: freshWater.share_ratio * volume_L });
  }

  async #upkeepDone(task: string, subject: string): Promise<void> {
    if (task === "KH-test") await this.#testKh(subject);
    else
      await this.#enter({
        kind: "upkeep done",
        task: recordedTasks.find((known) => known.replaceAll(" ", "-") === task) ?? task,
        subject,
      });
  }

  /** Calibration and hardness: what an estimate of CO2 stands on. */
  async #lookAfterTank(tankId: string): Promise<void> {
    await this.#calibrate(`${tankId}-ph`);
    await this.#testKh(tankId);
  }

  async #testKh(tankId: string): Promise<void> {
    const kh_dKH = this.#options.household.physics.tanks[tankId]?.physics.kh_dKH;
    if (kh_dKH === undefined) return;
    // A drop of the kit is half a degree.
    const shown_dKH = Math.max(0.5, Math.round(2 * (kh_dKH + 0.2 * (this.#options.random() - 0.5))) / 2);
    await this.#enter({ kind: "kh test", tank: tankId, kh_dKH: shown_dKH });
  }

  /** The probe in two buffers, fresh and at 25 degC: what it shows, to its last digit. */
  async #calibrate(sensorId: string): Promise<void> {
    const { home } = this.#options.household;
    const buffers = (["7.00", "4.01"] as const).map((buffer) => ({
      buffer,
      shown: Math.round(100 * home.shown(sensorId, Number(buffer))) / 100,
      temperature_degC: 25,
    }));
    if (buffers.some(({ shown }) => Number.isNaN(shown))) return;
    await this.#enter({ kind: "calibration", sensor: sensorId, buffers });
  }

  /** A sample aerated for a day in the room, by the tank's own probe. */
  async #degas(tankId: string): Promise<void> {
    const { physics } = this.#options.household;
    const tank = physics.tanks[tankId];
    if (tank === undefined) return;
    const temperature_degC = 22;
    const co2_mgPerL = airEquilibriumCo2_mgPerL({ temperature_degC, co2_ppm: roomCo2_ppm });
    const pH = tankPh(tank.physics, { co2_mgPerL, temperature_degC, heaterOn: false });
    await this.#enter({
      kind: "degassed pH",
      tank: tankId,
      pH: Math.round(100 * pH) / 100,
      how: "aerated a day",
      roomCo2_ppm,
      temperature_degC,
    });
  }

  async #enter(entry: Readonly<Record<string, unknown>>): Promise<void> {
    const reply = await this.#say({ command: "journal-enter", entry: { sure: true, ...entry } });
    if (reply?.kind === "done") return;
    this.#options.log(`could not enter ${JSON.stringify(entry)}: ${reply?.text ?? "no daemon"}`);
    // The terminal is still there in the evening.
    const at = new Date(this.#now).toISOString();
    this.#errands.push({
      due_epochMs: this.#now + 3 * hour_ms,
      what: `enter ${JSON.stringify(entry)}`,
      run: () => this.#enter({ at, ...entry }),
    });
  }

  async #say(request: Readonly<Record<string, unknown>>): Promise<LocalReply | undefined> {
    const { household, socketPath } = this.#options;
    return household.life === undefined ? undefined : sayAt(socketPath, request);
  }
}
