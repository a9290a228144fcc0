import { connect } from "node:net";
import { setTimeout as sleep } from "node:timers/promises";
import type { Fault, Finding } from "./fault.js";
import { staysInCommand } from "./fault-courses.js";
import { baseTopic, steady, type FaultSite } from "./fault-site.js";
import { flood } from "./sensor-faults.js";

const remoteOverride = `${baseTopic}/valve/outlet/override`;
const hub = "hub: { homie: {} }";
const setOpen = "homie/5/mill-house-valve-outlet/override/open-for/set";
const setClosed = "homie/5/mill-house-valve-outlet/override/closed-for/set";
const later = (minutes: number): string => new Date(Date.now() + minutes * 60_000).toISOString();
const wish = (action: "open" | "closed"): string => JSON.stringify({ action, until: later(30) });

/** Everything that a message can wish, tried while gas must stay off. */
async function wishesOpen(site: FaultSite): Promise<void> {
  for (const topic of ["", "/rearm", "/valve/outlet", "/tank/loach", "/alarms", "/control"]) {
    await site.say(`${baseTopic}${topic}`, JSON.stringify({ command: "rearm", kind: "tank", id: "loach" }));
  }
  await site.say(remoteOverride, wish("open"));
  await site.say(setOpen, "30");
}

/** Gas has to stay off, whatever is wished from afar for some seconds. */
async function staysOff(site: FaultSite, from_ms: number, wishes: () => Promise<void>): Promise<Finding> {
  let flowed_ms = Number.NaN;
  const watching = setInterval(() => {
    if (site.gasFlows() && Number.isNaN(flowed_ms)) flowed_ms = performance.now() - from_ms;
  }, 5);
  await wishes();
  await sleep(5000);
  clearInterval(watching);
  const opened = !Number.isNaN(flowed_ms);
  return {
    valve: opened ? "opened" : "stayed closed",
    took_ms: opened ? Number.NaN : 0,
    alarms: await site.alarms(),
    lost: await site.lost(),
  };
}

/** A PUBLISH of MQTT 3.1.1 (OASIS, 3.3) as no client library would send it. */
function rawPublish(port: number, topic: Buffer): void {
  const socket = connect({ port, host: "127.0.0.1" });
  socket.on("error", () => socket.destroy());
  const name = Buffer.from("MQTT");
  const body = Buffer.concat([Buffer.of(0, 4), name, Buffer.of(4, 2, 0, 60, 0, 1), Buffer.from("h")]);
  socket.write(Buffer.concat([Buffer.of(0x10, body.length), body]));
  const payload = Buffer.concat([Buffer.of(topic.length >> 8, topic.length & 255), topic, Buffer.from("ON")]);
  const length = payload.length;
  socket.write(Buffer.concat([Buffer.of(0x30, (length & 127) | 128, length >> 7), payload]));
  setTimeout(() => socket.destroy(), 500);
}

