import type { Fault } from "./fault.js";
import { closes, neverOpens, staysInCommand } from "./fault-courses.js";
import { steady, type FaultSite } from "./fault-site.js";

const guardAge_s = 5;
const quickGuard = { config: { maximumAge_s: String(guardAge_s) } };
const silent = { limit_s: guardAge_s + 2, alarm: "guard-silent/tank-ph", site: quickGuard };
const says = (payload: string) => (site: FaultSite) => site.senses(() => payload);
const thermometer = `  tank-temperature: { measures: temperature, unit: degC, topic: tank/temperature, maximumAge_s: 5 }`;

/** A thermometer that is alive until it is told not to be. */
function warm(site: FaultSite, degC: () => string): { stop(): void } {
  const timer = setInterval(() => void site.say("tank/temperature", degC()).catch(() => undefined), 500);
  site.endsWithSite(() => clearInterval(timer));
  return { stop: () => clearInterval(timer) };
}

/** Guarded by a thermometer too, which does `then` once gas flows. */
function thermometerFault(name: string, because: string, then: (() => string) | undefined): Fault {
  const fault = closes({
    name,
    because,
    limit_s: 7,
    alarm: "guard-silent/tank-temperature",
    site: {
      config: {
        sensors: thermometer,
        guards: "tank-ph, tank-temperature",
        tankKeys: "    temperatureSensor: tank-temperature",
      },
    },
    act: (site) => {
      warmOf.get(site)?.stop();
      if (then !== undefined) warm(site, then);
    },
  });
  return {
    ...fault,
    run: (site, limit_ms) => {
      warmOf.set(site, warm(site, steady("24.")));
      return fault.run(site, limit_ms);
    },
  };
}
const warmOf = new WeakMap<FaultSite, { stop(): void }>();

/** Guards that fall silent, lie, shout, or are not what they were. */
export const sensorFaults: readonly Fault[] = [
  closes({
    name: "the pH sensor is stuck",
    limit_s: 5 * 60 + guardAge_s + 3,
    alarm: "guard-silent/tank-ph",
    site: { config: { ...quickGuard.config, sensorKeys: ", stuckAfter_min: 5" } },
    because: "a value that has not moved for stuckAfter_min, here 5 min, is not believed; then as silent",
    act: says("6.81"),
  }),
  closes({
    ...silent,
    name: "the pH sensor falls silent",
    because: `unknown after maximumAge_s, here ${guardAge_s} s`,
    act: (site) => site.senses(undefined),
  }),
  closes({
    ...silent,
    name: "the pH sensor says NaN",
    because: "what is no number is not believed; then as silent",
    act: says("NaN"),
  }),
  closes({
    ...silent,
    name: "the pH sensor is out of range",
    because: "what is implausible is not believed; then as silent",
    act: says("14.2"),
  }),
  closes({
    ...silent,
    name: "the pH sensor speaks in another unit: millivolts",
    because: "a sudden factor is implausible; then as silent",
    act: says("-178.4"),
  }),
  closes({
    ...silent,
    name: "the pH sensor's messages become JSON",
    because: "what cannot be read is not believed; then as silent",
    act: says('{"pH": 6.8}'),
  }),
  neverOpens({
    ...silent,
    name: "the pH is only what the broker has retained",
    senses: false,
    lost: "nothing",
    because: `retained is not fresh: the valve waits for the sensor's first word, and after maximumAge_s, here ${guardAge_s} s, it counts as silent`,
    prepare: async (site) => {
      await site.say("tank/ph", "6.8", { retain: true });
      return undefined;
    },
  }),
  staysInCommand({
    name: "the pH sensor floods with 5000 messages a second",
    lost: "by intent: one reading an instant is kept",
    act: async (site) => flood(site, 5000, (client, pH) => client("tank/ph", pH)),
  }),
  closes({
    name: "two publishers fight on the pH sensor's topic, one of them with too much CO2",
    limit_s: 10,
    alarm: "guard-silent/tank-ph",
    because: "values that leap to and fro are not believed; then as silent",
    site: quickGuard,
    act: (site) => {
      let beat = 0;
      site.senses(() => (beat++ % 2 === 0 ? `6.8${beat % 7}` : `5.5${beat % 7}`));
    },
  }),
  closes({
    name: "the pH falls below its floor",
    limit_s: 5,
    alarm: "trip/tank/loach/",
    because: "a trip, once the fall has been seen several times",
    act: (site) => site.senses(steady("5.5")),
  }),
  thermometerFault(
    "the thermometer, named as a guard, falls silent",
    "unknown after maximumAge_s, here 5 s",
    undefined,
  ),
  thermometerFault(
    "the thermometer, named as a guard, speaks in degrees Fahrenheit",
    "a sudden factor is implausible; then as silent",
    steady("76."),
  ),
];

/** So many messages a second until it is ended. */
export async function flood(
  site: FaultSite,
  perSecond: number,
  one: (publish: (topic: string, payload: string) => void, payload: string) => void,
): Promise<() => unknown> {
  const client = await site.client();
  const every_ms = 20;
  let count = 0;
  const publish = (topic: string, payload: string): void => void client.publish(topic, payload);
  const timer = setInterval(() => {
    for (let n = 0; n < (perSecond * every_ms) / 1000; n += 1)
      one(publish, `${site.saying()}${count++ % 90}`);
  }, every_ms);
  const end = (): void => clearInterval(timer);
  site.endsWithSite(end);
  return end;
}
