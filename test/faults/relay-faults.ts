import { setTimeout as sleep } from "node:timers/promises";
import { eventually } from "../support/eventually.js";
import type { Fault, Finding } from "./fault.js";
import { alarmsFor, closes } from "./fault-courses.js";
import type { FaultSite } from "./fault-site.js";

const criticalRelay = "relay/outlet";
const tooMuchCo2 = "trip/tank/loach/";
const toldOffAgain = "a relay that was told off and reports on is told off again";
const alone =
  "a person shuts the vessel by hand, aerates, watches the fish; a second valve in series spares that";

async function wishClosed(site: FaultSite): Promise<void> {
  const reply = await site.ask({ command: "override", valve: "outlet", action: "closed", for_min: 60 });
  if (reply.kind !== "done") throw new Error(reply.text);
}

/** Gas goes on though the relay was told off: the tank's pH falls as fast as a strong flow drives it. */
function gasGoesOn(site: FaultSite): void {
  let pH = 6.8;
  site.senses(() => {
    pH = Math.max(5.4, pH - 0.05);
    return pH.toFixed(3);
  });
}

/** A mechanical failure that no command mends: what counts is how fast a person knows. */
function told(
  plan: Pick<Fault, "name" | "limit_s" | "alarm" | "because" | "site"> & {
    readonly act: (site: FaultSite) => Promise<void> | void;
  },
): Fault {
  const { act, ...rest } = plan;
  return {
    ...rest,
    verdict: "told",
    run: async (site, limit_ms): Promise<Finding> => {
      await site.dose();
      const from_ms = performance.now();
      await act(site);
      const took_ms = await site.alarmAfter_ms(plan.alarm, from_ms, limit_ms + 5000);
      const alarms = await alarmsFor(site, "none", from_ms);
      return {
        valve: site.gasFlows() ? "gas goes on" : "closed",
        took_ms,
        alarms,
        lost: await site.lost(),
      };
    },
  };
}

function assertOn(site: FaultSite, from_ms: number): void {
  const went = site.relay.changes.some(({ at_ms, state }) => state === "on" && at_ms >= from_ms - 50);
  if (!went) throw new Error("the relay never went on");
}

/** Gas is off; something makes the relay go on; the daemon puts it off. */
function putOff(
  plan: Pick<Fault, "name" | "limit_s" | "alarm" | "because" | "site"> & {
    readonly act: (site: FaultSite) => Promise<void> | void;
    readonly times?: number;
  },
): Fault {
  const { act, times = 1, ...rest } = plan;
  return {
    ...rest,
    verdict: "closed",
    run: async (site, limit_ms): Promise<Finding> => {
      await site.dose();
      await wishClosed(site);
      if (Number.isNaN(await site.closedAfter_ms(performance.now(), 10_000))) throw new Error("never closed");
      await sleep(1500);
      const from_ms = performance.now();
      let took_ms = 0;
      for (let count = 0; count < times; count += 1) {
        const acted_ms = performance.now();
        await act(site);
        // The relay hears of it in its own time.
        await eventually(() => assertOn(site, acted_ms), { timeout_ms: 2000, interval_ms: 2 });
        took_ms = Math.max(took_ms, await site.closedAfter_ms(acted_ms, limit_ms + 5000));
      }
      const alarms = await alarmsFor(site, plan.alarm, from_ms);
      return {
        valve: Number.isNaN(took_ms) ? "stayed open" : "opened by it, closed",
        took_ms,
        alarms,
        lost: await site.lost(),
      };
    },
  };
}

