import { setTimeout as sleep } from "node:timers/promises";
import type { Fault, Finding } from "./fault.js";
import { steady, type FaultSite } from "./fault-site.js";

type Plan = Omit<Fault, "run" | "verdict" | "because"> & {
  readonly because?: string;
  /** What has to be there before the daemon; returns what its config says of it, as `plainConfig` names it. */
  readonly prepare?: (site: FaultSite) => Promise<Readonly<Record<string, string>> | undefined>;
};

/** How long a person's alarm may take: the broker's own waits for ten seconds. */
const alarmWithin_ms = 25_000;
/** Longer than a missed limit, so that the table shows by how much it was missed. */
const grace_ms = 8000;

/** Gas flows; something happens; gas stops. */
export function closes(
  plan: Plan & {
    readonly act: (site: FaultSite) => Promise<void> | void;
    /** False when the daemon cannot be asked any more, and the broker tells of it. */
    readonly answers?: boolean;
    readonly afterwards?: (site: FaultSite) => Promise<string | undefined>;
    readonly lost?: (site: FaultSite) => Promise<string> | string;
  },
): Fault {
  const { act, answers = true, afterwards, lost, prepare, because = "", ...rest } = plan;
  return {
    ...rest,
    because,
    verdict: "closed",
    run: async (site, limit_ms) => {
      await site.dose((await prepare?.(site)) ?? {});
      const from_ms = performance.now();
      await act(site);
      const took_ms = await site.closedAfter_ms(from_ms, limit_ms + grace_ms);
      const miss = await afterwards?.(site);
      const alarms = answers
        ? await alarmsFor(site, plan.alarm, from_ms)
        : [await toldByBroker(site, plan.alarm)];
      return {
        valve: Number.isNaN(took_ms) ? "stayed open" : "closed",
        took_ms,
        alarms,
        lost: await (lost ?? ((of: FaultSite) => of.lost()))(site),
        ...(miss === undefined ? {} : { miss }),
      };
    },
  };
}

/** Something goes on that must not take the daemon's hand from the valve: while it does, too much CO2 closes it. */
export function staysInCommand(
  plan: Omit<Plan, "alarm" | "limit_s"> & {
    readonly limit_s?: number;
    /** What goes on; returns what ends it. */
    readonly act: (site: FaultSite) => Promise<() => unknown>;
    readonly afterwards?: (site: FaultSite) => Promise<string | undefined>;
    readonly lost?: string;
  },
): Fault {
  const { act, afterwards, lost, prepare, because, limit_s = 5, ...rest } = plan;
  return {
    ...rest,
    limit_s,
    alarm: "trip/tank/loach/",
    verdict: "provably safe",
    because: because ?? "while it goes on, too much CO2 in the tank closes the valve",
    run: async (site, limit_ms) => {
      await site.dose((await prepare?.(site)) ?? {});
      const end = await act(site);
      await sleep(2000);
      const openMeanwhile = site.gasFlows();
      const from_ms = performance.now();
      site.senses(steady("5.5"));
      const took_ms = await site.closedAfter_ms(from_ms, limit_ms + grace_ms);
      const miss = await afterwards?.(site);
      await end();
      const alarms = await alarmsFor(site, "trip/tank/loach/", from_ms);
      return {
        valve: openMeanwhile ? "as wanted, then closed by the trip" : "closed already before the trip",
        took_ms: openMeanwhile ? took_ms : 0,
        alarms,
        lost: lost ?? (await site.lost()),
        ...(miss === undefined ? {} : { miss }),
      };
    },
  };
}

/** The fault is there from the start: the valve does not open, and an alarm says why. */
export function neverOpens(
  plan: Plan & {
    readonly watch_s?: number;
    /** False where no sensor speaks. */
    readonly senses?: boolean;
    readonly lost: string;
  },
): Fault {
  const { prepare, watch_s = 12, senses = true, lost, because = "", ...rest } = plan;
  return {
    ...rest,
    because,
    verdict: "closed",
    run: async (site) => {
      await site.start({ config: (await prepare?.(site)) ?? {} });
      const from_ms = performance.now();
      if (senses) site.senses(steady("6.8"));
      const { finding } = await watched(site, plan.alarm, from_ms, watch_s * 1000);
      return { ...finding, lost };
    },
  };
}

/** Watches that no gas flows; the time is that of the alarm. */
export async function watched(
  site: FaultSite,
  alarm: string,
  from_ms: number,
  watch_ms: number,
): Promise<{ readonly finding: Omit<Finding, "lost"> }> {
  const seen = { flowing: false };
  const watching = setInterval(() => {
    if (site.gasFlows()) seen.flowing = true;
  }, 5);
  const took_ms = alarm === "none" ? 0 : await site.alarmAfter_ms(alarm, from_ms, alarmWithin_ms);
  await sleep(Math.max(0, watch_ms - (performance.now() - from_ms)));
  clearInterval(watching);
  return {
    finding: {
      valve: seen.flowing ? "opened" : "never opened",
      took_ms: seen.flowing ? Number.NaN : took_ms,
      alarms: await site.alarms(),
    },
  };
}

/** The alarms once the awaited one stands, or when it is overdue. */
export async function alarmsFor(site: FaultSite, alarm: string, from_ms: number): Promise<readonly string[]> {
  if (alarm !== "none") await site.alarmAfter_ms(alarm, from_ms, alarmWithin_ms);
  return site.alarms().catch((error: unknown) => [`the daemon does not answer: ${String(error)}`]);
}

/** What everybody at the broker learns of the daemon: its own last word, or its Last Will once the broker misses it. */
async function toldByBroker(site: FaultSite, awaited: string): Promise<string> {
  const end_ms = performance.now() + alarmWithin_ms;
  for (;;) {
    const told = await stateAtBroker(site);
    if (told.startsWith(awaited) || performance.now() > end_ms) return told;
    await sleep(300);
  }
}

async function stateAtBroker(site: FaultSite): Promise<string> {
  try {
    const { state } = JSON.parse(await site.retained("daemon")) as { readonly state: string };
    return `the broker tells: ${state}`;
  } catch {
    return "nothing can tell";
  }
}