/** Messages that nobody should send. */
export const hostileFaults: readonly Fault[] = [
  staysInCommand({
    name: "wishes to open flood by MQTT and by the hub, 2000 messages a second each",
    site: { config: { sections: hub } },
    act: (site) =>
      flood(site, 2000, (publish, payload) => {
        publish(setOpen, String(1 + Number(payload.at(-1))));
        publish(remoteOverride, wish("open"));
      }),
  }),
  {
    name: "a hub closes and opens a valve by turns, 2000 messages a second, and closes it last",
    verdict: "closed",
    limit_s: 3,
    alarm: "none",
    because:
      "a closing is never refused for what came before it; after three within a minute the valve rests, so that the solenoid does not chatter",
    site: { config: { sections: hub } },
    run: async (site, limit_ms) => {
      await site.dose();
      const before = site.relay.changes.length;
      const end = await flood(site, 2000, (publish, payload) =>
        publish(setClosed, Number(payload.at(-1)) % 2 === 0 ? "30" : "0"),
      );
      await sleep(10_000);
      await end();
      const from_ms = performance.now();
      await site.say(setClosed, "60");
      const took_ms = await site.closedAfter_ms(from_ms, limit_ms + 5000);
      await sleep(3000);
      const switchings = site.relay.changes.length - before;
      return {
        valve: site.gasFlows() ? "opened again" : "by turns, then closed",
        took_ms: site.gasFlows() ? Number.NaN : took_ms,
        alarms: await site.alarms(),
        lost: await site.lost(),
        ...(switchings > 8 ? { miss: `switched ${switchings} times` } : {}),
      };
    },
  },
  staysInCommand({
    name: "payloads of 10 MB on the topics of sensor and relay",
    because: "the broker keeps back what is larger than half a megabyte, as the daemon asks it to",
    act: async (site) => {
      const large = Buffer.alloc(10 * 1024 * 1024, 0x36);
      const timer = setInterval(() => {
        void site.say("tank/ph", large).catch(() => undefined);
        void site.say("relay/state", large).catch(() => undefined);
        void site.say(remoteOverride, large).catch(() => undefined);
      }, 500);
      site.endsWithSite(() => clearInterval(timer));
      await sleep(1500);
      return () => clearInterval(timer);
    },
  }),
  staysInCommand({
    name: "payloads that are not what they seem: broken UTF-8, deep JSON, empty",
    act: async (site) => {
      const texts = [
        Buffer.of(0xc3, 0x28),
        Buffer.from("[".repeat(100_000)),
        Buffer.alloc(0),
        Buffer.from("1e999"),
      ];
      for (const topic of ["tank/ph", "relay/state", remoteOverride, `${baseTopic}/journal/enter`]) {
        for (const text of texts) await site.say(topic, text);
      }
      return () => undefined;
    },
  }),
  staysInCommand({
    name: "hostile topics: below $SYS, with wildcards, with NUL, 60 000 bytes long",
    because: "the daemon hears only the topics that its config names",
    act: async (site) => {
      const topics = [
        "$SYS/relay/command",
        "relay/+",
        "relay/#",
        "relay/\0command",
        `relay/${"x".repeat(16_000)}`,
      ];
      topics.forEach((topic) => rawPublish(site.broker.port, Buffer.from(topic)));
      await site.say("$share/a/relay/command", "ON").catch(() => undefined);
      await site.say(`a/${"x".repeat(60_000)}`, "ON").catch(() => undefined);
      return () => undefined;
    },
  }),
  {
    name: "after a trip every wish and every re-arming by MQTT and by the hub",
    verdict: "closed",
    limit_s: 1,
    alarm: "trip/tank/loach/",
    because: "only a person at the daemon's own socket re-arms",
    site: { config: { sections: hub } },
    run: async (site) => {
      await site.dose();
      site.senses(steady("5.5"));
      if (Number.isNaN(await site.closedAfter_ms(performance.now(), 10_000))) throw new Error("no trip");
      site.senses(steady("6.9"));
      await sleep(3000);
      return staysOff(site, performance.now(), () => wishesOpen(site));
    },
  },
  {
    name: "outside the dosing window every wish by MQTT and by the hub",
    verdict: "closed",
    limit_s: 1,
    alarm: "none",
    because: "a wish from afar counts inside a window only",
    get site() {
      const hour = (new Date().getUTCHours() + 6) % 24;
      const clock = (at: number): string => `"${String(at % 24).padStart(2, "0")}:00"`;
      const span = `[{ lightsOn: ${clock(hour)}, lightsOff: ${clock(hour + 2)} }]`;
      return { config: { sections: hub, photoperiods: span } };
    },
    run: async (site) => {
      await site.start();
      site.senses(steady("6.8"));
      await site.daemon.logged("dead-man connection armed");
      await sleep(2000);
      return staysOff(site, performance.now(), () => wishesOpen(site));
    },
  },
  {
    name: "a retained command at the daemon's own topics",
    verdict: "closed",
    limit_s: 1,
    alarm: "none",
    because:
      "a retained command is history and is ignored, with a line in the log; here against a person's closing",
    run: async (site) => {
      await site.say(remoteOverride, wish("open"), { retain: true });
      await site.start();
      await site.daemon.logged("a retained command was ignored");
      const reply = await site.ask({ command: "override", valve: "outlet", action: "closed", for_min: 60 });
      if (reply.kind !== "done") throw new Error(reply.text);
      site.senses(steady("6.8"));
      return staysOff(site, performance.now(), () =>
        site.say(remoteOverride, wish("open"), { retain: true }),
      );
    },
  },
];