/** Relays that lie, hang or come on by themselves, and a seat that does not seal. */
export const relayFaults: readonly Fault[] = [
  closes({
    name: "the relay reports nothing",
    limit_s: 12,
    alarm: criticalRelay,
    because: "an ON that is not confirmed is taken back",
    act: async (site) => {
      site.relay.setReporting(false);
      await wishClosed(site);
    },
  }),
  closes({
    name: "the relay flaps: drops by itself soon after each ON",
    limit_s: 5,
    alarm: criticalRelay,
    because: "each drop closes; the alarm tells",
    act: (site) => {
      site.relay.misbehave("flapping");
      site.relay.press("on");
    },
  }),
  closes({
    name: "the relay lies: reports off and stays on; a second valve in series",
    limit_s: 3,
    alarm: "none",
    site: { inSeries: true },
    because: "the second valve closes with the first",
    act: async (site) => {
      site.relay.misbehave("lying");
      await wishClosed(site);
    },
  }),
  told({
    name: "the relay lies: reports off and stays on; one valve only",
    limit_s: 30,
    alarm: tooMuchCo2,
    because: `CO2 climbs though the valve reports closed; the sensor here shows the fall of pH in a quarter of a minute, in a tank it takes minutes to hours; ${alone}`,
    act: async (site) => {
      site.relay.misbehave("lying");
      await wishClosed(site);
      gasGoesOn(site);
    },
  }),
  closes({
    name: "the relay's contact is welded; a second valve in series",
    limit_s: 3,
    alarm: criticalRelay,
    site: { inSeries: true },
    because: "the second valve closes; the alarm names the first",
    act: async (site) => {
      site.relay.misbehave("stuck");
      await wishClosed(site);
    },
  }),
  told({
    name: "the relay's contact is welded; one valve only",
    limit_s: 10,
    alarm: criticalRelay,
    because: alone,
    act: async (site) => {
      site.relay.misbehave("stuck");
      await wishClosed(site);
    },
  }),
  closes({
    name: "debris in the first valve's seat; a second valve in series",
    limit_s: 3,
    alarm: "none",
    site: { inSeries: true },
    because: "the second valve closes with the first",
    act: async (site) => {
      site.leaksFrom("the seat of the first valve");
      await wishClosed(site);
    },
  }),
  told({
    name: "debris in the valve's seat; one valve only",
    limit_s: 30,
    alarm: tooMuchCo2,
    because: `CO2 climbs though the valve is closed (quickened as for the lying relay; at night the missing fall tells too, tried on the injected clock in the scenarios); ${alone}`,
    act: async (site) => {
      site.leaksFrom("the seat of the first valve");
      await wishClosed(site);
      gasGoesOn(site);
    },
  }),
  putOff({
    name: "the relay comes back from a power cut switched on",
    limit_s: 3,
    alarm: "none",
    site: { powerOnState: "on" },
    because: `${toldOffAgain}; the config refuses a relay with such a power-on state, and \`commission\` finds it`,
    act: (site) => site.relay.powerCycle(),
  }),
  putOff({
    name: "somebody presses the relay's button",
    limit_s: 3,
    alarm: "none",
    because: `${toldOffAgain}; three times within ten minutes raises relay/outlet`,
    act: (site) => site.relay.press("on"),
  }),
  putOff({
    name: "another program sends ON to the relay, three times",
    limit_s: 3,
    alarm: criticalRelay,
    because: `${toldOffAgain}, each time; the third raises the alarm`,
    act: (site) => site.say("relay/command", "ON"),
    times: 3,
  }),
  putOff({
    name: "another program leaves a retained ON at the relay's topic",
    limit_s: 3,
    alarm: "none",
    because:
      "as above; at the relay's next connection it comes again, and is put off again; the access lists in deploy/ forbid it to everybody but the daemon",
    act: (site) => site.say("relay/command", "ON", { retain: true }),
  }),
  told({
    name: "another program sends ON and hides the relay's reports",
    limit_s: 30,
    alarm: tooMuchCo2,
    because:
      "who may publish at the relay's topics can do this: the access lists in deploy/ forbid it to everybody but the daemon and the relay; what is left is the relay's own auto-off and the tank's CO2 (quickened here)",
    act: async (site) => {
      await wishClosed(site);
      await sleep(2500);
      site.relay.setReporting(false);
      await site.say("relay/command", "ON");
      gasGoesOn(site);
    },
  }),
];
