import { dirname, join } from "node:path";
import { brokerFinding } from "../../lib/inspection/broker-finding.js";
import { clockFinding, timeZoneFinding } from "../../lib/inspection/clock-findings.js";
import type { Finding } from "../../lib/inspection/finding.js";
import { sensorFinding } from "../../lib/inspection/sensor-finding.js";
import { serviceFinding } from "../../lib/inspection/service-finding.js";
import { backupFinding, databaseFinding, diskFinding } from "../../lib/inspection/store-findings.js";
import { mayClick, valveFinding, type ClickOutcome } from "../../lib/inspection/valve-finding.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import type { Synchronisation } from "../../lib/schedule/clock-plausibility.js";
import type { SiteConfig } from "../config/config-schema.js";
import type { Clock } from "../ports/clock.js";
import type { MessageBus } from "../ports/message-bus.js";
import { createSensorInbox, refusedSince, type SensorView } from "../sensor-inbox.js";
import { siteModelFrom, type SiteModel } from "../site-model.js";
import { readingText } from "../status-text.js";
import { lookAtBroker } from "./broker-look.js";
import type { DaemonAnswers } from "./daemon-answers.js";
import { lookAtBackup, lookAtDisk, lookAtStore } from "./store-look.js";

export interface InspectionPorts {
  readonly clock: Clock;
  readonly bus: MessageBus;
  readonly synchronisation: () => Promise<Synchronisation>;
  readonly machineTimeZone: string;
  readonly askDaemon: () => Promise<DaemonAnswers>;
  /** The round trip of one valve, with a person's consent; asked for only where the daemon holds it open. */
  readonly click: (valveId: string) => Promise<ClickOutcome>;
  readonly tell: (finding: Finding) => void;
}

/** Everything beside the config itself, one after the other; nothing is changed but by a round trip that a person wants. */
export async function inspectSite(
  config: SiteConfig,
  listen_s: number,
  ports: InspectionPorts,
): Promise<void> {
  const { clock, bus, tell } = ports;
  const model = siteModelFrom(config);
  const answers = await ports.askDaemon();
  const running = answers.kind === "runs" ? answers : undefined;
  // Before the broker is spoken to: what it kept comes at once.
  const inbox =
    running === undefined
      ? createSensorInbox({ bus, clock, store: { appendReading: () => undefined } }, model.sensors)
      : undefined;
  try {
    const broker = await lookAtBroker({ bus, clock }, model.baseTopic);
    tell(brokerFinding(broker));
    tell(daemonFinding(answers, config.control.clientSocket));
    tell(serviceFinding(running?.service));
    await inspectMachine(config, answers, ports);
    if (inbox === undefined) {
      for (const view of running?.sensors ?? []) tell(findingOf(view, model, undefined));
    } else if (broker.kind === "connected") {
      await clock.sleep(listen_s * 1000);
      const now = { now_epochMs: clock.now_epochMs(), now_monotonicMs: clock.monotonic_ms() };
      for (const view of inbox.views(now)) tell(findingOf(view, model, listen_s));
    } else {
      tell({ subject: "sensors", verdict: "not known", told: "without a broker none can be heard" });
    }
  } finally {
    await bus.stop();
  }
  for (const valveId of model.valves.keys()) {
    const state = running?.valves.get(valveId) ?? { kind: "no daemon" as const };
    const click = mayClick(state) ? await ports.click(valveId) : { kind: "not asked for" as const };
    tell(valveFinding({ valveId, state, click }));
  }
}

/** Clock and disk, and what lies on it. */
async function inspectMachine(
  { site: { timeZone }, store: { file, backup } }: SiteConfig,
  answers: DaemonAnswers,
  { clock, synchronisation, machineTimeZone, tell }: InspectionPorts,
): Promise<void> {
  const store = lookAtStore(file);
  const now_epochMs = clock.now_epochMs();
  tell(
    clockFinding({
      now_epochMs,
      timeZone,
      lastStored_epochMs: store.lastStored_epochMs,
      synchronisation: await synchronisation(),
      daemon: answers.kind === "runs" ? answers.clock : undefined,
    }),
  );
  tell(timeZoneFinding({ now_epochMs, timeZone, machineTimeZone }));
  tell(diskFinding(lookAtDisk(dirname(file), store.growth_bytesPerDay)));
  tell(databaseFinding(store.database, answers.kind === "no pass" ? "runs" : answers.kind));
  const { folder = join(dirname(file), "backup"), nights } = backup;
  tell(backupFinding(lookAtBackup(folder, nights, wallClockAt(now_epochMs, timeZone).date)));
}

function daemonFinding(answers: DaemonAnswers, socketFile: string): Finding {
  const subject = "daemon";
  switch (answers.kind) {
    case "runs":
      return { subject, verdict: "good", told: `it answers at ${socketFile}` };
    case "does not run":
      return {
        subject,
        verdict: "look at this",
        told: `none answers at ${socketFile}: start it when the rest is good`,
      };
    case "not known":
      return {
        subject,
        verdict: "not known",
        told: `${socketFile}: ${answers.reason}; run this as root or as the daemon's own user`,
      };
    case "no pass":
      return {
        subject,
        verdict: "mend this first",
        told: `it answers, but ${answers.reason}; look at its log`,
      };
  }
}

function findingOf(view: SensorView, model: SiteModel, listened_s: number | undefined): Finding {
  const { sensorId, lastAccepted, freshness } = view;
  const sensor = model.sensors.get(sensorId);
  const guards = [...model.valves.values()].filter(({ rules }) => rules.guardSensorIds.includes(sensorId));
  return sensorFinding({
    sensorId,
    topic: sensor?.topic ?? "",
    maximumAge_s: sensor?.rules.maximumAge_s ?? 0,
    guards: guards.map(({ rules }) => rules.valveId),
    value: lastAccepted === undefined ? undefined : readingText(lastAccepted),
    freshness,
    refused: refusedSince(view),
    heardBy: listened_s === undefined ? { kind: "daemon" } : { kind: "this command", listened_s },
  });
}
